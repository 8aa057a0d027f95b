"""Motion, read from the picture's spectrum: it takes fine detail along its direction and leaves it across.

An even motion over a length L multiplies the power of a wave of frequency f along it by sinc^2(L f), whose first notch
is at 1 / L. Round voids have as much detail in every direction, and their power falls with f^3, as that of any outline
does: times f^3 all waves of a ring of frequencies weigh alike, and how the power of a ring goes with the direction
tells L. From some frequency on there is nothing but noise, which compression leaves with a spectrum of its own: rings
count from the broadest waves to where they agree best with the motion. Two edges beside each other, as a rim has, have
such notches too; what they do not have is edges that are all as wide as the motion is long.
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

RINGS: Final = np.geomspace(0.012, 0.36, 23)  # bounds of the rings, cycles per px
NOISY: Final = 0.4  # from this frequency on there is nothing but noise
SECTORS: Final = 12  # over half a turn
LENGTHS: Final = np.concatenate([np.arange(0.0, 24.0, 0.5), np.geomspace(24.0, 72.0, 23)])  # px
UNMOVED: Final = 0.75  # quantile of a ring's sectors that motion has taken nothing of
LEAST_OVER_NOISE: Final = 3.0  # power of a ring that tells
LEAST_WAVES: Final = 2  # in each sector of a ring that counts
LEAST_RINGS: Final = 5  # that tell of motion
FLOOR: Final = 0.01  # of a ring's power: deeper notches are filled by what is not motion
MOST: Final = math.e  # of a ring's power: more in one direction is a wire or a fibre
UNLIKE: Final = 0.1  # variance of log power between directions of one picture, however many waves there are
LEAST_GAIN, LEAST_SHARE = 40.0, 0.4  # squared deviations that motion explains, and their share of all: it moved
DOUBTED_GAIN, DOUBTED_SHARE = 20.0, 0.2  # from here on it may have moved
ALIKE: Final = 0.25  # variance of log power that directions have in all rings alike
MOST_UNPROVEN: Final = 4.0  # px that are told where less is explained
LOOKED_AT: Final = 0.05  # of the fade: where edges are looked at
WAY_PX: Final = 4.0  # over which the light's change is looked at
GRAIN_PX: Final = 1.0  # blur before that, against noise
MOST_LIGHT: Final = 1.3  # of the clear light: with gleams, and with what sharpening adds to edges
STEEP: Final = 30  # pixels at which it changes as much
MOST_NOISE: Final = 3.0  # standard deviations of the change, taken away
MAD: Final = 1.4826  # standard deviation over the median of what noise changes


@dataclass(frozen=True)
class Smear:
    """A motion."""

    length_px: float  # NaN where it cannot be told
    direction: float  # radians, clockwise from the right; NaN where there is too little fine detail
    notched: bool = False  # whether the notch of its spectrum was seen: else it is longer rather than shorter


UNSEEN: Final = Smear(math.nan, math.nan)


@dataclass(frozen=True, eq=False)
class _Waves:
    """Where the waves of a square picture's spectrum belong, of the flat spectrum."""

    places: NDArray[np.intp]  # of the waves in rings
    cell: NDArray[np.intp]  # ring times SECTORS plus sector of each
    weight: Floats  # of each: frequency cubed
    count: Floats  # (rings,), mean number in a sector
    weights: Floats  # (rings, sectors), their sum
    filled: NDArray[np.bool_]  # (rings,), whether each sector has waves enough
    noise: NDArray[np.intp]  # places of some that hold nothing but noise


def smear_of(picture: NDArray[np.float32], fade: NDArray[np.float32]) -> Smear:
    """Return the motion in a picture, (side, side), of light over its clear light less 1.

    `fade` is 1 where the casting is to be looked at and falls gently to 0 at the border of that.
    """
    power = np.asarray(np.abs(fft.rfft2(picture * fade)) ** 2, np.float64).ravel()
    waves = _waves(len(picture))
    noise = median(power[waves.noise]) / math.log(2.0)  # powers of noise spread exponentially
    if not noise > 0.0:
        return UNSEEN
    summed = np.bincount(waves.cell, power[waves.places] * waves.weight, minlength=waves.weights.size)
    over = summed.reshape(waves.weights.shape) / np.maximum(noise * waves.weights, 1e-300) - 1.0
    untaken = np.quantile(over, UNMOVED, axis=1)
    tells = np.concatenate([(untaken > LEAST_OVER_NOISE) & waves.filled, [False]])
    first = int(np.argmax(tells))
    rings = np.s_[first : first + int(np.argmin(tells[first:]))]
    if rings.stop - rings.start < LEAST_RINGS:
        return UNSEEN
    floor = np.maximum(1.0 / untaken[rings], FLOOR)[:, None]
    seen = _differences(np.clip(over[rings] / untaken[rings, None], floor, MOST))
    expected = _differences(np.maximum(_expected()[:, rings], floor))
    weight = 1.0 / (1.0 / waves.count[rings] + UNLIKE)
    gained, unlike = _gains(seen, expected, weight)
    if max(LENGTHS[_most(gained)[1]], LENGTHS[_most(gained[-1])[0]]) > MOST_UNPROVEN:
        gained[:, LENGTHS[:, None] > _longest(picture, fade > LOOKED_AT)] = -np.inf
    last, length, turn = _most(gained)
    gain = gained[last, length, turn]
    share = gain / max(float(unlike[last]), 1e-300)
    direction, notch = turn * math.pi / SECTORS, 1.0 / max(LENGTHS[length], 1e-9)
    if gain > LEAST_GAIN and share > LEAST_SHARE:
        return Smear(float(LENGTHS[length]), direction, bool(RINGS[rings.start + last + 1] > notch))
    least, turn = _most(gained[-1])
    doubted = gain > DOUBTED_GAIN and share > DOUBTED_SHARE
    most = max(LENGTHS[least], LENGTHS[length] if doubted else 0.0)
    return Smear(math.nan if most > MOST_UNPROVEN else float(LENGTHS[least]), turn * math.pi / SECTORS)


