"""Counts: their exact limits, how many voids carry a sum, what the frame hides, and how many voids are enough."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaincinv

CONFIDENCE: Final = 0.95
RULE_OF_THREE: Final = -math.log(1.0 - CONFIDENCE)  # 2.9957: upper limit of the mean of a count that came out as 0
NORMAL_95: Final = 1.96  # the factor u of ISO 13322-1's formula
VOLUME_SHIFT: Final = 3.0  # D50 by volume of lognormal sizes is their number median times exp(3 s^2), Hatch and Choate


def poisson_interval(counts: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the exact lower and upper 95 % limits of the means behind `counts`, each of the shape of `counts`.

    F. Garwood, Biometrika 28 (1936) 437. A count may be a broken number, as an effective count is.

    >>> low, high = poisson_interval([0, 10])
    >>> low.round(3).tolist(), high.round(3).tolist()
    ([0.0, 4.795], [3.689, 18.39])
    """
    seen = np.asarray(counts, np.float64)
    if np.any(seen < 0.0):
        raise AssertionError(f"a count is never below 0: {seen.min()}")
    tail = (1.0 - CONFIDENCE) / 2.0
    low = np.where(seen > 0.0, gammaincinv(np.maximum(seen, 1e-9), tail), 0.0)
    return low, np.asarray(gammaincinv(seen + 1.0, 1.0 - tail), np.float64)


def effective_count(parts: ArrayLike) -> float:
    """Return how many equal parts would make a sum as uncertain as `parts` do: (sum a)^2 / sum a^2; 0 of none.

    A sum over a Poisson number of parts has the relative variance sum a^2 / (sum a)^2, so a few large parts count
    for little more than their own number.

    >>> effective_count([2.0, 2.0, 2.0])
    3.0
    """
    each = np.asarray(parts, np.float64)
    squares = float(np.sum(each**2))
    return float(np.sum(each)) ** 2 / squares if squares > 0.0 else 0.0


def total_interval(total: float, *, effective: float, smallest: float, unseen: float = 1.0) -> tuple[float, float]:
    """Return the 95 % limits of a total that `effective` equal parts carry, when chance alone sets their number.

    Garwood's limits of the effective count, scaled to the total, the upper one times `unseen`: what a sample that lacks
    the largest parts may lack of the sum (`lognormal.unseen_factor`). Of no part at all, by the rule of three, up to 3
    of the `smallest` countable size could be expected; the upper limit is never below that.

    >>> low, high = total_interval(0.0, effective=0.0, smallest=0.1)
    >>> low, round(high, 3)
    (0.0, 0.3)
    """
    least = RULE_OF_THREE * smallest
    if effective <= 0.0:
        return 0.0, total + least
    low, high = poisson_interval(effective)
    return total * float(low) / effective, max(unseen * total * float(high) / effective, least)


def frame_weights(feret_x: ArrayLike, feret_y: ArrayLike, *, width: float, height: float) -> NDArray[np.float64]:
    """Return the weight of each void that lies wholly inside a rectangular frame, all lengths in one unit.

    The larger a void, the likelier the frame cuts it: 1 / P with P = (width - x)(height - y) / (width height), after
    Miles and Lantuejoul and ISO 13322-1. Arguments and result have the shape (n,); a void as large as the frame has
    NaN, for it cannot be told how many of its kind there are.

    >>> frame_weights([100.0], [100.0], width=1000.0, height=800.0).round(6).tolist()
    [1.269841]
    """
    across = 1.0 - np.asarray(feret_x, np.float64) / width
    along = 1.0 - np.asarray(feret_y, np.float64) / height
    chance = np.where((across > 0.0) & (along > 0.0), across * along, np.nan)
    return np.asarray(1.0 / chance, np.float64)


def least_count(gsd: float, *, precision: float) -> int:
    """Return how many voids give D50 by volume to within `precision` (a share) at 95 % confidence.

    For lognormal sizes of geometric standard deviation `gsd`: n = (u / precision)^2 s^2 (1 + 18 s^2), s = ln gsd; after
    H. Masuda and K. Gotoh, Adv. Powder Technol. 10 (1999) 159. ISO 13322-1 tabulates 36 times as many: those that give
    the moment behind it, of order 6, so well.

    >>> least_count(1.5, precision=0.05)
    1001
    """
    return math.ceil((relative_limit(gsd, count=1) / precision) ** 2)


def relative_limit(gsd: float, *, count: int) -> float:
    """Return the share to which `count` voids fix D50 by volume at 95 % confidence; see `least_count`."""
    spread = math.log(gsd)
    return NORMAL_95 * spread * math.sqrt((1.0 + 2.0 * VOLUME_SHIFT**2 * spread**2) / count)
