"""The card's fine marks placed to a small fraction of a pixel.

At a fine mark two black squares meet corner to corner. The mark is where all slopes of brightness around it point past
it, which is solved for over a small patch: blur, exposure and ink that spreads change the slopes on all sides alike.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.photo.card import Layout
from bubblegrade.photo.card_plane import Plane

Floats = NDArray[np.float64]

REACH_SHARE: Final = 0.14  # of a square's side: half the patch, which the nearest marker must not enter
LEAST_REACH_PX, MOST_REACH_PX = 3, 16
WANDER_SHARE: Final = 0.12  # of a square's side that a mark may lie from where it was expected
PROBE_SHARE: Final = 0.12  # of a square's side: how far around a mark is probed
PROBES: Final = 7  # along a side
MOST_LOPSIDED: Final = 0.18  # root mean square difference of what lies opposite each other, over the contrast
LEAST_CONTRAST: Final = 10.0  # codes of 255 between black and white
LEAST_GAP: Final = 0.4  # of that contrast that every white probe must lie over every black one
STOP: Final = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.002)


def placed_marks(
    grey: NDArray[np.uint8], plane: Plane, marks_mm: Floats, layout: Layout, factor: float
) -> tuple[NDArray[np.bool_], Floats]:
    """Return which fine marks are seen, and where every one is, (n, 2) px; those not seen stay where expected.

    Parameters
    ----------
    grey
        The photograph.
    plane
        Where the card is, to a few pixels.
    marks_mm
        (n, 2) places of the fine marks as printed.
    layout, factor
        The card, and how much larger than drawn it was printed.
    """
    square_mm = layout.square_mm * factor
    expected = plane.seen_px(marks_mm)
    square_px = _square_px(plane, marks_mm, square_mm)
    reach = int(np.clip(REACH_SHARE * square_px.min(), LEAST_REACH_PX, MOST_REACH_PX))
    room = np.array(grey.shape[::-1]) - 1 - (reach + 2)
    inside = np.all((expected > reach + 2) & (expected < room), axis=1)
    points = expected.copy()
    if not inside.any():
        return inside, points
    start = expected[inside].astype(np.float32).reshape(-1, 1, 2)
    points[inside] = cv2.cornerSubPix(grey, start, (reach, reach), (-1, -1), STOP).reshape(-1, 2)
    near = np.linalg.norm(points - expected, axis=1) < np.maximum(WANDER_SHARE * square_px, 2.0)
    return inside & near & _is_crossing(grey, plane, marks_mm, points - expected, layout, square_mm), points


def _square_px(plane: Plane, marks_mm: Floats, square_mm: float) -> Floats:
    """Return the shorter side of a square at every mark, px."""
    here = plane.seen_px(marks_mm)
    sides = [np.linalg.norm(plane.seen_px(marks_mm + step) - here, axis=1) for step in square_mm * np.eye(2)]
    return np.asarray(np.minimum(*sides))


def _is_crossing(
    grey: NDArray[np.uint8], plane: Plane, marks_mm: Floats, shift_px: Floats, layout: Layout, square_mm: float
) -> NDArray[np.bool_]:
    """Return at which marks black and white lie around as they should, and the same on both sides."""
    steps = np.linspace(-PROBE_SHARE, PROBE_SHARE, PROBES) * square_mm
    codes = np.stack(
        [[_codes_at(grey, plane.seen_px(marks_mm + np.array((x, y))) + shift_px) for x in steps] for y in steps]
    )
    black = np.where(layout.black_first, codes[[0, -1], [0, -1]], codes[[0, -1], [-1, 0]])
    white = np.where(layout.black_first, codes[[0, -1], [-1, 0]], codes[[0, -1], [0, -1]])
    contrast = np.maximum(white.mean(axis=0) - black.mean(axis=0), 1e-9)
    gap = white.min(axis=0) - black.max(axis=0)
    lopsided = np.sqrt(np.mean((codes - codes[::-1, ::-1]) ** 2, axis=(0, 1)))
    return np.asarray(
        (contrast > LEAST_CONTRAST) & (gap > LEAST_GAP * contrast) & (lopsided < MOST_LOPSIDED * contrast)
    )


def _codes_at(grey: NDArray[np.uint8], points_px: Floats) -> Floats:
    """Return the codes at (n, 2) points, between pixels as well."""
    columns, rows = (part.astype(np.float32)[None] for part in points_px.T)
    return np.asarray(cv2.remap(grey, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[0], np.float64)
