"""Tails of the laws that charts need; a chart is waited for, and scipy.special takes half a second to import."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

NO_MORE: Final = 1e-15  # share that a further term adds, from which it adds nothing


def chi_square_above(value: float, free: float) -> float:
    """Return the chance that chi-square of `free` degrees of freedom exceeds a value: Q(free / 2, value / 2).

    Of two degrees it is the exponential:

    >>> math.isclose(chi_square_above(3.0, 2), math.exp(-1.5))
    True
    """
    a, x = free / 2.0, value / 2.0
    if x <= 0.0:
        return 1.0
    return 1.0 - _below(a, x) if x < a + 1.0 else _above(a, x)


def chances_up_to(means: ArrayLike, shape: float, *, most: int) -> Floats:
    """Return the chance of 0 voids at most, of 1 at most and so on to `most` at most, (..., most + 1) for means (...).

    Counts of castings whose expectation varies from one to the next by a gamma law of this shape follow the negative
    binomial law, of variance mean + mean^2 / shape (M. Greenwood and G. U. Yule, Journal of the Royal Statistical
    Society 83 (1920) 255; from memory); an infinite shape is the law of Poisson.

    >>> chances_up_to(1.0, 1.0, most=2).tolist()
    [0.5, 0.75, 0.875]
    """
    mean, before = np.asarray(means, np.float64)[..., np.newaxis], np.arange(most, dtype=np.float64)
    if math.isinf(shape):
        none, steps = -mean, mean / (before + 1.0)
    else:
        none, steps = -shape * np.log1p(mean / shape), (before + shape) / (before + 1.0) * (mean / (mean + shape))
    with np.errstate(divide="ignore"):  # of a mean of 0
        logs = np.concatenate([none, np.log(steps)], axis=-1).cumsum(axis=-1)
    return np.asarray(np.minimum(np.exp(logs).cumsum(axis=-1), 1.0))


def enough_counts(mean: float, shape: float) -> int:
    """Return a count that the law of `chances_up_to` as good as never exceeds."""
    each = 1.0 + mean / shape  # variance over mean
    return math.ceil(mean + 12.0 * math.sqrt(mean * each) + 30.0 * each)


def _below(a: float, x: float) -> float:
    """Return the regularised incomplete gamma function P(a, x) by its series, NIST DLMF 8.7.1; quick for x < a + 1."""
    term = total = 1.0 / a
    above = a
    while term > NO_MORE * total:
        above += 1.0
        term *= x / above
        total += term
    return total * _front(a, x)


def _above(a: float, x: float) -> float:
    """Return Q(a, x) = 1 - P(a, x) by its continued fraction, NIST DLMF 8.9.2, from the front; quick for x > a + 1."""
    before = x + 1.0 - a
    c, d = math.inf, 1.0 / before
    value, step, factor = d, 0.0, 0.0
    while abs(factor - 1.0) > NO_MORE:
        step += 1.0
        part = step * (a - step)
        before += 2.0
        d = 1.0 / (part * d + before)
        c = before + part / c
        factor = c * d
        value *= factor
    return value * _front(a, x)


def _front(a: float, x: float) -> float:
    return math.exp(a * math.log(x) - x - math.lgamma(a))
