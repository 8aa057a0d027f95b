"""The disc that a lens out of focus draws of each point, read from the picture's spectrum.

An even disc of radius R multiplies the power of waves of frequency f, in any direction, by (2 J1(x) / x)^2 with
x = 2 pi R f. Its first notch lies at x = 3.83, and beyond it power rises again; blur like a Gaussian's, and what a
casting holds, let it fall on and on. Voids all of one size have such a notch too: what they do not have, unless they
are soft as well, is edges as wide as the disc, whose light changes by 2 / (pi R) of all that it can, a pixel. The mean
of the logarithm over all directions leaves out grids and motion.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

Floats = NDArray[np.float64]

RING: Final = 0.005  # cycles per px: width of the rings of frequencies; as far apart are the waves of
LEAST_SIDE: Final = 200  # px: a smaller picture has rings without a wave
NOTCH: Final = 0.6098  # first zero of J1 over 2 pi: the notch's frequency times R
BETWEEN: Final = (0.05, 0.25)  # cycles per px in which the notch is looked for: discs of 2.4 to 12 px
BEYOND: Final = 1.6  # of its frequency: up to there power has risen again
BEFORE: Final = 0.55  # of its frequency: from there on power has fallen
LEAST_RISE, LEAST_FALL = 0.2, 3.2  # of ln(power): between those of discs and of other blur (tests/benchmarks)
STEEPEST: Final = 1.2 * 2.0 / math.pi  # slope of an edge, of the clear light, times R: gleams and noise add to it
LEAST_POWER: Final = 1e-12


def disc_radius_px(picture: NDArray[np.float32], fade: NDArray[np.float32], *, steepest: float) -> float:
    """Return the radius of the disc that each point of a picture was spread over; NaN where none is seen.

    In a picture of less than LEAST_SIDE none is.

    Parameters
    ----------
    picture
        (side, side), light over its clear light less 1.
    fade
        Likewise, 1 where the casting is to be looked at, falling gently to 0 at the border of that.
    steepest
        Slope of the steeper edges, over the clear light, per px.
    """
    if len(picture) < LEAST_SIDE:
        return math.nan
    power = np.log(np.maximum(np.abs(fft.rfft2(picture * fade)) ** 2, LEAST_POWER))
    ring, count = _rings(len(picture))
    mean = np.bincount(ring, power.ravel()) / count
    mean = np.convolve(mean, (0.25, 0.5, 0.25), "same")
    for at in range(*(round(frequency / RING) for frequency in BETWEEN)):
        before, here, after = mean[at - 1 : at + 2]
        rise = mean[at + 1 : int(BEYOND * at) + 2].max() - here
        if here <= min(before, after) and rise > LEAST_RISE and mean[int(BEFORE * at)] - here > LEAST_FALL:
            bottom = at + (before - after) / (2.0 * max(before - 2.0 * here + after, LEAST_POWER))
            radius = float(NOTCH / (bottom * RING))
            if steepest * radius < STEEPEST:
                return radius
    return math.nan


@cache
def _rings(side: int) -> tuple[NDArray[np.intp], Floats]:
    """Return the ring of each wave of a flat spectrum, and how many waves each ring has."""
    frequency = np.hypot(fft.fftfreq(side)[:, None], fft.rfftfreq(side)[None, :])
    ring = np.rint(frequency / RING).astype(np.intp).ravel()
    return ring, np.bincount(ring).astype(np.float64)