def _longest(picture: NDArray[np.float32], within: NDArray[np.bool_]) -> list[float]:
    """Return the longest motion along each direction, in px, that a picture's steepest edges leave possible.

    An even motion over L lets light change over a way h by at most h / L of all that it can be.
    """
    smooth = cv2.GaussianBlur(picture, (0, 0), GRAIN_PX)
    side = 2 * math.ceil(WAY_PX) + 1
    places = np.flatnonzero(cv2.erode(within.view(np.uint8), np.ones((side, side)), borderValue=0))
    if len(places) < STEEP:
        return [math.inf] * SECTORS
    here, longest = smooth.take(places), []
    for direction in np.arange(SECTORS) * math.pi / SECTORS:
        shift = np.array([[1.0, 0.0, WAY_PX * math.cos(direction)], [0.0, 1.0, WAY_PX * math.sin(direction)]])
        beyond = cv2.warpAffine(smooth, shift, smooth.shape, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        change = np.abs(beyond.take(places) - here)
        noise = MAD * median(change)
        steepest = float(np.partition(change, -STEEP)[-STEEP]) - MOST_NOISE * noise
        longest.append(WAY_PX * MOST_LIGHT / steepest if steepest > 0.0 else math.inf)
    return longest


def _most(gained: Floats) -> tuple[int, ...]:
    """Return the place of the largest value."""
    return tuple(int(i) for i in np.unravel_index(int(np.argmax(gained)), gained.shape))


def _differences(share: Floats) -> Floats:
    """Return the log power of each direction over the mean of its ring, (..., rings, sectors)."""
    told = np.log(share)
    return np.asarray(told - told.mean(axis=-1, keepdims=True))


def _gains(seen: Floats, expected: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Return by how much each motion lessens the squared deviations of the rings up to each, and these themselves.

    The first is (rings, lengths, directions), the second (rings,). What a direction has in all rings alike counts for
    nothing: a wire or a long edge adds it, motion takes the more the finer the waves are.
    """
    held = np.cumsum(weight) + 1.0 / ALIKE
    summed, foretold = (np.cumsum(weight[:, None] * part, axis=-2) for part in (seen, expected))
    gained = np.zeros((len(seen), len(expected), SECTORS))
    gained += np.cumsum(weight[:, None, None] * _likeness(seen, expected), axis=0)
    gained -= _likeness(summed, foretold) / held[:, None, None]
    return gained, np.cumsum(weight * (seen**2).sum(axis=1)) - (summed**2).sum(axis=1) / held


def _likeness(seen: Floats, expected: Floats) -> Floats:
    """Return 2 s e - e^2, summed over the directions, (rings, lengths, turns)."""
    turned = np.stack([np.roll(seen, -turn, axis=1) for turn in range(SECTORS)], axis=2)
    like = np.matmul(expected.transpose(1, 0, 2), turned)
    return np.asarray(2.0 * like - (expected**2).sum(axis=2).T[:, :, None])


@cache
def _waves(side: int) -> _Waves:
    """Return where the waves of a square picture belong."""
    down, across = np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :]
    frequency = np.hypot(down, across).ravel()
    places = np.flatnonzero((frequency >= RINGS[0]) & (frequency < RINGS[-1]))
    row, col = np.divmod(places, across.size)
    sector = np.rint(np.arctan2(down[row, 0], across[0, col]) / (math.pi / SECTORS)).astype(np.intp) % SECTORS
    cell = (np.searchsorted(RINGS, frequency[places], side="right") - 1) * SECTORS + sector
    shape = (len(RINGS) - 1, SECTORS)
    count = np.bincount(cell, minlength=math.prod(shape)).reshape(shape)
    weight = frequency[places] ** 3
    return _Waves(
        places=places, cell=cell, weight=weight, count=np.maximum(count.mean(axis=1), 1.0),
        weights=np.asarray(np.bincount(cell, weight, minlength=math.prod(shape)).reshape(shape), np.float64),
        filled=count.min(axis=1) >= LEAST_WAVES,
        noise=np.flatnonzero(frequency > NOISY)[::5],
    )  # fmt: skip


@cache
def _expected() -> Floats:
    """Return what motion to the right leaves of each cell's power, (lengths, rings, sectors)."""
    within = np.linspace(0.125, 0.875, 4)
    frequency = RINGS[:-1, None] * (RINGS[1:] / RINGS[:-1])[:, None] ** within
    half = SECTORS // 2 + 1
    along = np.cos((np.arange(half)[:, None] + [-0.25, 0.25]) * math.pi / SECTORS)
    waves = frequency[:, None, :, None] * along[None, :, None, :]
    left = (np.sinc(LENGTHS[:, None, None, None, None] * waves) ** 2).mean(axis=(3, 4))
    return np.asarray(np.concatenate([left, left[:, :, half - 2 : 0 : -1]], axis=2))
