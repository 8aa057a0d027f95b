"""A check on the exponent that needs no distribution: only that all cups hold the same population, shifted.

For a trial exponent b every void is put back to open air, ln d + b u. What a cup could have shown there begins at its
limit + b u, so all cups are cut at the highest of those. With the right exponent the means of what is left do not
depend on pressure. Where voids are few the interval has no end, which is what the data then say.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import stdtrit

from bubblegrade.grading.counting import CONFIDENCE
from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.cups import Floats, Trial
from bubblegrade.pressure.replicas import Basis, Grouping
from bubblegrade.roots import root

LOWEST_EXPONENT: Final = -0.5
HIGHEST_EXPONENT: Final = 1.5  # from half again as large at twice the pressure to 4.5 times Boyle's exponent
EXPONENT_STEP: Final = 0.005  # a tenth of what 15 cups can tell
_NO_EFFECT: Final = 0.0  # the root is looked for first between no shrinking at all
_TRIPLE: Final = 1.0  # and three times Boyle's exponent
_TIE: Final = 1e-12  # a void on the cut is in


@dataclass(frozen=True)
class FreeCheck:
    """The exponent without a distribution; a limit is infinite where the data set none."""

    exponent: Estimate

    @property
    def open_ended(self) -> bool:
        """Whether the data leave a side open, or say nothing at all."""
        return not (math.isfinite(self.exponent.low) and math.isfinite(self.exponent.high))

    def excludes(self, exponent: float) -> bool:
        """Whether the interval leaves `exponent` out."""
        return not self.exponent.low <= exponent <= self.exponent.high


def free_check(trial: Trial, grouping: Grouping) -> FreeCheck:
    """Return the exponent with which the cups' means do not depend on pressure, and all that the t-test allows.

    The interval reaches from the lowest to the highest trial exponent, 0.005 apart from -0.5 to 1.5, at which the
    slope of the cups' means on u is within Student's limits. It is open at a side where none beyond is refused before
    a cup has no void left to judge by. Where mixes have levels, means and u count from those of the mix.
    """
    exponents = np.round(np.arange(LOWEST_EXPONENT, HIGHEST_EXPONENT + EXPONENT_STEP / 2.0, EXPONENT_STEP), 3)
    slope, err, freedom = _slopes(trial, grouping, exponents)
    told = freedom == len(_units(grouping)[0]) - grouping.levels - 1.0
    if not told.any() or freedom.max() < 1.0:
        return FreeCheck(Estimate(math.nan, -math.inf, math.inf))
    exponents, slope, err = exponents[told], slope[told], err[told]
    reach = float(stdtrit(freedom.max(), 0.5 * (1.0 + CONFIDENCE))) * err
    excess = np.abs(slope) - reach
    within = np.flatnonzero(excess <= max(0.0, excess.min()))  # the least refused, if all are
    low = float(exponents[within[0]]) if within[0] > 0 else -math.inf
    high = float(exponents[within[-1]]) if within[-1] < len(exponents) - 1 else math.inf
    return FreeCheck(Estimate(_root(trial, grouping, exponents, slope), low, high))


def _root(trial: Trial, grouping: Grouping, exponents: Floats, slope: Floats) -> float:
    """Return the exponent of no slope; NaN where the slope never changes its sign."""

    def at(exponent: float) -> float:
        return float(_slopes(trial, grouping, np.array([exponent]))[0][0])

    if exponents[0] <= _NO_EFFECT < _TRIPLE <= exponents[-1] and at(_NO_EFFECT) < 0.0 < at(_TRIPLE):
        return root(at, _NO_EFFECT, _TRIPLE, off=1e-7)
    rising = np.flatnonzero((slope[:-1] <= 0.0) & (slope[1:] > 0.0))
    return root(at, exponents[rising[0]], exponents[rising[0] + 1], off=1e-7) if rising.size else math.nan


def _slopes(trial: Trial, grouping: Grouping, exponents: Floats) -> tuple[Floats, Floats, Floats]:
    """Return the slope of the cups' means on u at each exponent, its standard error and its degrees of freedom."""
    together, member = _units(grouping)
    means = together @ _means(trial, exponents)
    seen = np.isfinite(means)
    means = np.where(seen, means, 0.0)
    squeeze = np.broadcast_to((together @ trial.log_squeeze)[:, np.newaxis], means.shape)
    across, up = _from_mix(squeeze, seen, member), _from_mix(means, seen, member)
    width = np.sum(across**2, axis=0)
    usable = width > 0.0
    safe = np.where(usable, width, 1.0)
    slope = np.sum(across * up, axis=0) / safe
    levels = np.count_nonzero(member.T @ seen, axis=0)
    freedom = np.where(usable, seen.sum(axis=0) - levels - 1.0, 0.0)
    rest = np.sum((up - slope * across) ** 2, axis=0)
    return slope, np.sqrt(rest / np.maximum(freedom, 1.0) / safe), freedom


def _units(grouping: Grouping) -> tuple[Floats, Floats]:
    """Return what averages cups to the units of the test, (units, cups), and each unit's level, (units, levels).

    The units are cups, or whole mixes where those are left out as one.
    """
    levels = np.eye(grouping.levels)[grouping.mixes]
    if grouping.basis is not Basis.MIXES:
        return np.eye(len(levels)), levels
    member = np.asarray(grouping.groups == np.unique(grouping.groups)[:, np.newaxis], np.float64)
    together = member / member.sum(axis=1, keepdims=True)
    return together, np.ones((len(together), 1))


def _means(trial: Trial, exponents: Floats) -> Floats:
    """Return the mean of ln d + b u above the common cut, (cups, exponents); NaN for a cup with nothing there."""
    cuts = np.max(trial.log_limit[:, np.newaxis] + exponents * trial.log_squeeze[:, np.newaxis], axis=0)
    means = np.empty((len(trial.cups), exponents.size))
    for row, values, squeeze in zip(means, trial.log_diameters, trial.log_squeeze, strict=True):
        first = np.searchsorted(values, cuts - exponents * squeeze - _TIE)
        above = np.append(np.cumsum(values[::-1])[::-1], 0.0)[first]
        count = values.size - first
        row[:] = np.where(count > 0, above / np.maximum(count, 1) + exponents * squeeze, np.nan)
    return means


def _from_mix(values: Floats, seen: Floats, member: Floats) -> Floats:
    """Return each value's distance from the mean of its mix, 0 where nothing was seen; (cups, exponents)."""
    sums, counts = member.T @ (values * seen), member.T @ seen
    return np.where(seen, values - member @ (sums / np.maximum(counts, 1.0)), 0.0)
