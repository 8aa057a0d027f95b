"""Connected parts and depths of scattered dark pixels, without pictures of them: they are few in a large photograph."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from bubblegrade.threads import each

Places = NDArray[np.intp]
Image = NDArray[np.float32]

TILE_PX: Final = 64  # side of the tiles in which depths are measured
AROUND_PX: Final = 16  # of a tile that is looked at too at first: few marks are thicker than twice that
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
    mine = in_tiles(rows, cols, TILE_PX)

    def deep(tile: tuple[int, int]) -> Image:
        top, left = (number * TILE_PX for number in tile)
        return _deep(mask, (top, left), rows[mine[tile]], cols[mine[tile]])

    depth = np.empty(len(rows), np.float32)
    for places, found in zip(mine.values(), each(deep, list(mine)), strict=True):
        depth[places] = found
    return depth


def in_tiles(rows: Places, cols: Places, side: int) -> dict[tuple[int, int], Places]:
    """Return which of some pixels lie in each square tile that holds any, by the tile's number down and across."""
    across = int(cols.max(initial=0)) // side + 1
    tile = rows // side * across + cols // side
    order = np.argsort(tile, kind="stable")
    held, begins = np.unique(tile[order], return_index=True)
    numbers = zip(*(part.tolist() for part in np.divmod(held, across)), strict=True)
    return dict(zip(numbers, np.split(order, begins[1:]) if len(held) else (), strict=True))


def _deep(mask: NDArray[np.uint8], corner: tuple[int, int], rows: Places, cols: Places) -> Image:
    """Return the depths at some pixels of the tile at a corner, from as much around it as they need."""
    around = AROUND_PX
    while True:
        top, left = (max(first - around, 0) for first in corner)
        part = mask[top : corner[0] + TILE_PX + around, left : corner[1] + TILE_PX + around]
        depth = depth_of(np.ascontiguousarray(part))[rows - top, cols - left]
        if part.shape == mask.shape or depth.max() <= LEAST_STEP * around:
            return np.asarray(depth)
        around *= 2
