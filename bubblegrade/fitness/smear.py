"""Motion, read from the picture's spectrum: it takes fine detail along its direction and leaves it across.

An even motion over a length L multiplies the power of a wave of frequency f along it by sinc^2(L f). Round voids have
as much detail in every direction, so that the power of fine waves over that of broader ones, direction against
direction, tells L. A wire or a fibre adds power in one narrow sector, which medians pass over.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from bubblegrade.quantiles import median

Floats = NDArray[np.float64]

BROAD, FINE = (0.02, 0.05), (0.08, 0.16)  # bands of frequency, cycles per px
NOISY: Final = 0.4  # from this frequency on there is nothing but noise
SECTORS: Final = 12  # over half a turn
AROUND: Final = 2  # sectors to either side that count for a direction
LENGTHS: Final = np.linspace(0.0, 9.0, 46)  # px; beyond, fine waves are gone altogether
LEAST_OVER_NOISE: Final = 3.0  # power of fine waves that tells


def smear_of(picture: NDArray[np.float32]) -> tuple[float, float]:
    """Return length in px and direction in radians of the motion in a square picture that fades to 0 at its border.

    NaN where it holds too little fine detail.
    """
    power = np.asarray(np.abs(fft.rfft2(picture)) ** 2, np.float64)
    frequency, sector = _waves(len(picture))
    noise = median(power[frequency > NOISY][::5])
    broad, fine = (_mean_by(power, sector, (frequency >= low) & (frequency < high)) for low, high in (BROAD, FINE))
    if not 0 < LEAST_OVER_NOISE * noise <= np.median(fine):  # flat, or a picture of nothing
        return math.nan, math.nan
    told = np.log(np.maximum(fine - noise, noise / 10)) - np.log(np.maximum(broad - noise, noise))
    lost = _lost(told)
    most = int(np.argmax(lost))
    return float(np.interp(lost[most], _EXPECTED, LENGTHS)), most * math.pi / SECTORS


@cache
def _waves(side: int) -> tuple[Floats, NDArray[np.intp]]:
    """Return frequency and sector of each wave of a square picture's spectrum."""
    down, across = np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :]
    sector = np.rint(np.arctan2(down, across) / (math.pi / SECTORS)).astype(np.intp) % SECTORS
    return np.hypot(down, across), sector


def _mean_by(power: Floats, sector: NDArray[np.intp], band: NDArray[np.bool_]) -> Floats:
    """Return the mean power of a band in each sector."""
    where = sector[band]
    summed = np.bincount(where, power[band], minlength=SECTORS)
    return np.asarray(summed / np.maximum(np.bincount(where, minlength=SECTORS), 1))


def _lost(told: Floats) -> Floats:
    """Return for each direction how much less fine detail there is along it than across it, natural log."""
    near = np.median([np.roll(told, shift) for shift in range(-AROUND, AROUND + 1)], axis=0)
    return np.asarray(np.roll(near, SECTORS // 2) - near)


def _expected() -> Floats:
    """Return what `_lost` gives along the motion for each of LENGTHS."""
    along = np.cos(np.arange(SECTORS) * math.pi / SECTORS)
    told = []
    for low, high in (BROAD, FINE):
        waves = np.linspace(low, high, 20)[None, :, None] * along[None, None, :] * LENGTHS[:, None, None]
        told.append(np.log((np.sinc(waves) ** 2).mean(axis=1)))
    lost = [_lost(fine - broad)[0] for broad, fine in zip(*told, strict=True)]
    return np.asarray(np.maximum.accumulate(lost) + np.arange(len(LENGTHS)) * 1e-9)


_EXPECTED: Final = _expected()
