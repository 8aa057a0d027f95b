"""The picture of an inspected piece: its zones, the faults pointed out and numbered, and a legend with the verdict."""

from __future__ import annotations

import string
from collections.abc import Sequence
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from bubblegrade.grading_run import Casting
from bubblegrade.inspection.limits import Limits
from bubblegrade.inspection.rules import in_rim
from bubblegrade.inspection.verdicts import Fault, Judgement, Verdict
from bubblegrade.photo.light import Codes
from bubblegrade.show.legend import ALARM, GROUND, INK
from bubblegrade.show.lettering import LEAST_WIDTH_PX, LONGEST_PX, TEXT_PX, font_of, text_length, wrapped, write_line
from bubblegrade.show.marked import JPEG_QUALITY, in_colour, stacked_with
from bubblegrade.show.marks import Picture
from bubblegrade.show.size_classes import Colour

LEAST_PX: Final = 900  # and a smaller one larger
HALF: Final = 0.5  # shrunk no further, two px in a row make one and averaging more takes five times as long
LINE_PX: Final = 2
ARC_PX: Final = 5  # of the outline beside what shows in the dark rim: no ring, since its size is not seen
MOST_FINDS: Final = 40  # of one fault that are ringed
BETWEEN: Final = 8  # places of a zone's letter from one corner of its border to the next
AWAY_PX: Final = 30  # from the ring of a find to its number, across and up
AGAIN: Final[Colour] = (176, 110, 0)
PASSED: Final[Colour] = (0, 110, 70)
VERDICT_COLOURS: Final = {Verdict.FAIL: ALARM, Verdict.AGAIN: AGAIN, Verdict.PASS: PASSED}
# Colours of zones keep apart under the common colour blindnesses (after Okabe and Ito, 2008).
ZONE_COLOURS: Final[tuple[Colour, ...]] = (
    (0, 114, 178), (0, 158, 115), (204, 121, 167), (86, 180, 233), (110, 90, 160), (120, 120, 120)
)  # fmt: skip

Line = NDArray[np.float64]


def inspect_jpeg(codes: Codes, casting: Casting, judgement: Judgement, limits: Limits) -> bytes:
    """Return the picture as JPEG."""
    picture = inspect_picture(codes, casting, judgement, limits)
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return data.tobytes()


def inspect_picture(codes: Codes, casting: Casting, judgement: Judgement, limits: Limits) -> Picture:
    """Return the photograph with zones, faults and a legend, (rows, cols, 3) blue, green, red."""
    picture, zoom = resized(codes)
    outline = [casting.outline_px] if len(casting.outline_px) else []
    _lines(picture, outline, zoom, INK, 1)
    signs = {zone.name: (_letter(n), ZONE_COLOURS[n % len(ZONE_COLOURS)]) for n, zone in enumerate(limits.zones)}
    for zone in judgement.zones:
        _lines(picture, zone.border_px, zoom, signs[zone.zone][1], LINE_PX)
    tags: list[tuple[int, int]] = []
    for zone in judgement.zones:
        _letter_on(picture, zone.border_px, *signs[zone.zone], zoom, tags)
    for number, fault in enumerate(judgement.faults, 1):
        _point_out(picture, fault, casting.outline_px, number, zoom, tags)
    width = max(picture.shape[1], LEAST_WIDTH_PX)
    held = [(f"{letter}  {name}", colour) for name, (letter, colour) in signs.items()]
    return stacked_with(picture, _legend(judgement, limits.name, casting.photo, held, width))


def resized(codes: Codes) -> tuple[Picture, float]:
    """Return a photograph at a size that shows on a screen, and by how much it was enlarged."""
    longest = max(codes.shape[:2])
    zoom = LONGEST_PX / longest if longest > LONGEST_PX else max(1.0, round(LEAST_PX / longest))
    size = tuple(max(1, round(side * zoom)) for side in codes.shape[1::-1])
    way = cv2.INTER_CUBIC if zoom >= 1 else cv2.INTER_LINEAR if zoom >= HALF else cv2.INTER_AREA
    return np.ascontiguousarray(cv2.resize(in_colour(codes), size, interpolation=way), np.uint8), zoom


def on_screen(points: Line, zoom: float) -> NDArray[np.int32]:
    """Return points of the photograph as pixels of the picture."""
    return np.rint((points + 0.5) * zoom - 0.5).astype(np.int32)


