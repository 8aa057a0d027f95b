"""A piece that came back, for people: both photographs side by side with the pairs, and a few lines."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from rich.console import Console
from rich.text import Text

from bubblegrade.grading.regrowth import Regrowth
from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import Codes
from bubblegrade.show.inspect_picture import AGAIN, PASSED, legend_strip, number_beside, on_screen, resized, ring_px
from bubblegrade.show.legend import ALARM, GROUND, INK
from bubblegrade.show.marked import JPEG_QUALITY, stacked_with
from bubblegrade.show.marks import Picture
from bubblegrade.show.size_classes import Colour
from bubblegrade.units import count_of
from bubblegrade.voids.table import Voids

PAIR: Final[Colour] = (0, 114, 178)
OTHERWISE: Final[Colour] = (213, 94, 0)
GONE: Final[Colour] = (90, 90, 90)
NEW: Final[Colour] = (170, 51, 119)
SIGNS: Final = (("comes again", PAIR), ("changed otherwise than the rest", OTHERWISE), ("gone", GONE), ("new", NEW))
GROUNDS: Final = {"grew": ALARM, "did not change": PASSED}
GAP_PX: Final = 12
LINE_PX: Final = 2
MOST_NUMBERED: Final = 40  # pairs: more numbers hide the photograph


def growth_words(found: Regrowth) -> str:
    """Return the verdict with the growth of the voids that go together and its interval, or why it cannot be told."""
    growth = found.growth
    if math.isnan(growth.value):
        return f"{found.verdict}: {found.reason}"
    numbers = f"{100 * growth.value:+.1f} % in diameter ({100 * growth.low:+.1f} to {100 * growth.high:+.1f} %)"
    rest = count_of(int((~found.stands_out).sum()), "void")
    strays = int(found.stands_out.sum())
    apart = f", {strays} more {'stands' if strays == 1 else 'stand'} out" if strays else ""
    return f"{found.verdict}: {numbers} over {rest}{apart}" + (f"; {found.reason}" if found.reason else "")


def show_regrowth(
    earlier: Casting, later: Casting, told: Regrowth, console: Console, *, remarks: Sequence[str] = ()
) -> None:
    """Print the verdict and which voids changed otherwise than the rest, are new or are gone."""
    console.print(Text(growth_words(told)))
    for remark in remarks:
        console.print(Text(remark))
    for i in np.flatnonzero(told.stands_out):
        voids, row = later.voids, told.pairs[i, 1]
        reach = 1.96 * told.growth_errs[i]
        low, high = 100 * (told.growths[i] - reach), 100 * (told.growths[i] + reach)
        console.print(Text(f"stands out: {low:+.1f} to {high:+.1f} % at {_place(voids, row)} of {later.photo}"))
    for word, rows, casting in (("gone", told.gone, earlier), ("new", told.new, later)):
        for row in rows:
            console.print(Text(f"{word}: {casting.voids.diameter_px[row]:.1f} px at {_place(casting.voids, row)} of "
                               f"{casting.photo}"))  # fmt: skip
    for casting in (earlier, later):
        for reason in casting.unfit:
            console.print(Text(f"{casting.photo} is UNFIT: {reason}"))


def regrowth_jpeg(codes: tuple[Codes, Codes], earlier: Casting, later: Casting, found: Regrowth) -> bytes:
    """Return both photographs side by side with every pair, and a legend, as JPEG."""
    before, after = (
        _marked(one, casting, found, column) for one, casting, column in ((codes[0], earlier, 0), (codes[1], later, 1))
    )
    high = max(len(before), len(after))
    width = before.shape[1] + GAP_PX + after.shape[1]
    sheet = np.full((high, width, 3), GROUND, np.uint8)
    sheet[: len(before), : before.shape[1]] = before
    sheet[: len(after), before.shape[1] + GAP_PX :] = after
    head = growth_words(found)
    rows = [(f"left {earlier.photo}, right {later.photo}; the same number is the same void", INK)]
    strip = legend_strip(head, GROUNDS.get(found.verdict, AGAIN), rows, SIGNS, max(width, 720))
    _, data = cv2.imencode(".jpg", stacked_with(sheet, strip), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return data.tobytes()


def _marked(codes: Codes, casting: Casting, found: Regrowth, column: int) -> Picture:
    """Return one photograph with its pairs numbered, and the voids that only it shows."""
    picture, zoom = resized(codes)
    alone, colour = ((found.gone, GONE), (found.new, NEW))[column]
    for row in alone:
        _ring(picture, casting.voids, int(row), zoom, colour)
    for i, row in enumerate(found.pairs[:, column]):
        _ring(picture, casting.voids, int(row), zoom, OTHERWISE if found.stands_out[i] else PAIR)
    middles = on_screen(np.stack([casting.voids.x_px, casting.voids.y_px], axis=1), zoom)
    tags = [(int(x), int(y)) for x, y in middles[[*found.pairs[:, column], *alone]]]  # no number hides a ring
    for i, row in enumerate(map(int, found.pairs[:MOST_NUMBERED, column])):
        radius, colour = ring_px(casting.voids.diameter_px[row], zoom), OTHERWISE if found.stands_out[i] else PAIR
        number_beside(picture, i + 1, middles[row], radius, colour, tags)
    return picture


def _ring(picture: Picture, voids: Voids, row: int, zoom: float, colour: Colour) -> None:
    middle = on_screen(np.array([voids.x_px[row], voids.y_px[row]]), zoom)
    radius = ring_px(voids.diameter_px[row], zoom)
    cv2.circle(picture, (int(middle[0]), int(middle[1])), radius, colour[::-1], LINE_PX, cv2.LINE_AA)


def _place(voids: Voids, row: int) -> str:
    return f"{voids.x_px[row]:.0f},{voids.y_px[row]:.0f}"
