"""The casting's outline as the closed line that holds out longest.

Seen from the frame's border, everything that can be reached without crossing a brightness step of more than t lies
outside. As t grows, voids and dust outside are swallowed early, and the casting last, at the weakest spot of its edge.
The step t over which the enclosed area keeps still for longest (in ratio) therefore belongs to the casting, whatever
its shape, tint and light.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.parts import Mask, disc, filled, largest, stub_px

Image = NDArray[np.float32]

STEPS: Final = np.geomspace(0.0015, 0.5, 25)  # brightness steps tried, natural log per coarse px
SAME_AREA: Final = 0.93  # an enclosed area that keeps this share keeps still
LEAST_RUN: Final = 3  # of STEPS: a ratio of 2.1 in the step; less is no outline
SMALL_SHARE: Final = 0.12  # of the lit area: what encloses less may be a sliver of a casting that the frame cuts
SURE_RUN: Final = 5  # of STEPS: a ratio of 3.4
LEAST_SHARE, MOST_SHARE = 0.015, 0.88  # of the lit area that a casting covers; noise alone encloses more
RIPPLE_PX: Final = 9  # coarse px: a change of light wider than this is not an edge


@dataclass(frozen=True, eq=False)
class Flood:
    """What can be reached from the bare light without crossing a brightness step."""

    edges: Image  # brightness step across each pixel
    inner: Mask  # where to look
    border: Mask  # of it
    brightest: NDArray[np.intp]  # places of the border's pixels, the brightest first

    @classmethod
    def over(cls, coarse: Image, field: Mask) -> Flood:
        """Return the flood over a picture.

        Parameters
        ----------
        coarse
            (rows, cols) linear light.
        field
            (rows, cols) the lit part of it.
        """
        depth = cv2.distanceTransform(np.pad(field, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
        at_frame = bool(field[0].any() or field[-1].any() or field[:, 0].any() or field[:, -1].any())
        inner = depth > (2 if at_frame else 4)  # keep clear of the edge of a small light
        border = inner & ~cv2.erode(inner.astype(np.uint8), np.ones((9, 9), np.uint8), borderValue=0).astype(bool)
        places, brightness = np.flatnonzero(border), cv2.GaussianBlur(coarse, (0, 0), 2.0)
        order = np.argsort(-brightness.ravel()[places], kind="stable")
        return cls(_edges(coarse), inner, border, places[order])

    def dry(self, step: float, *, along_border: bool) -> NDArray[np.uint8]:
        """Return what is not reached across less than `step`, or along the border; it is 1, or 2 where it is steep."""
        passable = self.edges < step
        if along_border:
            passable |= self.border
        dry = np.add(self.inner, self.inner & ~passable, dtype=np.uint8)
        row, col = divmod(int(self.brightest[np.argmax(passable.ravel()[self.brightest])]), dry.shape[1])
        if passable[row, col]:
            cv2.floodFill(dry, None, (col, row), 0, flags=4)
        return dry


def within_held_line(flood: Flood) -> tuple[Mask | None, bool]:
    """Return what is enclosed over the longest run of steps, or None; and whether the frame cuts it."""
    inner = flood.inner
    if not inner.any():
        return None, False
    length, held = _held_out(flood, along_border=True)
    if length < SURE_RUN or held is None or held.sum() < SMALL_SHARE * inner.sum():
        # Perhaps the frame cuts the casting: then the border is not all bare light, and only its brightest part is.
        length, held = max((length, held), _held_out(flood, along_border=False), key=lambda run: run[0])
    if length < LEAST_RUN or held is None:
        return None, False
    found = _without_whiskers(filled(held))
    at_border = (
        found & inner & ~cv2.erode(inner.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0).astype(bool)
    )
    return found, bool(at_border.any())


def _edges(coarse: Image) -> Image:
    """Return the brightness step across each pixel, natural log per px, with broad slopes of the light taken off."""
    bright = np.log(cv2.GaussianBlur(coarse, (0, 0), 1.0) + 0.02)
    across = cv2.Scharr(bright, cv2.CV_32F, 1, 0) / 32
    down = cv2.Scharr(bright, cv2.CV_32F, 0, 1) / 32
    steps = cv2.magnitude(across, down)
    return np.asarray(steps - cv2.morphologyEx(steps, cv2.MORPH_OPEN, np.ones((RIPPLE_PX, RIPPLE_PX), np.uint8)))


def _held_out(flood: Flood, *, along_border: bool) -> tuple[int, Mask | None]:
    """Return over how many steps what is enclosed keeps still, and what it is then."""

    def enclosed(step: float) -> Mask:
        return largest(flood.dry(step, along_border=along_border) > 0)

    deep = cv2.distanceTransform(enclosed(STEPS[len(STEPS) // 2]).view(np.uint8), cv2.DIST_L2, 3)
    row, col = divmod(int(deep.argmax()), deep.shape[1])

    def area(step: float) -> int:
        dry = np.minimum(flood.dry(step, along_border=along_border), 1)
        here = cv2.floodFill(dry, None, (col, row), 2, flags=4)[0] if dry[row, col] else 0
        return here if 2 * here > cv2.countNonZero(dry) else int(np.count_nonzero(largest(dry > 0)))

    shares, first, last = np.empty(0), 0, 0
    for step in STEPS:
        if last - first >= SURE_RUN and last < len(shares) - 1:
            break  # the run is sure and has ended
        shares = np.append(shares, area(step) / np.count_nonzero(flood.inner))
        first, last = _stillest(shares)
    return last - first, enclosed(STEPS[(first + last) // 2]) if last > first else None


def _stillest(shares: NDArray[np.float64]) -> tuple[int, int]:
    """Return the first and last step of a run over which the enclosed share keeps still.

    It is the first that is long enough to be sure, since a casting may hold a stronger line inside; else the longest.
    A sure one may begin while noise is still enclosed around the casting: then one that begins within it holds out
    longer, or has not ended yet, and is taken.
    """
    moved = np.triu(shares < SAME_AREA * shares[:, None])
    last = np.where(moved.any(axis=1), moved.argmax(axis=1), len(shares)) - 1
    length = np.where((shares > LEAST_SHARE) & (shares < MOST_SHARE), last - np.arange(len(shares)), 0)
    first = int(np.argmax(np.minimum(length, SURE_RUN) if length.max() >= SURE_RUN else length))
    end = first + int(length[first])
    first = end - int(np.argmax(length[first : end + 1][::-1]))
    return first, first + int(length[first])


def _without_whiskers(mask: Mask) -> Mask:
    """Return `mask` without the thin whiskers that lie along ripples of the light."""
    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc(stub_px(mask)))
    return largest(np.asarray(opened.astype(bool)))