def _lines(picture: Picture, lines: Sequence[Line], zoom: float, colour: Colour, width: int) -> None:
    cv2.polylines(picture, [on_screen(line, zoom) for line in lines], isClosed=True, color=colour[::-1],
                  thickness=width, lineType=cv2.LINE_AA)  # fmt: skip


def _letter(number: int) -> str:
    """Return the letter of a zone: A to Z, then AA to ZZ."""
    again, place = divmod(number, len(string.ascii_uppercase))
    return string.ascii_uppercase[place] * (again + 1)


def _letter_on(
    picture: Picture, lines: Sequence[Line], letter: str, colour: Colour, zoom: float, tags: list[tuple[int, int]]
) -> None:
    """Write a zone's letter inside its border, where that is furthest from the `tags` written before."""
    if not lines:
        return
    corners = [(on_screen(line, zoom), on_screen(np.roll(line, -1, axis=0), zoom)) for line in lines]
    border = np.concatenate([np.linspace(*ends, BETWEEN, endpoint=False).reshape(-1, 2) for ends in corners])
    away = np.min([np.hypot(*(border - tag).T) for tag in tags or [(0, 0)]], axis=0)
    place = border[np.argmax(away) if tags else np.argmin(away)]
    inwards = border.mean(axis=0) - place
    side = TEXT_PX // 2 + 2
    place += inwards * (1.5 * side / max(float(np.hypot(*inwards)), 1.5 * side))
    x, y = (int(np.clip(at, side, most - side - 1)) for at, most in zip(place, picture.shape[1::-1], strict=True))
    tags.append((x, y))
    cv2.rectangle(picture, (x - side, y - side), (x + side, y + side), (255, 255, 255), -1)
    cv2.rectangle(picture, (x - side, y - side), (x + side, y + side), colour[::-1], LINE_PX)
    write(picture, letter, x, y, INK)


def _point_out(
    picture: Picture, fault: Fault, outline_px: Line, number: int, zoom: float, tags: list[tuple[int, int]]
) -> None:
    """Mark what a fault rests on, and write its number beside the worst of it, clear of the `tags` written before."""
    colour = VERDICT_COLOURS[fault.verdict][::-1]
    for place, diameter in zip(fault.places_px[:MOST_FINDS], fault.diameters_px, strict=False):
        if fault.rule == in_rim.__name__:
            arc = on_screen(_beside(outline_px, place, diameter / 2), zoom)
            cv2.polylines(picture, [arc], isClosed=False, color=colour, thickness=ARC_PX, lineType=cv2.LINE_AA)
        else:
            middle = tuple(map(int, on_screen(place, zoom)))
            cv2.circle(picture, middle, ring_px(diameter, zoom), colour, LINE_PX, cv2.LINE_AA)
    if len(fault.places_px):
        radius = 0 if fault.rule == in_rim.__name__ else ring_px(fault.diameters_px[0], zoom)
        number_beside(
            picture, number, on_screen(fault.places_px[0], zoom), radius, VERDICT_COLOURS[fault.verdict], tags
        )


def ring_px(diameter_px: float, zoom: float) -> int:
    """Return the radius in the picture of the ring around a find."""
    return round(diameter_px / 2 * zoom) + 2 * LINE_PX


def number_beside(
    picture: Picture, number: int, middle: NDArray[np.int32], radius: int, colour: Colour, tags: list[tuple[int, int]]
) -> None:
    """Write a number beside the ring of a find, with a line to it, clear of the `tags` written before."""
    off, side = radius + AWAY_PX, TEXT_PX // 2 + 4
    beside = zip(middle + np.array([off, -off]), picture.shape[1::-1], strict=True)
    x, y = (int(np.clip(at, side, most - side - 1)) for at, most in beside)
    y = _free(x, y, tags, 2 * side + 1, picture.shape[0] - side)
    tags.append((x, y))
    way = np.array([x, y]) - middle
    start = middle + np.rint(way * radius / max(float(np.hypot(*way)), 1.0)).astype(np.int32)
    cv2.line(picture, tuple(map(int, start)), (x, y), colour[::-1], LINE_PX, cv2.LINE_AA)
    cv2.rectangle(picture, (x - side, y - side), (x + side, y + side), colour[::-1], -1)
    write(picture, str(number), x, y, "white")


