"""Log-normal sizes of which only those above a limit are seen: their moments, their information, one cup's fit.

Everything is in ln d. A population has a log-median and a spread (the standard deviation of ln d); its clearance is
the number of spreads by which its median lies above the limit, so that the share Phi(clearance) of it is seen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import log_ndtr, ndtr

Floats = NDArray[np.float64]

LEAST_SEEN_SHARE: Final = 0.5  # below it a size is extrapolated: most of the voids were never seen
_LOG_ROOT_2_PI: Final = 0.5 * math.log(2.0 * math.pi)
_LOWEST_CLEARANCE: Final = -5.0  # one void in three million seen: that is no estimate any more


@dataclass(frozen=True)
class Population:
    """One cup's log-normal population as fitted to the voids above the limit; NaN where no estimate exists."""

    count: int  # voids above the limit
    log_median: float
    spread: float  # standard deviation of ln d
    seen_share: float  # of all the voids, those above the limit
    log_median_err: float

    @property
    def exists(self) -> bool:
        """Whether there is an estimate: the voids thin out faster than an exponential's tail."""
        return math.isfinite(self.log_median)

    @property
    def extrapolated(self) -> bool:
        """Whether more than half of the voids lie below the limit."""
        return self.seen_share < LEAST_SEEN_SHARE

    @property
    def total(self) -> float:
        """How many voids there are, those below the limit included."""
        return self.count / self.seen_share


def hazard(clearance: ArrayLike) -> Floats:
    """Return phi(a) / Phi(a): by how many spreads the mean of those seen lies above the mean of all.

    >>> float(hazard(0.0).round(6))
    0.797885
    """
    a = np.asarray(clearance, np.float64)
    return np.asarray(np.exp(-0.5 * a * a - _LOG_ROOT_2_PI - log_ndtr(a)), np.float64)


def seen_share(log_median: ArrayLike, spread: ArrayLike, log_limit: ArrayLike) -> Floats:
    """Return the share of the voids above the limit; the arguments are broadcast.

    >>> float(seen_share(0.0, 0.5, -0.5).round(6))
    0.841345
    """
    middle, limit = np.asarray(log_median, np.float64), np.asarray(log_limit, np.float64)
    return np.asarray(ndtr((middle - limit) / np.asarray(spread, np.float64)), np.float64)


def seen_moments(clearance: ArrayLike) -> tuple[Floats, Floats]:
    """Return mean and variance of ln d above the limit, from the median on, in spreads: Q and 1 - Q (Q + a).

    >>> mean, variance = seen_moments(0.0)
    >>> float(mean.round(6)), float(variance.round(6))
    (0.797885, 0.36338)
    """
    a = np.asarray(clearance, np.float64)
    mean = hazard(a)
    return mean, np.asarray(1.0 - mean * (mean + a), np.float64)


def mean_power(power: float, log_median: ArrayLike, spread: ArrayLike, log_limit: ArrayLike) -> Floats:
    """Return the mean of d^power over the voids above the limit; the arguments are broadcast.

    E[d^k | d > L] = exp(k m + k^2 s^2 / 2) Phi(a + k s) / Phi(a).

    >>> float(mean_power(1.0, 0.0, 0.5, -0.5).round(6))
    1.256852
    """
    middle, s = np.asarray(log_median, np.float64), np.asarray(spread, np.float64)
    a = (middle - np.asarray(log_limit, np.float64)) / s
    log_mean = power * middle + 0.5 * (power * s) ** 2 + log_ndtr(a + power * s) - log_ndtr(a)
    return np.asarray(np.exp(log_mean), np.float64)


def void_information(clearance: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Return the Fisher information of one seen void on log-median and ln spread, both in spreads.

    The three parts of the symmetric matrix: log-median, mixed, ln spread; (1, 0, 2) where all are seen.

    >>> [float(part.round(9)) for part in void_information(30.0)]
    [1.0, 0.0, 2.0]
    """
    a = np.asarray(clearance, np.float64)
    h = hazard(a)
    k = h * (a + h)
    return np.asarray(1.0 - k), np.asarray(h * (1.0 + a * (a + h))), np.asarray(2.0 - a * h - a * a * k)


def fit_cup(count: int, mean: float, deviation: float, log_limit: float) -> Population:
    """Return the population behind `count` voids above the limit, from mean and population deviation of their ln d.

    The likelihood's maximum is where both moments agree; A. C. Cohen, Technometrics 1 (1959) 217. It exists where
    the deviation is below the mean's distance from the limit: at equality the voids thin out like an exponential,
    which any wide population far below the limit would give.

    >>> fit = fit_cup(100, mean=0.9, deviation=0.45, log_limit=0.0)
    >>> round(fit.log_median, 4), round(fit.spread, 4), round(fit.seen_share, 3), round(fit.log_median_err, 3)
    (0.8538, 0.4941, 0.958, 0.058)
    >>> fit_cup(100, mean=0.4, deviation=0.41, log_limit=0.0).exists
    False
    """
    above = mean - log_limit
    none = Population(count, math.nan, math.nan, math.nan, math.nan)
    if count < 2 or not 0.0 < deviation < above:  # noqa: PLR2004  # two voids at least have a spread
        return none
    wanted = (deviation / above) ** 2
    highest = 2.0 * above / deviation  # there the limit cuts next to nothing
    if not _squared_variation(_LOWEST_CLEARANCE) > wanted > _squared_variation(highest):
        return none
    clearance = float(brentq(lambda a: _squared_variation(a) - wanted, _LOWEST_CLEARANCE, highest, xtol=1e-13))
    spread = above / (clearance + float(hazard(clearance)))
    of_median, mixed, of_spread = (float(part) for part in void_information(clearance))
    err = spread / math.sqrt(count * (of_median - mixed**2 / of_spread))
    return Population(count, log_limit + clearance * spread, spread, float(ndtr(clearance)), err)


def _squared_variation(clearance: float) -> float:
    """Return variance over squared mean of ln d above the limit; it falls from 1 to 0 as the clearance grows."""
    mean, variance = seen_moments(clearance)
    return float(variance / (mean + clearance) ** 2)
