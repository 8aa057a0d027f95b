"""Size distributions after ISO 9276-1: quantiles, spread and the histogram by number and by volume.

Diameters may be in any unit; a void's volume is taken as that of a sphere of its diameter. Functions on rows take
arrays of shape (rows, n) and give one answer a row, so that many resamples go through at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.grading.counting import poisson_interval

Floats = NDArray[np.floating[Any]]

QUANTILES: Final = (0.1, 0.5, 0.9)
STEPS_PER_DECADE: Final = 10  # Renard series R10, ISO 3: classes 10^(k/10)


def quantile_rows(rows: Floats, masses: Floats, shares: Floats) -> Floats:
    """Return the diameters below which `shares` of each row's masses lie, shape (rows, k); NaN of no diameters.

    Each row is sorted, and `masses` have the shape of `rows`. Each void's own part is taken as spread evenly about its
    diameter: the distribution at a void is what lies below it and half of its own, straight between voids.

    >>> quantile_rows(np.array([[1.0, 2.0, 3.0]]), np.ones((1, 3)), np.array([0.5])).tolist()
    [[2.0]]
    """
    last = rows.shape[-1] - 1
    if last < 0:
        return np.full((rows.shape[0], len(shares)), np.nan)
    heights = np.cumsum(masses, axis=-1)
    totals = heights[:, -1:].copy()
    heights -= masses / 2.0
    return _between(rows, heights, totals * shares)


def geometric_deviations(rows: Floats, weights: Floats) -> Floats:
    """Return the geometric standard deviation of each row, with n - 1 in the variance; NaN of fewer than two."""
    count = rows.shape[-1]
    if count < 2:  # noqa: PLR2004 - a spread takes two
        return np.full(rows.shape[0], np.nan)
    logs = np.log(rows)
    total = np.sum(np.broadcast_to(weights, rows.shape), axis=-1, keepdims=True)
    centred = logs - np.sum(weights * logs, axis=-1, keepdims=True) / total
    variance = np.sum(weights * centred**2, axis=-1) / total[:, 0] * count / (count - 1)
    return np.asarray(np.exp(np.sqrt(variance)))


@dataclass(frozen=True, eq=False)
class Histogram:
    """A size distribution in classes of equal width in the logarithm, one row a class, smallest first.

    A class holds lower <= d < upper. All columns have the same length, 0 where there was no diameter.
    """

    lower: Floats
    upper: Floats
    count: NDArray[np.int64]
    count_low: Floats  # exact Poisson limits of the count, 95 %
    count_high: Floats
    number_share: Floats  # of the weighted number, [0, 1]
    volume_share: Floats  # of the weighted volume, [0, 1]


def size_histogram(diameters: ArrayLike, *, weights: ArrayLike | None = None) -> Histogram:
    """Return the histogram of `diameters`, all above 0, in classes with limits at 10^(k/10).

    >>> size_histogram([1.1, 1.2, 9.0]).count.tolist()
    [2, 0, 0, 0, 0, 0, 0, 0, 0, 1]
    """
    sizes = np.asarray(diameters, np.float64)
    masses = np.ones(sizes.shape) if weights is None else np.asarray(weights, np.float64)
    edges = _edges(sizes)
    classes = np.searchsorted(edges, sizes, side="right") - 1
    rows = max(len(edges) - 1, 0)
    count = np.bincount(classes, minlength=rows).astype(np.int64)
    low, high = poisson_interval(count)
    number = np.bincount(classes, masses, minlength=rows)
    volume = np.bincount(classes, masses * sizes**3, minlength=rows)
    return Histogram(edges[:-1], edges[1:], count, low, high, _shares(number), _shares(volume))


def _edges(sizes: Floats) -> Floats:
    """Return the class limits that hold all `sizes`, ascending, shape (classes + 1,); empty of none."""
    if not sizes.size:
        return np.empty(0)
    first, last = np.floor(STEPS_PER_DECADE * np.log10([sizes.min(), sizes.max()])).astype(int)
    edges = 10.0 ** (np.arange(first - 1, last + 3) / STEPS_PER_DECADE)  # one to spare on each side, for rounding
    begin = int(np.searchsorted(edges, sizes.min(), side="right")) - 1
    end = int(np.searchsorted(edges, sizes.max(), side="right")) + 1
    return np.asarray(edges[begin:end], np.float64)


def _shares(masses: NDArray[Any]) -> Floats:
    """Return each mass over their sum."""
    return np.asarray(masses / max(np.sum(masses), np.finfo(float).tiny), np.float64)


def _between(rows: Floats, heights: Floats, targets: Floats) -> Floats:
    """Return where each row's rising `heights` reach its targets, shape (rows, k), held at the row's ends."""
    last = rows.shape[-1] - 1
    below_each = [np.count_nonzero(heights < target[:, np.newaxis], axis=-1) for target in targets.T]
    after = np.stack(below_each, axis=-1)
    above, below = np.minimum(after, last), np.maximum(after - 1, 0)
    start, stop = np.take_along_axis(heights, below, -1), np.take_along_axis(heights, above, -1)
    part = np.divide(targets - start, stop - start, out=np.zeros_like(start), where=stop > start)
    size_below, size_above = np.take_along_axis(rows, below, -1), np.take_along_axis(rows, above, -1)
    return size_below + np.clip(part, 0.0, 1.0) * (size_above - size_below)
