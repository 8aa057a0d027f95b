"""The smallest countable size, foretold from contrast, noise and blur.

A table says from which diameter on 90 % of the voids are found. It was made by planting voids into an even light of
every combination (bubblegrade.teaching.countable).
"""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

Floats = NDArray[np.float64]

CONTRAST: Final = np.array([0.08, 0.12, 0.18, 0.27, 0.4])  # mean darkness of a void's silhouette
NOISE: Final = np.array([0.003, 0.01, 0.02, 0.04])  # standard deviation of a pixel's darkness
BLUR_PX: Final = np.array([0.5, 0.8, 1.2, 1.8, 2.7, 4.0])  # standard deviation of the blur
BEYOND_PX: Final = 40.0  # where the table has no size: not even the largest planted are found


def smallest_countable_px(contrast: float, noise: float, blur_px: float) -> float:
    """Return the diameter in px from which on 90 % of the voids are found.

    Outside the table its nearest value holds; between its values the logarithms are interpolated.

    Parameters
    ----------
    contrast
        Mean darkness of a void's silhouette in the photograph, 0 to 1.
    noise
        Standard deviation of a pixel's darkness.
    blur_px
        Standard deviation of the photograph's blur.
    """
    axes = (CONTRAST, NOISE, BLUR_PX)
    place = [
        [np.interp(np.log(max(value, axis[0])), np.log(axis), np.arange(len(axis)))]
        for value, axis in zip((contrast, noise, blur_px), axes, strict=True)
    ]
    return float(np.exp(map_coordinates(_table(), place, order=1, mode="nearest")[0]))


@lru_cache(maxsize=1)
def _table() -> Floats:
    """Return the natural logarithms of the sizes, (contrasts, noises, blurs)."""
    path = files("bubblegrade.voids").joinpath("countable.npz")
    with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
        limit = held["limit_px"].astype(np.float64)
    return np.asarray(np.log(np.nan_to_num(limit, nan=BEYOND_PX)))
