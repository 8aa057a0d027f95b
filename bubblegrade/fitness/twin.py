"""A second, shifted picture of the same thing, read from the logarithm of the picture's spectrum.

A picture with a second one of q times its light, shifted by d, has |1 + q exp(-2 pi i f d)|^2 times the power of one:
its log has a ripple of 2 q cos(2 pi f d), which a Fourier transform of the log gathers in a peak at d (Bogert, Healy
and Tukey 1963, on echoes). Every wave above the noise tells as much as any other, so that the faint second picture of
all things weighs more than two voids of one size. Noise fills the ripple of fine waves: the strongest octave tells q.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from bubblegrade.quantiles import median

Floats = NDArray[np.float64]

RINGS: Final = np.geomspace(0.02, 0.36, 38)  # bounds of the rings whose mean is taken away, cycles per px
OCTAVES: Final = ((0.02, 0.05), (0.04, 0.08), (0.06, 0.12), (0.1, 0.2), (0.17, 0.36))  # that tell of q, cycles per px
NOISY: Final = 0.4  # from this frequency on there is nothing but noise
OVER_NOISE: Final = 6.0  # power of a ring that tells
FILLED: Final = 0.3  # of the noise, added to all power
MOST_LOG: Final = 3.0  # off a ring's mean
LEAST_WAVES: Final = 2500  # that tell: the ripple by chance, 1.28 / sqrt(2 N), stays 7 times under LEAST_PEAK
LEAST_OF_OCTAVE: Final = 200
LEAST_SHIFT_PX, MOST_SHIFT_PX = 8, 48  # nearer peaks are also of things that are all long in one direction
AROUND_PX: Final = 4  # of a peak: what is as high there belongs to a ridge, of straight edges or of round voids
LEAST_PEAK: Final = 0.13  # over all around it: of 300 photographs taken once one had 0.12, all others less than 0.08
TILES: Final = 10  # each way, over which a likeness must be spread
NOTED: Final = 0.004  # of all detail that a tile must have to count
ALIKE: Final = 0.12  # of a tile's detail that is found again, shifted
LEAST_PLACES: Final = 6  # tiles alike: of a few voids of one size by chance up to 4 are
MAD: Final = 1.4826  # standard deviation over median absolute deviation
SPREAD: Final = math.pi / math.sqrt(6.0)  # standard deviation of the log of a power that spreads exponentially


@dataclass(frozen=True)
class Twin:
    """A second picture."""

    share: float  # of the light; 0 where there is none, NaN where too little detail tells
    shift_px: float = 0.0


@dataclass(frozen=True, eq=False)
class _Waves:
    """Waves of a square picture's spectrum that lie in rings."""

    places: NDArray[np.intp]  # in the flat spectrum
    ring: NDArray[np.intp]
    down: Floats  # cycles per px
    across: Floats
    noise: NDArray[np.intp]  # places of some that hold nothing but noise


def twin_of(picture: NDArray[np.float32]) -> Twin:
    """Return the second picture in one, (side, side), of light over its clear light less 1, faded at its border."""
    side = len(picture)
    power = np.asarray(np.abs(fft.rfft2(picture)) ** 2, np.float64).ravel()
    waves = _waves(side)
    noise = median(power[waves.noise]) / math.log(2.0)  # powers of noise spread exponentially
    if not noise > 0.0:
        return Twin(math.nan)
    over = power[waves.places] / noise
    tells = (_ring_means(over, waves.ring) > 1.0 + OVER_NOISE)[waves.ring]
    if np.count_nonzero(tells) < LEAST_WAVES:
        return Twin(math.nan)
    ring = waves.ring[tells]
    told = np.log(over[tells] + FILLED)
    ripple = np.clip(told - _ring_means(told, ring)[ring], -MOST_LOG, MOST_LOG)
    peak, x, y = _peak(ripple, waves.places[tells], side)
    if peak < LEAST_PEAK or not _everywhere(picture, x, y):
        return Twin(0.0)
    q = _strength(ripple, ring, waves.down[tells], waves.across[tells], x, y)
    return Twin(q / (1.0 + q), math.hypot(x, y))


