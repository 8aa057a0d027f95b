"""On which level of the pyramid a ring is measured, and the blur that halving down to it adds."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

LEVEL_RADIUS_PX: Final = 7.0  # a level is used for radii from this to twice this
LEVEL_BLUR_PX: Final = 0.35  # of the halving itself, in px of the level


def level_of(radius: Floats, levels: int) -> Floats:
    """Return the level, of so many, that rings of these radii, in px, are measured on, (N,).

    >>> level_of(np.array([3.0, 13.0, 15.0, 900.0]), 3).tolist()
    [0.0, 0.0, 1.0, 2.0]
    """
    return np.asarray(np.clip(np.floor(np.log2(np.maximum(radius, 1e-3) / LEVEL_RADIUS_PX)), 0, levels - 1), np.float32)


def level_blur_px(pixel: Floats) -> Floats:
    """Return the blur, in px of the photograph, that levels with pixels of this side bring, (N,).

    >>> level_blur_px(np.array([1.0, 2.0, 4.0])).round(3).tolist()
    [0.0, 0.7, 1.4]
    """
    return np.asarray(LEVEL_BLUR_PX * pixel * (pixel > 1))
