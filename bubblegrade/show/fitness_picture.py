"""A picture of where a photograph's faults lie: each one's place, numbered, and a legend below."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from PIL import Image, ImageDraw

from bubblegrade.fitness.check import Check, Fitness, Place, Verdict
from bubblegrade.photo.light import Codes
from bubblegrade.show.legend import ALARM, GROUND
from bubblegrade.show.lettering import LEAST_WIDTH_PX, LONGEST_PX, TEXT_PX, font_of, text_length, wrapped, write_line
from bubblegrade.show.marked import JPEG_QUALITY, in_colour
from bubblegrade.show.marks import Picture

LINE_PX: Final = 3
SHADE: Final = 0.35  # of a region's colour over the photograph
CARE: Final = (180, 110, 0)
COLOURS: Final = {Verdict.UNFIT: ALARM, Verdict.CARE: CARE}


def fitness_jpeg(codes: Codes, fitness: Fitness) -> bytes | None:
    """Return the picture as JPEG; None for a photograph without a fault."""
    faults = [*fitness.of(Verdict.UNFIT), *fitness.of(Verdict.CARE)]
    if not faults:
        return None
    _, data = cv2.imencode(".jpg", fitness_picture(codes, faults), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return data.tobytes()


def fitness_picture(codes: Codes, faults: list[Check]) -> Picture:
    """Return the photograph with the places of faults, and a legend, (rows, cols, 3) blue, green, red."""
    shrink = min(1.0, LONGEST_PX / max(codes.shape[:2]))
    size = tuple(max(1, round(side * shrink)) for side in codes.shape[1::-1])
    picture = np.ascontiguousarray(cv2.resize(in_colour(codes), size, interpolation=cv2.INTER_AREA), np.uint8)
    for number, check in enumerate(faults, 1):
        _draw(picture, check, number, shrink)
    width = max(picture.shape[1], LEAST_WIDTH_PX)
    strip = _legend(faults, width)
    sheet = np.full((len(picture) + len(strip), width, 3), GROUND, np.uint8)
    sheet[: len(picture), : picture.shape[1]] = picture
    sheet[len(picture) :] = strip
    return sheet


def _draw(picture: Picture, check: Check, number: int, shrink: float) -> None:
    """Draw a fault's place in its colour, with its number."""
    colour = COLOURS[check.verdict][::-1]
    parts = [np.rint((part + 0.5) * shrink - 0.5).astype(np.int32) for part in _parts(check.place, picture, shrink)]
    if check.place.kind == "region" and check.place.parts:
        shaded = cv2.fillPoly(picture.copy(), parts, colour)
        cv2.addWeighted(shaded, SHADE, picture, 1.0 - SHADE, 0.0, dst=picture)
        cv2.polylines(picture, parts, isClosed=True, color=colour, thickness=1, lineType=cv2.LINE_AA)
    elif check.place.kind == "line" and check.place.parts:
        for part in parts:
            cv2.polylines(picture, [part], isClosed=False, color=colour, thickness=LINE_PX, lineType=cv2.LINE_AA)
    else:
        for part in parts:
            cv2.rectangle(picture, tuple(map(int, part[0])), tuple(map(int, part[1])), colour, LINE_PX)
    left, top = _corner(check.place, parts)
    rows, cols = picture.shape[:2]
    side = round(1.5 * TEXT_PX)
    x = int(np.clip(left + (number - 1) * (side + LINE_PX), 0, max(cols - side, 0)))  # side by side at one corner
    y = int(np.clip(top, 0, max(rows - side, 0)))
    cv2.rectangle(picture, (x, y), (x + side, y + side), colour, -1)
    _write(picture, str(number), x + 0.5 * side, y + 0.5 * side)


def _corner(place: Place, parts: list[np.ndarray]) -> np.ndarray:
    """Return where a fault's number begins: at the top of a region's largest part, else at the corner of all."""
    if place.kind != "region" or not place.parts:
        return np.asarray(np.concatenate(parts).min(axis=0))
    part = max(parts, key=cv2.contourArea)
    return np.asarray(part[part[:, 1].argmin()])


def _parts(place: Place, picture: Picture, shrink: float) -> list[np.ndarray]:
    """Return a place's parts; those of the whole frame are its own box."""
    rows, cols = picture.shape[:2]
    inset = LINE_PX / shrink
    whole = np.array([[inset, inset], [cols / shrink - inset, rows / shrink - inset]])
    return list(place.parts) or [whole]


def _write(picture: Picture, text: str, x: float, y: float) -> None:
    sheet = Image.fromarray(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB))
    font = font_of(TEXT_PX)
    write_line(ImageDraw.Draw(sheet), x - text_length(text, font) / 2, y, text, font, "white")
    picture[:] = cv2.cvtColor(np.asarray(sheet), cv2.COLOR_RGB2BGR)


def _legend(faults: list[Check], width: int) -> Picture:
    """Return the strip that says what each number is, what it costs and what to do."""
    font = font_of(TEXT_PX)
    lines: list[tuple[str, tuple[int, int, int]]] = []
    for number, check in enumerate(faults, 1):
        words = f"{number}  {check.verdict}: {check.costs}"
        lines += [(line, COLOURS[check.verdict]) for line in wrapped(words, font, width - 2 * TEXT_PX)]
    high = round(1.5 * TEXT_PX)
    sheet = Image.new("RGB", (width, high * len(lines) + TEXT_PX), GROUND)
    pencil = ImageDraw.Draw(sheet)
    for row, (line, colour) in enumerate(lines):
        write_line(pencil, TEXT_PX, (row + 0.5) * high + TEXT_PX / 2, line, font, colour)
    return np.asarray(cv2.cvtColor(np.asarray(sheet), cv2.COLOR_RGB2BGR), np.uint8)
