"""What is dark beside hardware and was named nothing: a void there shows arcs that run into the hardware's own dark."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.distances import distances
from bubblegrade.inspection.depth import rectangle

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]

SHADE: Final = 2  # squares around hardware that its own border darkens
NEAR: Final = 0.015  # of the piece's longer side: farther off, a ring is told by itself
LEAST_SQUARES: Final = 4  # less is noise


def beside_of(dark: Mask, solid: Mask, long: float) -> Floats:
    """Return middle x, y and diameter of dark bodies beside hardware, (N, 3) in squares.

    Parameters
    ----------
    dark
        (rows, cols) squares darker than clear resin that belong to no void and no flake.
    solid
        Hardware, likewise.
    long
        The piece's longer side in squares.
    """
    if not solid.any():
        return np.empty((0, 3))
    reach = int(np.ceil(NEAR * long)) + 1
    rows, cols = (slice(max(one.start - reach, 0), one.stop + reach) for one in rectangle(solid))
    away = distances(~solid[rows, cols])
    near = dark[rows, cols] & (away > SHADE * np.sqrt(2.0)) & (away < reach)
    _, _, bodies, middles = cv2.connectedComponentsWithStats(near.astype(np.uint8), connectivity=8)
    large = np.flatnonzero(bodies[1:, cv2.CC_STAT_AREA] >= LEAST_SQUARES) + 1
    wide = bodies[large][:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1, initial=0)
    return np.column_stack([middles[large] + [cols.start, rows.start], wide]).astype(np.float64)
