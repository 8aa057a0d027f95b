"""Counts of castings that vary by themselves: by how much, and what chance makes of them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.quality.tails import chances_up_to, enough_counts

Floats = NDArray[np.float64]

SHAPES: Final = (1e-2, 1e5)  # between which the shape is sought: from castings of bursts to those of chance alone
HALVINGS: Final = 30  # of the decades between: a shape to 1e-8 of itself
DIGITS: Final = 4  # of an expectation: those that agree so far share one law
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
    normal = NormalDist()
    digits = 10.0 ** (DIGITS - 1 - np.floor(np.log10(np.maximum(expected, END))))
    means, law = np.unique(np.round(expected * digits) / digits, return_inverse=True)
    found = Placed(*(np.empty_like(counts) for _ in range(4)))
    order = np.argsort(law, kind="stable")
    for mean, rows in zip(means.tolist(), np.split(order, np.cumsum(np.bincount(law))[:-1]), strict=True):
        own = counts[rows]
        chances = chances_up_to(mean, shape, most=max(enough_counts(mean, shape), math.ceil(own.max())))
        found.low[rows], found.high[rows] = np.searchsorted(chances, [tail, 1.0 - tail])
        fewer = np.concatenate([[0.0], chances])[np.ceil(own).astype(np.intp)]
        no_more = chances[np.floor(own).astype(np.intp)]
        for side, share in ((found.above, fewer), (found.below, 1.0 - no_more)):
            side[rows] = [normal.inv_cdf(each) for each in np.clip(share, END, 1.0 - END).tolist()]
    return found
