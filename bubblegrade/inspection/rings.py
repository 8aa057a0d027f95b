"""Broken rings: dark marks in clear resin that lie on one circle with light in its middle, as the arcs of a void do.

The body of a piece bends the light too, and some voids show arcs of their dark ring only, each alone no void. The outer
border of an arc brightens away from the void's middle; where such borders point at one middle from most sides, they are
one ring. Flakes side by side do so from half of the sides at most, and a flake alone is dark in its middle.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.quantiles import median, quantile

Floats = NDArray[np.float64]
Image = NDArray[np.float32]
Places = NDArray[np.intp]

SIDES: Final = 24  # that a ring's border is told in
MOST_SIDES: Final = 0.6  # of them: traced flakes reach 0.58, rings in arcs 0.58 to 0.96
LARGEST_RING: Final = 2.5  # diameters of an arc: the radius of the largest ring that it may be of
SMALLEST_RING: Final = 0.6  # diameters of an arc: that of the smallest,
LEAST_PX: Final = 3.5  # and no ring is smaller
WORKED_PX: Final = 14.0  # radius of the largest ring looked for: the picture is shrunk to that
FINER: Final = 1.12  # from one radius looked for to the next
CLEAR: Final = 0.9  # of the clear resin's light: as bright is the middle of a ring,
LIGHTEST: Final = 0.9  # at least the lightest tenth of it, since the core may be small
LIT: Final = 0.8  # and what is brighter around it is clear resin
RISE: Final = 0.03  # of the clear resin's light from px to px: a border
BLUR_PX: Final = 0.7  # that noise makes no borders
FACING: Final = 0.9  # cosine between the way from the middle and that in which an outer border brightens
OFF_PX: Final = 5.0  # that places, rounded and widened, may be off
NEAR_PX: Final = 8.0  # radius from which a middle is looked for within 2 px, and not 1


@dataclass(frozen=True, eq=False)
class Borders:
    """Px at the border of something dark."""

    rows: Places
    cols: Places
    across: Floats  # and down: the way in which it brightens, of length 1
    down: Floats
    side: Places  # in which of SIDES that is

    def __getitem__(self, chosen: Places | slice) -> Borders:
        """Return the chosen ones."""
        return Borders(self.rows[chosen], self.cols[chosen], self.across[chosen], self.down[chosen], self.side[chosen])


def rings_of(light: Image, clear: Floats | float, marks: Floats) -> Floats:
    """Return middle x, y and diameter of the rings that marks are arcs of, (N, 3) in px, each once.

    Parameters
    ----------
    light
        (rows, cols), linear.
    clear
        Light of the clear resin, at each mark or all over.
    marks
        (M, 3) x, y and diameter of what is dark in it and no void.
    """
    levels = np.broadcast_to(clear, len(marks))
    found = (_ring(light, float(level), *map(float, mark)) for mark, level in zip(marks, levels, strict=True))
    rings = [ring for ring in found if ring is not None]
    kept: list[tuple[float, float, float]] = []
    for _, x, y, diameter in sorted(rings, reverse=True):
        if all(np.hypot(x - a, y - b) > max(diameter, other) / 2 for a, b, other in kept):
            kept.append((x, y, diameter))
    return np.array(kept, np.float64).reshape(-1, 3)


def _ring(light: Image, clear: float, x: float, y: float, diameter: float) -> tuple[float, float, float, float] | None:
    """Return sides, middle and diameter of the ring that a mark is an arc of; None where it is of none."""
    scale = min(1.0, WORKED_PX / (LARGEST_RING * diameter))
    least, largest = max(LEAST_PX, SMALLEST_RING * diameter * scale), LARGEST_RING * diameter * scale
    half = int(np.ceil((2 * largest + 3) / scale))
    left, top = max(round(x) - half, 0), max(round(y) - half, 0)
    around = light[top : round(y) + half + 1, left : round(x) + half + 1] / np.float32(clear)
    around = cv2.resize(around, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA).astype(np.float32, copy=False)
    if not (around > LIT).any():
        return None
    level = np.float32(median(around[around > LIT]))
    window = np.asarray(cv2.GaussianBlur(np.minimum(around / level, np.float32(1.0)), (0, 0), BLUR_PX), np.float32)
    borders = _borders(window)
    own = (x - left + 0.5) * scale - 0.5, (y - top + 0.5) * scale - 0.5
    radii = np.geomspace(least, largest, max(2, int(np.log(largest / least) / np.log(FINER)) + 1))
    best, sides = None, math.ceil(MOST_SIDES * SIDES) - 1
    for radius, corner, pointed in _pointed(_around(borders, own, largest), own, radii):
        if middle := _middle(window, corner, pointed, own, radius, sides):
            best, sides = (*middle[1:], radius), middle[0]
    if best is None:
        return None
    col, row, about = best
    radius = _radius(borders, col, row, about)
    return sides / SIDES, (col + 0.5) / scale - 0.5 + left, (row + 0.5) / scale - 0.5 + top, 2 * radius / scale


def _radius(borders: Borders, col: float, row: float, about: float) -> float:
    """Return the median distance from a ring's middle of the borders that brighten away from it."""
    x, y = borders.cols - col, borders.rows - row
    away = np.hypot(x, y)
    outer = (x * borders.across + y * borders.down >= FACING * away) & (abs(away - about) <= about / 2)
    return median(away[outer])


