"""Log-normal sizes of which only those above a limit are seen: their share, their moments and their information.

Everything is in ln d. A population has a log-median and a spread (the standard deviation of ln d); its clearance is
the number of spreads by which its median lies above the limit, so that the share Phi(clearance) of it is seen.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, ndtr

Floats = NDArray[np.float64]

LEAST_SEEN_SHARE: Final = 0.5  # below it a size is extrapolated: most of the voids were never seen
_LOG_ROOT_2_PI: Final = 0.5 * math.log(2.0 * math.pi)


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
