"""Noise over squares as large as the smallest voids: smoothing hides noise of single pixels, but leaves this.

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

from bubblegrade.fitness.check import Limit, Measured, Test
from bubblegrade.fitness.edges import DARKEST
from bubblegrade.fitness.view import View
from bubblegrade.quantiles import quantile

SQUARE_PX: Final = 4  # side of a square: a void of 5 px has as large an area
STRIPS: Final = 24  # of the casting that are looked at,
STRIP_PX: Final = 32  # each so many rows
LEAST_SQUARES: Final = 400  # fewer tell nothing
CALM: Final = 0.25  # quantile of the differences, where there are no voids: a quarter of normal ones
OF_NORMAL: Final = 0.3186  # is smaller than so many standard deviations
OF_SECOND: Final = math.sqrt(1.5)  # standard deviation of a value less the mean of its two neighbours over its own
COUNTED_TO: Final = 0.09  # up to here 90 % of the voids of 5 px are found
SMALLEST_PX: Final = 5.0


def noise(view: View) -> Measured:
    """Measure the standard deviation of a pixel's light in clear resin, as a share of it, before any smoothing."""
    off = np.concatenate([np.empty(0, np.float32), *_differences(view)])
    if len(off) < LEAST_SQUARES:
        return Measured(math.nan, "too little resin is seen")
    share = quantile(off, CALM) / OF_NORMAL / OF_SECOND * SQUARE_PX
    return Measured(share, f"the light is noisy by {100 * share:.0f} %, or was before the camera smoothed it")


def countable_in_noise_px(share: float) -> float:
    """Return the diameter in px from which on voids are found in so much noise; 0 where it leaves that to contrast.

    A disc's mean is the surer the larger its diameter, in proportion to it.

    >>> countable_in_noise_px(0.18), countable_in_noise_px(0.05), countable_in_noise_px(math.nan)
    (10.0, 0.0, 0.0)
    """
    return round(SMALLEST_PX * share / COUNTED_TO, 6) if share > COUNTED_TO else 0.0


def _differences(view: View) -> Iterator[NDArray[np.float32]]:
    """Yield for strips of the casting by how much squares differ from the mean of their neighbours, as a share."""
    inside, step = view.outline.well_inside, view.outline.step_px
    rows = np.flatnonzero(inside.any(axis=1)) * step
    if not len(rows):
        return
    for first in np.unique(np.linspace(rows[0], max(rows[0], rows[-1] - STRIP_PX), STRIPS).astype(int)):
        light = view.light[first : first + STRIP_PX]
        size = (light.shape[1] // SQUARE_PX, light.shape[0] // SQUARE_PX)
        mean = cv2.resize(light[: size[1] * SQUARE_PX, : size[0] * SQUARE_PX], size, interpolation=cv2.INTER_AREA)
        beside = (mean[:, :-2] + mean[:, 2:]) / 2
        down, across = ((SQUARE_PX * np.arange(n) + SQUARE_PX // 2) // step for n in size[::-1])
        known = inside[np.minimum(down + first // step, len(inside) - 1)][:, np.minimum(across, inside.shape[1] - 1)]
        known = known[:, :-2] & known[:, 2:]
        yield (np.abs(mean[:, 1:-1] - beside) / np.maximum(beside, DARKEST))[known]


TESTS: Final = (
    Test(
        "noise",
        "noise of the light",
        "share",
        Limit(0.10, 0.20),
        "small and faint voids are lost in it",
        "give more light or expose longer, at the camera's lowest ISO",
        noise,
    ),
)