def _borders(window: Image) -> Borders:
    """Return the borders of what is dark."""
    across, down = (cv2.Sobel(window, cv2.CV_32F, dx, 1 - dx, ksize=3, scale=1 / 8) for dx in (1, 0))
    steep = np.hypot(across, down)
    rows, cols = np.nonzero(steep > RISE)
    across, down = across[rows, cols] / steep[rows, cols], down[rows, cols] / steep[rows, cols]
    side = (np.arctan2(down, across) / (2 * np.pi) % 1.0 * SIDES).astype(np.intp) % SIDES
    return Borders(rows, cols, across, down, side)


def _around(borders: Borders, own: tuple[float, float], largest: float) -> Borders:
    """Return the borders that may be of a ring of a radius up to the largest that its mark lies in.

    A mark lies within a radius of the ring's middle: no border of the ring brightens towards the mark, nor is any
    farther off than a diameter.
    """
    x, y = borders.cols - own[0], borders.rows - own[1]
    facing = x * borders.across + y * borders.down >= -OFF_PX
    return borders[np.flatnonzero(facing & (x * x + y * y <= (2 * largest + OFF_PX) ** 2))]


def _pointed(
    borders: Borders, own: tuple[float, float], radii: Floats
) -> Iterator[tuple[float, tuple[int, int], NDArray[np.uint8]]]:
    """Yield each radius with the corner of a square around a mark, x and y, and the places in it that borders point at.

    These are (rows, cols, SIDES): 1 where a border points that brightens in the direction of that side.
    """
    left, top = ((place - radii).astype(np.intp)[:, np.newaxis] for place in own)
    across, reach = (2 * radii).astype(np.intp) + 2, radii[:, np.newaxis]
    col = np.rint(borders.cols - reach * borders.across) - left
    row = np.rint(borders.rows - reach * borders.down) - top
    wide = across[:, np.newaxis]
    near = (col >= 0) & (col < wide) & (row >= 0) & (row < wide)
    place = ((row * wide + col) * SIDES + borders.side).astype(np.intp)
    for i, side_px in enumerate(across.tolist()):
        pointed = np.zeros((side_px, side_px, SIDES), np.uint8)
        pointed.ravel()[place[i, near[i]]] = 1
        yield float(radii[i]), (int(left[i, 0]), int(top[i, 0])), pointed


def _middle(
    window: Image, corner: tuple[int, int], pointed: NDArray[np.uint8], own: tuple[float, float], radius: float,
    beyond: int,
) -> tuple[int, float, float] | None:  # fmt: skip
    """Return from how many sides borders point at one clear middle, and its x and y; None for no more than `beyond`.

    `pointed` and its `corner` are those of `_pointed`.
    """
    (left, top), side_px = corner, len(pointed)
    size = 3 if radius < NEAR_PX else 5
    around = cv2.dilate(pointed, np.ones((size, size), np.uint8)).reshape(-1, SIDES)
    count = cv2.reduce(around, 1, cv2.REDUCE_SUM, dtype=cv2.CV_32S).reshape(side_px, side_px)
    if count.max() <= beyond:
        return None
    count[np.hypot(np.arange(side_px) + left - own[0], _column(np.arange(side_px) + top - own[1])) > radius] = 0
    most = int(count.max())
    if most <= beyond:
        return None
    places = np.argwhere(count == most)
    middle_y, middle_x = places[((places - places.mean(axis=0)) ** 2).sum(axis=1).argmin()] + [top, left]
    reach = int(radius / 2) + 1
    rows, cols = (
        np.arange(max(int(at) - reach, 0), min(int(at) + reach + 1, size))
        for at, size in zip((middle_y, middle_x), window.shape, strict=True)
    )
    core = window[_column(rows), cols][np.hypot(cols - middle_x, _column(rows - middle_y)) <= radius / 2]
    return (most, float(middle_x), float(middle_y)) if len(core) and quantile(core, LIGHTEST) > CLEAR else None


def _column(values: NDArray[Any]) -> NDArray[Any]:
    return values[:, np.newaxis]
