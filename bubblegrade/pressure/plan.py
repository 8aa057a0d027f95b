"""How many cups and mixes tell two settings apart.

The ratio of two settings is as sure as their cups are alike: cups differ by their voids' chance, by stirring and
pouring, and by the mix they come from. More voids in a cup help only against the first. One mix poured over both
pressures takes the last away, and three such mixes show how far it goes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import stdtrit

from bubblegrade.errors import InputError
from bubblegrade.grading.counting import CONFIDENCE
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.population import seen_share, void_information

PRECISION: Final = 0.05  # share of the ratio of two settings; two settings 15 psi apart differ by 7 to 20 %
CHANCE: Final = 0.90  # that a difference of the planned size is then found
LEAST_MIXES: Final = 3  # of a blocked plan: with fewer, one odd mix cannot be told from the rule
MOST_CUPS: Final = 1000  # per setting; beyond it nobody casts


@dataclass(frozen=True)
class Noise:
    """By how much ln d of one cup's median is off, in standard deviations."""

    void_err: float  # from the chance of its voids; see `void_err`
    cup_spread: float  # from cup to cup of one mix
    mix_spread: float = 0.0  # from mix to mix

    def __post_init__(self) -> None:
        if min(self.void_err, self.cup_spread, self.mix_spread) < 0.0:
            raise AssertionError(f"a standard deviation is never below 0: {self}")


@dataclass(frozen=True)
class Plan:
    """Cups to pour; each mix fills the same number of cups at every setting, or only one cup."""

    cups_per_setting: int
    mixes: int  # altogether
    blocked: bool  # each mix is poured over both settings
    log_half_width: float  # half the 95 % interval that ln of the ratio of two settings then has

    @property
    def share(self) -> float:
        """Half the interval as a share of the ratio."""
        return math.expm1(self.log_half_width)


def void_err(
    *, median: float, smallest: float, spread: float, log_squeezes: tuple[float, float], voids: float
) -> float:
    """Return the standard error of one cup's log-median from the chance of its voids, for a ratio of two settings.

    Parameters
    ----------
    median, smallest
        Median diameter at open air and smallest countable diameter, in one unit.
    spread
        Standard deviation of ln d.
    log_squeezes
        The u of the two settings; Boyle's law is taken to hold between them.
    voids
        In a cup, those below the limit included.

    Where all voids are seen it is the spread over the root of their number:

    >>> round(void_err(median=1.0, smallest=1e-6, spread=0.5, log_squeezes=(0.0, 1.6), voids=100.0), 9)
    0.05
    """
    clearance = (math.log(median / smallest) - BOYLE_EXPONENT * np.array(log_squeezes)) / spread
    seen = voids * seen_share(clearance, 1.0, 0.0)
    known = np.zeros((3, 3))
    for i, (of_median, mixed, of_spread) in enumerate(zip(*void_information(clearance), strict=True)):
        known[i, i] += seen[i] * of_median / spread**2
        known[i, 2] += seen[i] * mixed / spread
        known[2, i] = known[i, 2]
        known[2, 2] += seen[i] * of_spread
    contrast = np.array([1.0, -1.0, 0.0])
    return math.sqrt(float(contrast @ np.linalg.solve(known, contrast)) / 2.0)


def plan_precision(noise: Noise, *, precision: float = PRECISION, mixes: int | None = None) -> Plan:
    """Return the fewest cups whose ratio of two settings is known to a share `precision` at 95 %.

    With `mixes`, that many are poured over both settings; without, each cup comes from a mix of its own.

    >>> plan_precision(Noise(void_err=0.04, cup_spread=0.05)).cups_per_setting
    15

    Raises
    ------
    InputError
        More than 1000 cups a setting would be needed, or fewer than 3 mixes are to be poured over both.
    """
    return _fewest(noise, mixes, lambda freedom: float(stdtrit(freedom, 0.5 * (1.0 + CONFIDENCE))), precision)


def plan_difference(noise: Noise, *, log_squeezes: tuple[float, float], mixes: int | None = None) -> Plan:
    """Return the fewest cups that tell two settings apart with the chance CHANCE, if Boyle's law holds between them.

    Raises
    ------
    InputError
        The settings are the same, or as `plan_precision`.

    >>> plan_difference(Noise(void_err=0.04, cup_spread=0.05), log_squeezes=(1.1, 1.6)).cups_per_setting
    5
    """
    low, high = log_squeezes
    if low == high:
        raise InputError(f"both settings squeeze voids {math.exp(low):.3g} times: give two different pressures")
    difference = math.expm1(BOYLE_EXPONENT * abs(high - low))

    def reach(freedom: float) -> float:
        return float(stdtrit(freedom, 0.5 * (1.0 + CONFIDENCE)) + stdtrit(freedom, CHANCE))

    return _fewest(noise, mixes, reach, difference)


def _fewest(noise: Noise, mixes: int | None, reach: Callable[[float], float], share: float) -> Plan:
    """Return the smallest plan in which `reach` standard errors are at most `share` of the ratio."""
    if mixes is not None and mixes < LEAST_MIXES:
        raise InputError(f"{mixes} mixes are too few to pour over both settings: plan {LEAST_MIXES} at least")
    step = mixes or 1
    first = step if mixes else 2
    for cups in range(first, MOST_CUPS + 1, step):
        freedom = 2 * cups - 2 if mixes is None else 2 * cups - mixes - 1
        err = _ratio_err(noise, cups, blocked=mixes is not None)
        if reach(freedom) * err <= math.log1p(share):
            half = float(stdtrit(freedom, 0.5 * (1.0 + CONFIDENCE))) * err
            return Plan(cups, 2 * cups if mixes is None else mixes, mixes is not None, half)
    raise InputError(
        f"more than {MOST_CUPS} cups a setting would be needed for {share:.1%}: "
        "take settings further apart, or make the cups more alike"
    )


def _ratio_err(noise: Noise, cups: int, *, blocked: bool) -> float:
    """Return the standard error of ln of the ratio of two settings."""
    mix = 0.0 if blocked else noise.mix_spread
    return math.sqrt(2.0 * (noise.void_err**2 + noise.cup_spread**2 + mix**2) / cups)
