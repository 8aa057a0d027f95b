"""Counts of castings that vary by themselves: by how much, and what chance makes of them."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.quality.tails import chances_up_to, enough_counts

Floats = NDArray[np.float64]

SHAPES: Final = (1e-2, 1e5)  # between which the shape is sought: from castings of bursts to those of chance alone
HALVINGS: Final = 30  # of the decades between: a shape to 1e-8 of itself
DIGITS: Final = 4  # of an expectation: those that agree so far share one law
AT_ONCE: Final = 1_000_000  # chances that are worked out at once, of several laws
END: Final = float(np.finfo(np.float64).eps)  # chances nearer to 0 or 1 are taken for this


@dataclass(frozen=True, eq=False)
class Placed:
    """Counts within the law of their expectations, an entry a casting."""

    low: Floats  # counts: the quantiles of `tail` and of 1 - `tail`
    high: Floats
    above: Floats  # standard deviations of a normal law with the tail of so many or more
    below: Floats  # the same with the tail of so many or fewer


def shape_of_neighbours(counts: Floats, expected: Floats) -> float:
    """Return the shape of the gamma law that makes neighbours differ as these do; infinite where chance alone does.

    It is the one at which the mean difference of two counts, sum 2 F (1 - F), is the mean one between neighbours: a
    step in the series hardly counts (after D. B. Laney, Quality Engineering 14 (2002) 531; from memory), and counts
    need not be near a normal law.

    Parameters
    ----------
    counts
        Voids of each casting, (n,), in the order they were cast.
    expected
        What all together let expect of each, (n,), above 0.
    """
    typical = float(expected.mean())
    low, high = (math.log(shape) for shape in SHAPES)
    for _ in range(HALVINGS):
        shape = math.exp((low + high) / 2)
        scores = (counts - expected) / np.sqrt(expected + expected**2 / shape)
        chances = chances_up_to(typical, shape, most=enough_counts(typical, shape))
        of_law = 2.0 * float(np.sum(chances * (1.0 - chances))) / math.sqrt(typical + typical**2 / shape)
        if float(np.abs(np.diff(scores)).mean()) > of_law:
            high = math.log(shape)
        else:
            low = math.log(shape)
    return math.inf if high == math.log(SHAPES[1]) else math.exp((low + high) / 2)


def placed(counts: Floats, expected: Floats, shape: float, *, tail: float) -> Placed:
    """Return limits and places of counts, (n,), whose expectations vary by a gamma law of this shape.

    Zones of a normal law would be left far more often than they say: where few voids are expected most castings lie
    below the mean, and a single void may lie 2 standard deviations above it.
    """
    digits = 10.0 ** (DIGITS - 1 - np.floor(np.log10(np.maximum(expected, END))))
    means, law = np.unique(np.round(expected * digits) / digits, return_inverse=True)
    found = Placed(*(np.empty_like(counts) for _ in range(4)))
    order, ends = np.argsort(law, kind="stable"), np.cumsum(np.bincount(law))
    largest = max(enough_counts(float(means[-1]), shape), math.ceil(counts.max()))
    together = max(1, AT_ONCE // largest)
    for first in range(0, len(means), together):
        some = means[first : first + together]
        rows = order[(ends[first - 1] if first else 0) : ends[first + len(some) - 1]]
        own, at = counts[rows], law[rows] - first
        chances = chances_up_to(some, shape, most=max(enough_counts(float(some[-1]), shape), math.ceil(own.max())))
        for limit, share in ((found.low, tail), (found.high, 1.0 - tail)):
            limit[rows] = np.count_nonzero(chances < share, axis=-1)[at]
        up_to = np.concatenate([np.zeros((len(some), 1)), chances], axis=-1)  # fewer than 0, than 1 and so on
        found.above[rows] = up_to[at, np.ceil(own).astype(np.intp)]
        found.below[rows] = 1.0 - up_to[at, np.floor(own).astype(np.intp) + 1]
    return replace(found, above=_deviations(found.above), below=_deviations(found.below))


def _deviations(shares: Floats) -> Floats:
    """Return how many standard deviations above its mean a normal law reaches these shares."""
    each, at = np.unique(np.clip(shares, END, 1.0 - END), return_inverse=True)
    normal = NormalDist()
    return np.array([normal.inv_cdf(share) for share in each.tolist()])[at]
