"""Quantiles of many values: one partial sort about one place, which numpy's own do not get by with."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def quantile(values: NDArray[np.floating[Any] | np.integer[Any]], share: float) -> float:
    """Return the value below which `share` of `values` lie, straight between neighbours; NaN of no values.

    >>> quantile(np.array([4.0, 1.0, 2.0, 3.0]), 0.5)
    2.5
    """
    if not values.size:
        return float("nan")
    place = share * (values.size - 1)
    low = int(place)
    ordered = np.partition(values, low, axis=None)
    here = float(ordered[low])
    return here if place == low else here + (float(ordered[low + 1 :].min()) - here) * (place - low)


def median(values: NDArray[np.floating[Any] | np.integer[Any]]) -> float:
    """Return the middle one of `values`, or the mean of the two; NaN of no values.

    >>> median(np.array([3.0, 1.0, 2.0]))
    2.0
    """
    return quantile(values, 0.5)
