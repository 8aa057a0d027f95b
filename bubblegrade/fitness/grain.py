"""The noise of clear resin over squares of pixels as large as the smallest voids.

The standard deviation of the light over its mean, the inverse of the signal-to-noise ratio of EMVA 1288 (from memory),
of squares of n by n pixels is an n-th of a single pixel's where noise differs from pixel to pixel. So much is said:
what a pixel had before the camera smoothed it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.flattened import Flattened
from bubblegrade.casting.outline import Outline
from bubblegrade.fitness.edges import DARKEST
from bubblegrade.quantiles import quantile

SQUARE_PX: Final = 4  # side of a square: a void of 5 px has as large an area
STRIPS: Final = 24  # of the casting that are looked at,
STRIP_PX: Final = 32  # each so many rows
LEAST_SQUARES: Final = 400  # fewer tell nothing
CALM: Final = 0.25  # quantile of the differences, where there are no voids: a quarter of normal ones
OF_NORMAL: Final = 0.3186  # is smaller than so many standard deviations
OF_SECOND: Final = math.sqrt(1.5)  # standard deviation of a value less the mean of its two neighbours over its own


def grain_of(light: Flattened, outline: Outline) -> float:
    """Return the standard deviation of a pixel's light in clear resin, as a share of it, before any smoothing.

    NaN where too little resin is seen.
    """
    off = np.concatenate([np.empty(0, np.float32), *_differences(light, outline)])
    return quantile(off, CALM) / OF_NORMAL / OF_SECOND * SQUARE_PX if len(off) >= LEAST_SQUARES else math.nan


def _differences(whole: Flattened, outline: Outline) -> Iterator[NDArray[np.float32]]:
    """Yield for strips of the casting by how much squares differ from the mean of their neighbours, as a share."""
    inside, step = outline.well_inside, outline.step_px
    rows = np.flatnonzero(inside.any(axis=1)) * step
    if not len(rows):
        return
    for first in np.unique(np.linspace(rows[0], max(rows[0], rows[-1] - STRIP_PX), STRIPS).astype(int)):
        light = whole[first : first + STRIP_PX]
        size = (light.shape[1] // SQUARE_PX, light.shape[0] // SQUARE_PX)
        mean = cv2.resize(light[: size[1] * SQUARE_PX, : size[0] * SQUARE_PX], size, interpolation=cv2.INTER_AREA)
        beside = (mean[:, :-2] + mean[:, 2:]) / 2
        down, across = ((SQUARE_PX * np.arange(n) + SQUARE_PX // 2) // step for n in size[::-1])
        known = inside[np.minimum(down + first // step, len(inside) - 1)][:, np.minimum(across, inside.shape[1] - 1)]
        known = known[:, :-2] & known[:, 2:]
        yield (np.abs(mean[:, 1:-1] - beside) / np.maximum(beside, DARKEST))[known]
