"""Connected parts and depths of scattered dark pixels, without pictures of them: they are few in a large photograph."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from bubblegrade.threads import each

Places = NDArray[np.intp]
Image = NDArray[np.float32]
Box = tuple[slice, slice]  # rows and columns of a rectangle
Look = Callable[[Box, Places, Places], tuple[Image, NDArray[Any]]]  # at a rectangle and places in it: how far off, what

TILE_PX: Final = 128  # side of the tiles in which depths, and what is nearest, are measured
AROUND_PX: Final = 16  # of the pixels of a tile that is looked at too at first: few marks are thicker than twice that
EVEN_PX: Final = 16  # rectangles begin at multiples of it, as AROUND_PX is, lest the last digit of a depth differ
MOST_WORK: Final = 2  # times the picture that rectangles are together: more, and the picture is looked at once
LEAST_STEP: Final = 0.95  # a step of the chamfer distance is no shorter, in px


@dataclass(frozen=True, eq=False)
class Labels:
    """A picture of numbers, 0 nearly everywhere, of which only the others are kept; they lie line by line."""

    shape: tuple[int, int]
    rows: Places
    cols: Places
    numbers: Places  # from 1

    def __getitem__(self, places: tuple[Places, Places]) -> Places:
        """Return the numbers at some rows and columns."""
        asked = places[0] * self.shape[1] + places[1]
        if not len(self.rows):
            return np.zeros(asked.shape, np.intp)
        own = self.rows * self.shape[1] + self.cols
        at = np.minimum(np.searchsorted(own, asked), len(own) - 1)
        return np.where(own[at] == asked, self.numbers[at], 0)

    def drawn(self) -> NDArray[np.int32]:
        """Return the whole picture."""
        picture = np.zeros(self.shape, np.int32)
        picture[self.rows, self.cols] = self.numbers
        return picture


def depth_of(mask: NDArray[np.uint8]) -> Image:
    """Return how far, in px, each pixel of a mask is from what is not of it."""
    return np.asarray(cv2.distanceTransform(mask, cv2.DIST_L2, 3), np.float32)


def parts_of(rows: Places, cols: Places) -> Places:
    """Return for each of some pixels, line by line, the number from 0 of its part; corners connect.

    >>> parts_of(np.array([0, 0, 1, 2]), np.array([1, 7, 2, 8])).tolist()
    [0, 1, 0, 2]
    """
    if not len(rows):
        return np.empty(0, np.intp)
    line = int(cols.max()) + 3  # far enough that the ends of lines do not meet
    place = rows * line + cols
    begins = np.flatnonzero(np.append(True, np.diff(place) > 1))
    first, last = place[begins], place[np.append(begins[1:], len(place)) - 1]
    low = np.searchsorted(last + line, first - 1, side="left")  # of the runs in the line above, those that touch
    touching = np.maximum(np.searchsorted(first + line, last + 1, side="right") - low, 0)
    below = np.repeat(np.arange(len(first)), touching)
    above = np.arange(len(below)) - np.repeat(np.cumsum(touching) - touching - low, touching)
    joined = coo_array((np.ones(len(below), bool), (above, below)), shape=(len(first),) * 2)
    part = connected_components(joined, directed=False)[1]
    return np.asarray(np.repeat(part, np.diff(np.append(begins, len(place)))), np.intp)


def depths_of(mask: NDArray[np.uint8], rows: Places, cols: Places) -> Image:
    """Return what `depth_of` a mask says at its pixels, `rows` and `cols`, from tiles that hold some of them."""

    def deep(box: Box, row: Places, col: Places) -> tuple[Image, Image]:
        depth = depth_of(np.ascontiguousarray(mask[box]))[row, col]
        return depth, depth

    depth = np.empty(len(rows), np.float32)
    _look_around(depth, (rows, cols), mask.shape, deep)
    return depth


def nearest_of(rows: Places, cols: Places, body: Places) -> Places:
    """Return for each of some pixels the body that is nearest; `body` is its own, or -1 for none.

    >>> nearest_of(np.zeros(5, int), np.arange(3, 8), np.array([2, -1, -1, -1, 9])).tolist()
    [2, 2, 2, 9, 9]
    """
    rows, cols = rows - rows.min(), cols - cols.min()
    held = np.full((int(rows.max()) + 1, int(cols.max()) + 1), -1, np.int32)
    held[rows, cols] = body

    def nearest(box: Box, row: Places, col: Places) -> tuple[Image, Places]:
        part = held[box]
        far, place = cv2.distanceTransformWithLabels(
            (part < 0).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
        )
        number = np.empty(int(place.max()) + 1, np.intp)
        number[place[part >= 0]] = part[part >= 0]
        return np.asarray(far[row, col]), number[place[row, col]]

    away, found = body < 0, body.copy()
    its = found[away]
    _look_around(its, (rows[away], cols[away]), held.shape, nearest)
    found[away] = its
    return found


def _look_around(said: NDArray[Any], places: tuple[Places, Places], shape: tuple[int, ...], look: Look) -> None:
    """Write down what `look` says at some places, rows and columns, of a picture of `shape`.

    It looks at a rectangle around those in a tile, and says how far off what it saw is. Where something nearer may lie
    beyond, it looks again, twice as far around; at all of the picture where that is less work.
    """
    (rows, cols), whole, around = places, (slice(0, shape[0]), slice(0, shape[1])), AROUND_PX

    def seen(part: tuple[Places, Box]) -> tuple[Image, NDArray[Any]]:
        some, (down, across) = part
        return look((down, across), rows[some] - down.start, cols[some] - across.start)

    unsure = list(in_tiles(rows, cols, TILE_PX).values())
    while unsure:
        boxes = [(_span(rows[some], around, shape[0]), _span(cols[some], around, shape[1])) for some in unsure]
        if sum(_area(box) for box in boxes) > MOST_WORK * _area(whole):
            unsure, boxes = [np.concatenate(unsure)], [whole]
        parts, unsure = list(zip(unsure, boxes, strict=True)), []
        for (some, box), (far, its) in zip(parts, each(seen, parts), strict=True):
            said[some] = its
            if box != whole and far.max() > LEAST_STEP * around:
                unsure.append(some)
        around *= 2


def _area(box: Box) -> int:
    return math.prod(lines.stop - lines.start for lines in box)


def _span(places: Places, around: int, size: int) -> slice:
    """Return from where to where some places lie along a picture's side, with so many px around them."""
    return slice(max(int(places.min()) // EVEN_PX * EVEN_PX - around, 0), min(int(places.max()) + 1 + around, size))


def in_tiles(rows: Places, cols: Places, side: int) -> dict[tuple[int, int], Places]:
    """Return which of some pixels lie in each square tile that holds any, by the tile's number down and across."""
    across = int(cols.max(initial=0)) // side + 1
    tile = rows // side * across + cols // side
    order = np.argsort(tile, kind="stable")
    held, begins = np.unique(tile[order], return_index=True)
    numbers = zip(*(part.tolist() for part in np.divmod(held, across)), strict=True)
    return dict(zip(numbers, np.split(order, begins[1:]) if len(held) else (), strict=True))
