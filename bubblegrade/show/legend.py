"""The strip below a marked photograph: what was found, what each line means, and a scale bar."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from typing import Final

import cv2
import numpy as np
from PIL import Image, ImageDraw

from bubblegrade.grading_run import Casting
from bubblegrade.show.lettering import font_of, text_length, wrapped, write_line
from bubblegrade.show.marks import Pen, Picture, Points
from bubblegrade.show.size_classes import Style, size_classes
from bubblegrade.show.words import area, left_out_share, length, percent, score
from bubblegrade.units import count_of

LEAST_TEXT_PX: Final = 14
WIDTH_PER_TEXT: Final = 70  # strip width over text height
GROUND: Final = (246, 246, 244)
INK: Final = (30, 30, 30)
ALARM: Final = (176, 42, 0)
BAR_SHARE: Final = 0.2  # of the photograph's width that the scale bar has at most
ROUND_LENGTHS: Final = (5.0, 2.0, 1.0)

Sign = Callable[[Pen, float, float], None]


@dataclass(frozen=True)
class _Item:
    """A sign and the words behind it."""

    words: str
    sign: Sign | None = None
    sign_px: float = 0.0
    large: bool = False


def legend(casting: Casting, *, width: int, line_px: int) -> Picture:
    """Return the strip, (rows, `width`, 3) blue, green, red, for marks of the line width `line_px`."""
    text_px = max(LEAST_TEXT_PX, round(width / WIDTH_PER_TEXT))
    blocks = [_alarm(casting, width, text_px)] if casting.unfit else []
    lines = (_summary(casting), _sizes(casting, line_px, text_px), _others(casting, line_px, text_px))
    blocks += [_flow(items, width=width, text_px=text_px, line_px=line_px) for items in lines if items]
    edge = np.full((text_px // 2, width, 3), GROUND, np.uint8)
    return np.concatenate([*blocks, edge])


def bar_length(width_px: float, mm_per_px: float) -> float:
    """Return the longest round length, 1, 2 or 5 times a power of ten, that a scale bar of the photograph may have.

    >>> bar_length(1100, 0.04), bar_length(1100, 1.0)
    (5.0, 200.0)
    """
    most = BAR_SHARE * width_px * mm_per_px
    power = 10.0 ** math.floor(math.log10(most))
    return next(step * power for step in ROUND_LENGTHS if step * power <= most * (1 + 1e-9))


def _summary(casting: Casting) -> list[_Item]:
    sizes, clarity = casting.sizes_px, casting.clarity
    items = [_Item(count_of(casting.count, "void"), large=True)]
    items += [_Item(f"clarity {score(clarity)} {clarity.word}", large=True)] if clarity.word else []
    if casting.count:
        items.append(_Item(f"largest {length(sizes.largest.value, casting)}", large=True))
        items.append(_Item(f"median {length(sizes.d50_number.value, casting)}", large=True))
    return items


def _sizes(casting: Casting, line_px: int, text_px: int) -> list[_Item]:
    """Return the size classes that have voids."""
    found = [one for one in size_classes(casting) if one.members.any()]
    return [
        _Item(
            f"{one.label}: {int(one.members.sum())}",
            partial(_void_sign, style=one.style, diameter=0.5 * text_px),
            1.2 * text_px + 12 * line_px,
        )
        for one in found
    ]


def _void_sign(pen: Pen, x: float, y: float, *, style: Style, diameter: float) -> None:
    pen.void(x, y, diameter, style)


def _others(casting: Casting, line_px: int, text_px: int) -> list[_Item]:
    """Return the scale bar, the judged area, and what was set aside."""
    unsure = casting.unsure_count
    others = len(casting.set_aside) - unsure
    wide = 1.2 * text_px + 4 * line_px
    items = [_bar(casting)]
    if unsure:
        items.append(_Item(f"unsure: {unsure}", lambda pen, x, y: pen.unsure(x, y, 0.6 * text_px), wide))
    uncounted = (("under the smallest countable", casting.sizes_px.below), ("cut by the frame", casting.cut_count))
    items += [_Item(f"not counted, {why}: {number}") for why, number in uncounted if number]
    if others:
        items.append(_Item(f"no void: {others}", lambda pen, x, y: pen.set_aside(x, y, 0.6 * text_px), wide))
    items.append(_Item(_judged_words(casting), partial(_border_sign, text_px=text_px), 2.2 * text_px))
    if casting.span_px and casting.scale:
        source = ", ".join(casting.scale.source.split(", ")[:2])
        items.append(_Item(f"scale: {source}", partial(_span_sign, text_px=text_px), wide))
    return items


def _judged_words(casting: Casting) -> str:
    judged, left_out = area(casting.judged_area_px, casting), left_out_share(casting)
    return f"judged {judged} ({percent(1.0 - left_out)} of the casting)" if left_out else f"judged {judged}"


def _border_sign(pen: Pen, x: float, y: float, *, text_px: int) -> None:
    turn = np.linspace(0.0, 2.0 * math.pi, 60, endpoint=False)
    pen.border(np.stack([x + 0.9 * text_px * np.cos(turn), y + 0.42 * text_px * np.sin(turn)], axis=1))


def _span_sign(pen: Pen, x: float, y: float, *, text_px: int) -> None:
    ends = np.array([[x - 0.5 * text_px, y], [x + 0.5 * text_px, y]])
    _stopped_line(pen, ends, width=2 * pen.line_px, stop=0.35 * text_px)


def _bar(casting: Casting) -> _Item:
    """Return the scale bar, which is as long as it says."""
    mm_per_px = casting.scale.mm_per_px if casting.scale else 1.0
    long = bar_length(casting.shape_px[1], mm_per_px)
    bar_px = long / mm_per_px
    return _Item(f"{long:g} {'mm' if casting.scale else 'px'}", partial(_bar_sign, bar_px=bar_px), bar_px)


def _bar_sign(pen: Pen, x: float, y: float, *, bar_px: float) -> None:
    ends = np.array([[x - bar_px / 2, y], [x + bar_px / 2, y]])
    _stopped_line(pen, ends, width=3 * pen.line_px, stop=5.0 * pen.line_px)


def _stopped_line(pen: Pen, ends: Points, *, width: int, stop: float) -> None:
    """Draw a level line with an upright stop at either end."""
    pen.line(ends, INK, width)
    upright = np.array([[0.0, -stop], [0.0, stop]])
    for end in ends:
        pen.line(end + upright, INK, 2 * pen.line_px)


def _flow(items: Iterable[_Item], *, width: int, text_px: int, line_px: int) -> Picture:
    """Return items side by side, in as many lines as it takes."""
    placed, rows = [], 0
    x = margin = 0.8 * text_px
    for item in items:
        size = round(1.35 * text_px) if item.large else text_px
        font = font_of(size)
        gap = 0.5 * text_px if item.sign else 0.0
        across = item.sign_px + gap + text_length(item.words, font)
        if x > margin and x + across > width - margin:
            x, rows = margin, rows + 1
        placed.append((item, font, x, rows, gap))
        x += across + 1.6 * text_px
    high = round(2.2 * text_px if any(item.large for item in items) else 1.9 * text_px)
    sheet = Image.new("RGB", (width, high * (rows + 1)), GROUND)
    pencil = ImageDraw.Draw(sheet)
    for item, font, left, row, gap in placed:
        middle = (row + 0.5) * high
        write_line(pencil, left + item.sign_px + gap, middle, item.words, font, INK)
    strip = np.ascontiguousarray(cv2.cvtColor(np.asarray(sheet), cv2.COLOR_RGB2BGR), np.uint8)
    pen = Pen(strip, line_px)
    for item, _, left, row, _ in placed:
        if item.sign:
            item.sign(pen, left + item.sign_px / 2, (row + 0.5) * high)
    return strip


def _alarm(casting: Casting, width: int, text_px: int) -> Picture:
    """Return a band that says why the photograph is unfit."""
    font = font_of(round(1.2 * text_px))
    lines = wrapped(f"UNFIT: {'; '.join(casting.unfit)}", font, width - 1.6 * text_px)
    high = round(1.7 * text_px)
    sheet = Image.new("RGB", (width, high * len(lines) + text_px // 2), ALARM)
    pencil = ImageDraw.Draw(sheet)
    for row, line in enumerate(lines):
        write_line(pencil, 0.8 * text_px, (row + 0.5) * high + text_px / 4, line, font, "white")
    return np.asarray(cv2.cvtColor(np.asarray(sheet), cv2.COLOR_RGB2BGR), np.uint8)
