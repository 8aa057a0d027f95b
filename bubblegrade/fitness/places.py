"""From masks and rows to places in the photograph."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np

from bubblegrade.casting.outline import Mask
from bubblegrade.fitness.check import EVERYWHERE, Place

MOST_PARTS: Final = 40  # regions of a place; more are shown as their common box


def region(mask: Mask, step_px: int) -> Place:
    """Return where a mask, (rows, cols) with squares of `step_px` of the photograph, is set; everywhere if nowhere.

    Of a region with holes, the lines around the holes are among its parts.
    """
    lines, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    if not lines:
        return EVERYWHERE
    largest = sorted(lines, key=cv2.contourArea, reverse=True)[:MOST_PARTS]
    return Place("region", tuple((line[:, 0, :].astype(np.float64) + 0.5) * step_px - 0.5 for line in largest))


def box(left: float, top: float, right: float, bottom: float) -> Place:
    """Return a box.

    >>> box(0.0, 1.0, 8.0, 9.0).bounds_px
    (0.0, 1.0, 8.0, 9.0)
    """
    return Place("box", (np.array([[left, top], [right, bottom]]),))


def boxes(corners: list[tuple[float, float, float, float]]) -> Place:
    """Return several boxes, each left, top, right, bottom."""
    return Place("box", tuple(np.array([[left, top], [right, bottom]]) for left, top, right, bottom in corners))
