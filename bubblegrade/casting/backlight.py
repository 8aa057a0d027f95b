"""The bare light over the whole frame, from where it is seen beside the casting.

Light falls towards the corners as a power of the distance from its middle. Under the cos^4 law of lenses and flat
lamps the inverse root of light grows with the square of that distance; where a lamp spreads like a Gaussian, the
logarithm falls with it; a slight fall is well described by light itself. The one that explains what is seen is taken.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]
Floats = NDArray[np.float64]

QUADRATIC: Final = (np.array([0, 1, 0, 1, 2, 0]), np.array([0, 0, 1, 1, 0, 2]))  # powers of row and column
POWERS: Final = (1.0, 0.0, -0.5)  # of light, 0 for its logarithm, that may be a quadratic surface
BETTER: Final = 0.9  # of what light itself leaves: another power must leave less
SIDE: Final = 100  # squares of the frame's shorter side, at least, that tell which it is
COLOURLESS: Final = 0.92  # of the light passes two faces of index 1.5 (Fresnel: each reflects 4 %)
LEAST_SEEN: Final = 0.01  # of the frame that must be bare light
DIMMEST: Final = 1e-3  # of full scale: light is taken to be no darker


def backlight_around(coarse: Image, outside: Mask) -> Image:
    """Return the bare light over the whole frame as a smooth surface through what lies outside the casting.

    A power of it, or its logarithm, is a quadratic surface.

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
    if outside.mean() < LEAST_SEEN:
        return np.full(coarse.shape, np.nan, np.float32)
    light = np.maximum(coarse.astype(np.float64), DIMMEST)
    step = max(1, min(coarse.shape) // SIDE)
    few, seen = light[::step, ::step], outside[::step, ::step]
    left = [float(np.abs(few - _surface(few, seen, power))[seen].mean()) for power in POWERS]
    best = int(np.argmin(left))
    return np.asarray(_surface(light, outside, POWERS[best if left[best] < BETTER * left[0] else 0]), np.float32)


def _surface(light: Floats, outside: Mask, power: float) -> Floats:
    """Return the light whose `power` is a quadratic surface through what lies outside, but for dust."""
    shaped = np.log(light) if power == 0 else light**power
    surface = _quadratic(shaped, outside)
    off = shaped - surface
    without_dust = outside & (np.abs(off) < 3 * np.std(off[outside]) + 1e-6)
    surface = _quadratic(shaped, without_dust)
    if power == 0:
        return np.asarray(np.exp(surface))
    least = 1.0 if power < 0 else -np.inf  # light is at most full scale
    return np.asarray(np.maximum(surface, least) ** (1.0 / power))


def _quadratic(values: Floats, known: Mask) -> Floats:
    """Return the quadratic surface through a picture where it is known, (rows, cols)."""
    down, across = (np.vander(np.linspace(-1, 1, size), 5, increasing=True) for size in values.shape)
    i, j = QUADRATIC
    moments = down.T @ known.astype(np.float64) @ across
    pull = down.T @ (known * values) @ across
    weights = np.zeros((3, 3))
    weights[i, j], *_ = np.linalg.lstsq(moments[i[:, None] + i, j[:, None] + j], pull[i, j], rcond=None)
    return np.asarray(down[:, :3] @ weights @ across[:, :3].T)
