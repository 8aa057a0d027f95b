"""Tails of two laws that charts need; a chart is waited for, and scipy.special takes half a second to import."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

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


def poisson_quantile(share: float, mean: Floats) -> Floats:
    """Return the least counts that a Poisson law of each mean does not exceed with the probability `share`, below 1.

    >>> poisson_quantile(0.5, np.array([0.1, 3.0])).tolist()
    [0.0, 3.0]
    """
    least, term = np.zeros_like(mean), np.exp(-mean)
    total = term.copy()
    while (short := total < share).any():
        least += short
        term *= mean / np.maximum(least, 1.0)
        total = np.where(short, total + term, total)
    return least


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
