"""The foot of a tapered cup: the dark line around its flat bottom, inside of which nothing is seen twice.

Over the sloping wall every void has a second image. The corner between wall and bottom draws a thin dark line, closed
but for the voids that shine through it.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.parts import disc
from bubblegrade.quantiles import median

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

LINE_PX: Final = 9  # coarse px: a wider dark band is no line
DEPTHS: Final = (0.35, 0.24, 0.16, 0.11, 0.075)  # depth of the line under its surroundings, over the clear light
GAP_PX: Final = 2  # coarse px: half of the widest gap that voids leave in the line
_GAP: Final = disc(GAP_PX)
LEAST_WALL: Final = 0.2  # least over greatest width of the wall around a foot; around one side of a wire it is less
AREA_SHARES: Final = (0.3, 0.95)  # of the area around the line that a foot encloses
DENT_SHARE: Final = 0.04  # of the foot's size: wider dents are not those of voids
LEAST_SOLID: Final = 0.965  # enclosed area over that of its convex hull
LEAST_DRAWN: Final = 0.75  # share of the way around on which the line is seen


def within_foot(coarse: Image, judged: Mask, opaque: Mask) -> Mask:
    """Return the part of `judged` that lies within the innermost closed dark line, all of it where there is none.

    Parameters
    ----------
    coarse
        (rows, cols) linear light.
    judged
        (rows, cols) where the casting is clear so far.
    opaque
        (rows, cols) wide bodies that let no light through.
    """
    level = median(coarse[judged & ~opaque])
    light = np.where(judged, np.minimum(coarse / max(level, 1e-6), 1.2), 1.0).astype(np.float32)
    around = cv2.morphologyEx(light, cv2.MORPH_CLOSE, np.ones((LINE_PX, LINE_PX), np.uint8))
    dark = around - light
    while True:
        rim = judged & ~cv2.erode(judged.astype(np.uint8), _GAP, borderValue=0).astype(bool)
        inner = next((foot for depth in DEPTHS if (foot := _enclosed(dark > depth, judged, rim)) is not None), None)
        if inner is None:
            return judged
        judged = inner


def _enclosed(line: Mask, judged: Mask, rim: Mask) -> Mask | None:
    """Return what a line cuts off from the rim of the judged area, if that has the form of a foot."""
    closed = cv2.morphologyEx((line & judged).view(np.uint8), cv2.MORPH_CLOSE, _GAP).view(bool)
    clear, area = judged & ~closed, np.count_nonzero(judged)
    if _hangs_together(clear, rim) > np.count_nonzero(clear) - AREA_SHARES[0] * area:
        return None
    _, labels = cv2.connectedComponents(clear.view(np.uint8), connectivity=4)
    parts = np.bincount(labels.ravel())
    parts[0] = parts[labels[rim]] = 0
    if not AREA_SHARES[0] < parts.max() / area < AREA_SHARES[1]:
        return None
    edge = _smooth_edge(labels == int(parts.argmax()))
    if cv2.contourArea(edge) < LEAST_SOLID * cv2.contourArea(cv2.convexHull(edge)):
        return None
    wall = cv2.distanceTransform(np.pad(judged, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
    width = wall[edge[:, 0, 1], edge[:, 0, 0]]
    if np.percentile(width, 5) < LEAST_WALL * width.max():
        return None
    near = cv2.dilate(line.astype(np.uint8), _GAP).astype(bool)
    if near[edge[:, 0, 1], edge[:, 0, 0]].mean() < LEAST_DRAWN:
        return None
    filled = np.zeros(judged.shape, np.uint8)
    cv2.drawContours(filled, [edge], -1, 1, thickness=-1)
    return filled.astype(bool)


def _hangs_together(clear: Mask, rim: Mask) -> int:
    """Return the area of that part of `clear` to which its first pixel in the rim belongs; 0 where there is none."""
    first = int(np.argmax(clear & rim))
    row, col = divmod(first, clear.shape[1])
    return int(cv2.floodFill(clear.astype(np.uint8), None, (col, row), 2, flags=4)[0]) if clear[row, col] else 0


def _smooth_edge(mask: Mask) -> NDArray[np.int32]:
    """Return the outer edge of a mask, without the dents that voids at the line make in it; (N, 1, 2) x, y."""
    reach = max(1, round(DENT_SHARE * float(np.sqrt(mask.sum()))))
    wide = np.pad(mask.astype(np.uint8), 2 * reach)
    smooth = cv2.morphologyEx(wide, cv2.MORPH_CLOSE, disc(reach))[2 * reach : -2 * reach, 2 * reach : -2 * reach]
    edges, _ = cv2.findContours(smooth, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(max(edges, key=cv2.contourArea), np.int32)
