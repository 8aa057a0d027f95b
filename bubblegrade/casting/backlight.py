"""The bare light over the whole frame, from where it is seen beside the casting."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

QUADRATIC: Final = (np.array([0, 1, 0, 1, 2, 0]), np.array([0, 0, 1, 1, 0, 2]))  # powers of row and column


def backlight_around(coarse: Image, outside: Mask) -> Image:
    """Return the bare light over the whole frame as a quadratic surface through what lies outside the casting.

    Parameters
    ----------
    coarse
        Linear light, (rows, cols).
    outside
        Where the bare light is seen, same shape.

    Returns
    -------
    (rows, cols); all NaN where less than a hundredth of the frame is outside.
    """
    if outside.mean() < 0.01:  # noqa: PLR2004
        return np.full(coarse.shape, np.nan, np.float32)
    down, across = (np.vander(np.linspace(-1, 1, size), 5, increasing=True) for size in coarse.shape)
    light = coarse.astype(np.float64)
    i, j = QUADRATIC

    def surface(seen: Mask) -> NDArray[np.float64]:
        known = seen.astype(np.float64)
        moments = down.T @ known @ across
        pull = down.T @ (known * light) @ across
        weights = np.zeros((3, 3))
        weights[i, j], *_ = np.linalg.lstsq(moments[i[:, None] + i, j[:, None] + j], pull[i, j], rcond=None)
        return np.asarray(down[:, :3] @ weights @ across[:, :3].T)

    off = light - surface(outside)
    without_dust = outside & (np.abs(off) < 3 * np.std(off[outside]) + 1e-6)
    return np.asarray(surface(without_dust), np.float32)