def _peak(ripple: Floats, places: NDArray[np.intp], side: int) -> tuple[float, int, int]:
    """Return the strongest peak of the ripple's transform over all around it, and its shift, x and y."""
    spread = np.zeros(side * (side // 2 + 1))
    spread[places] = ripple * (side**2 / (2.0 * len(ripple)))
    reach = MOST_SHIFT_PX + AROUND_PX
    whole = np.roll(fft.irfft2(spread.reshape(side, -1), (side, side)), (reach, reach), (0, 1))
    near = whole[: 2 * reach + 1, : 2 * reach + 1]
    hollow = np.ones((2 * AROUND_PX + 1,) * 2, np.uint8)
    hollow[1:-1, 1:-1] = 0
    y, x = (part - reach for part in np.indices(near.shape))
    away = np.hypot(x, y)
    top = (away >= LEAST_SHIFT_PX) & (away <= MOST_SHIFT_PX) & (near >= cv2.dilate(near, np.ones((3, 3), np.uint8)))
    over = np.where(top, near - np.maximum(cv2.dilate(near, hollow), 0.0), 0.0)
    at = np.unravel_index(int(np.argmax(over)), over.shape)
    return float(over[at]), int(x[at]), int(y[at])


def _everywhere(picture: NDArray[np.float32], x: int, y: int) -> bool:
    """Say whether fine detail is found again a shift away at many places, as all of a second exposure is.

    Two voids of one size are alike where they are, and nowhere else.
    """
    fine = cv2.GaussianBlur(picture, (0, 0), 1.0) - cv2.GaussianBlur(picture, (0, 0), 2.0)
    grain = (MAD * median(np.abs(fine[fine != 0.0]))) ** 2 if fine.any() else 0.0
    detail = _by_tile(fine**2 - np.float32(grain) * (fine != 0.0))
    alike = _by_tile(fine * np.roll(fine, (-y, -x), (0, 1)))
    noted = detail > NOTED * np.maximum(detail, 0.0).sum()
    return int(np.count_nonzero(noted & (alike > ALIKE * detail))) >= LEAST_PLACES


def _by_tile(values: NDArray[np.float32]) -> Floats:
    """Return the sum over each tile of a square picture, (TILES, TILES)."""
    side = len(values) // TILES
    square = values[: side * TILES, : side * TILES].reshape(TILES, side, TILES, side)
    return np.asarray(square.sum(axis=(1, 3), dtype=np.float64))


def _strength(ripple: Floats, ring: NDArray[np.intp], down: Floats, across: Floats, x: int, y: int) -> float:
    """Return q by the octave in which the ripple of a shift is strongest, one standard uncertainty taken off."""
    frequency = np.hypot(down, across)
    found = [0.0]
    for low, high in OCTAVES:
        own = (frequency >= low) & (frequency < high)
        if np.count_nonzero(own) < LEAST_OF_OCTAVE:
            continue
        wave = np.cos(2.0 * math.pi * (down[own] * y + across[own] * x))
        wave -= _ring_means(wave, ring[own])[ring[own]]
        squares = float((wave**2).sum())
        found.append(float((ripple[own] * wave).sum()) / (2.0 * squares) - SPREAD / (2.0 * math.sqrt(squares)))
    return min(max(found), 1.0)


def _ring_means(values: Floats, ring: NDArray[np.intp]) -> Floats:
    """Return the mean of the values in each ring."""
    count = np.bincount(ring, minlength=len(RINGS))
    return np.asarray(np.bincount(ring, values, minlength=len(RINGS)) / np.maximum(count, 1))


@cache
def _waves(side: int) -> _Waves:
    """Return where the waves of a square picture belong."""
    down, across = np.broadcast_arrays(np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :])
    frequency = np.hypot(down, across).ravel()
    places = np.flatnonzero((frequency >= RINGS[0]) & (frequency < RINGS[-1]))
    return _Waves(
        places=places, ring=np.searchsorted(RINGS, frequency[places], side="right") - 1,
        down=down.ravel()[places], across=across.ravel()[places], noise=np.flatnonzero(frequency > NOISY)[::5],
    )  # fmt: skip