def _beside(outline_px: Line, place: Line, reach: float) -> Line:
    """Return the stretch of the outline, (N, 2), that lies within `reach` of its point nearest to a place."""
    nearest = int(np.argmin(np.hypot(*(outline_px - place).T)))
    line = np.roll(outline_px, len(outline_px) // 2 - nearest, axis=0)
    away = np.hypot(*(line - outline_px[nearest]).T) > reach
    middle = len(line) // 2
    first = middle - int(np.argmax(np.append(away[middle::-1], True)))
    last = middle + int(np.argmax(np.append(away[middle:], True)))
    return line[first + 1 : last]


def _free(x: int, y: int, tags: Sequence[tuple[int, int]], apart: int, last: int) -> int:
    """Return the first row from `y` on, down to `last` and then up, at which a tag is `apart` from all others."""
    near = [row for tag, row in tags if abs(x - tag) < apart]
    rows = (*range(y, last + 1), *range(y - 1, apart, -1))
    return next((row for row in rows if all(abs(row - taken) >= apart for taken in near)), y)


def write(picture: Picture, text: str, x: float, y: float, colour: Any) -> None:
    """Write a short text around a place, in place."""
    font = font_of(TEXT_PX)
    across = text_length(text, font) / 2
    half = round(across) + 2
    top, left = max(round(y) - TEXT_PX, 0), max(round(x) - half, 0)
    part = picture[top : round(y) + TEXT_PX, left : round(x) + half]
    sheet = Image.fromarray(cv2.cvtColor(part, cv2.COLOR_BGR2RGB))
    write_line(ImageDraw.Draw(sheet), x - left - across, y - top, text, font, colour)
    part[:] = cv2.cvtColor(np.asarray(sheet), cv2.COLOR_RGB2BGR)


def _legend(judgement: Judgement, limits: str, photo: str, held: Sequence[tuple[str, Colour]], width: int) -> Picture:
    """Return the strip: the verdict, what each number is, and which line is which zone."""
    told = zip(judgement.lines, judgement.faults, strict=True)
    rows = [(f"{i}  {line}", VERDICT_COLOURS[fault.verdict]) for i, (line, fault) in enumerate(told, 1)]
    rows += [(remark, INK) for remark in judgement.remarks]
    head = f"{judgement.verdict.upper()}: {photo}, held to {limits}"
    return legend_strip(head, VERDICT_COLOURS[judgement.verdict], rows, held, width)


def legend_strip(
    head: str, ground: Colour, rows: Sequence[tuple[str, Colour]], signs: Sequence[tuple[str, Colour]], width: int
) -> Picture:
    """Return a strip, (rows, `width`, 3): a heading on its ground, lines of text, and what each line's colour is."""
    font, large = font_of(TEXT_PX), font_of(round(1.3 * TEXT_PX))
    high, margin = round(1.5 * TEXT_PX), 0.8 * TEXT_PX
    titles = wrapped(head, large, width - 2 * margin)
    lines = [(line, colour) for text, colour in rows for line in wrapped(text, font, width - 2 * margin)]
    places, row, x = [], 0, margin
    for name, colour in signs:
        across = text_length(name, font) + 3.6 * TEXT_PX
        if x > margin and x + across > width:
            row, x = row + 1, margin
        places.append((x, row, name, colour))
        x += across
    band = round(1.4 * high) * len(titles)
    below = band + TEXT_PX // 2 + high * len(lines)
    sheet = Image.new("RGB", (width, below + high * (row + 1) + TEXT_PX // 2), GROUND)
    pencil = ImageDraw.Draw(sheet)
    pencil.rectangle((0, 0, width, band), fill=ground)
    for number, title in enumerate(titles):
        write_line(pencil, margin, (number + 0.5) * 1.4 * high, title, large, "white")
    for number, (line, colour) in enumerate(lines):
        write_line(pencil, margin, band + TEXT_PX // 4 + (number + 0.5) * high, line, font, colour)
    for x, row, name, colour in places:
        middle = below + (row + 0.5) * high
        pencil.line((x, middle, x + 1.6 * TEXT_PX, middle), fill=colour, width=3)
        write_line(pencil, x + 2 * TEXT_PX, middle, name, font, INK)
    return np.asarray(cv2.cvtColor(np.asarray(sheet), cv2.COLOR_RGB2BGR), np.uint8)
