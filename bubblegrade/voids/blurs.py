"""How blurred the voids of a photograph are, each and most of them."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.voids.detecting import EDGE_10_90, Found
from bubblegrade.voids.levels import level_blur_px, level_of
from bubblegrade.voids.lighting import TELL_BLUR
from bubblegrade.voids.table import Voids

Floats = NDArray[np.float64]

MOST_LEVELS: Final = 16  # of a pyramid: more than any photograph has


def usual_blur_px(found: Found) -> float:
    """Return the standard deviation of the blur that most rings show; NaN where too few voids tell."""
    return found.lighting.followed_blur_px if len(found.voids) >= TELL_BLUR else math.nan


def blurs_of(voids: Voids) -> tuple[Floats, Floats]:
    """Return the places, (N, 2) x, y, of voids and the variance of their blur in px^2, (N,), without that of levels."""
    told = voids[np.isfinite(voids.edge_width_px)]
    radius = (told.diameter_px / 2).astype(np.float32)
    of_level = level_blur_px(np.exp2(level_of(radius, MOST_LEVELS)))
    own = (told.edge_width_px / EDGE_10_90) ** 2 - of_level.astype(np.float64) ** 2
    return np.column_stack([told.x_px, told.y_px]), np.maximum(own, 0.0)
