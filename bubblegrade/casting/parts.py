"""Parts of a coarse mask: its largest, its holes filled, and how wide what is closed or cut off may be."""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

STUB_SHARE: Final = 0.012  # of the casting's size: gaps and whiskers of this width are closed and cut


def largest(mask: Mask) -> Mask:
    """Return the largest connected part of `mask`."""
    count, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    return np.asarray(labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:]))) if count > 2 else mask  # noqa: PLR2004


def filled(mask: Mask) -> Mask:
    """Return `mask` with the holes that it encloses."""
    _, labels = cv2.connectedComponents(np.pad(~mask, 1, constant_values=True).astype(np.uint8), connectivity=4)
    return np.asarray((labels != labels[0, 0])[1:-1, 1:-1])


def solidity(mask: Mask) -> float:
    """Return the area of the largest part of `mask`, its holes filled, over that of its convex hull; NaN if empty.

    >>> solidity(np.ones((20, 30), bool))
    1.0
    """
    outlines, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    line = max(outlines, key=cv2.contourArea, default=None)
    if line is None or not (hull := cv2.contourArea(cv2.convexHull(line))):
        return float("nan")
    return float(cv2.contourArea(line) / hull)


def stub_px(casting: Mask) -> int:
    """Return the width of gaps and whiskers of a casting, in px of its coarse mask."""
    return max(1, round(STUB_SHARE * math.sqrt(np.count_nonzero(casting))))


def disc(radius_px: int) -> NDArray[np.uint8]:
    """Return a disc of a radius, (2 radius + 1, 2 radius + 1), to open and close masks with.

    >>> disc(1).tolist()
    [[0, 1, 0], [1, 1, 1], [0, 1, 0]]
    """
    side = 2 * radius_px + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), np.uint8)
