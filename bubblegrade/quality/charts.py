"""Control charts over castings: is a change more than chance makes.

Counts of voids are charted per area or volume inspected (u-chart; c-chart where every casting is inspected alike),
clarity and fitted shrinkage as individuals. Castings of one recipe vary more than chance alone makes them; where the
counts show it, the limits are widened by the spread between neighbours, after Laney.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.quality.tails import chi_square_above, poisson_quantile

Floats = NDArray[np.float64]
Kind = Literal["c", "u", "individuals"]

SIGMAS: Final = 3.0
TAIL: Final = 0.00135  # of a normal distribution beyond 3 standard deviations, on one side
EXACT_BELOW: Final = 9.0  # expected voids under which c - 3 sqrt(c) is below 0, and exact Poisson limits are used
SPREAD_OF_TWO: Final = 1.128  # mean range of two normal values in standard deviations, NIST/SEMATECH e-Handbook 6.3.2
SURELY_SPREAD: Final = 0.01  # chance of a dispersion like this among equal castings: less, and they are not equal
# Beyond so many sigma, at least so many of so many in a row.
ZONES: Final = (
    (2.0, 2, 3, "2 of 3 in a row more than 2 sigma {}"),
    (1.0, 4, 5, "4 of 5 in a row more than 1 sigma {}"),
    (0.0, 8, 8, "8 in a row {} the centre"),
)
WESTERN: Final = "Western Electric, Statistical Quality Control Handbook, 1956"
NELSON: Final = "Nelson, Journal of Quality Technology 16, 1984"


@dataclass(frozen=True)
class Signal:
    """A place on a chart that chance hardly makes."""

    at: int  # the casting at which it is seen
    rule: str
    source: str


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart, one entry a casting in the order they were cast."""

    kind: Kind
    values: Floats
    centre: float
    low: Floats
    high: Floats
    scores: Floats  # distance from the centre in standard deviations
    exact: NDArray[np.bool_]  # where the limits are exact Poisson ones
    widened: float  # by how much the limits were widened for spread between castings; 1 where they were not
    dispersion_chance: float  # of a spread like this among castings that are equal; NaN for individuals
    signals: tuple[Signal, ...]


def count_chart(counts: ArrayLike, exposures: ArrayLike | None = None, *, base: slice | None = None) -> Chart:
    """Return the chart of void counts.

    Limits lie 3 standard deviations off, u +- 3 sqrt(u / n), NIST/SEMATECH e-Handbook 6.3.3.1, or where few voids are
    expected at the exact Poisson quantiles of the same tail. Where the counts are spread wider than chance, the limits
    are widened: D. B. Laney, Quality Engineering 14 (2002) 531 (from memory).

    Parameters
    ----------
    counts
        Voids of each casting, (n,).
    exposures
        Area or volume inspected of each, (n,), in any unit; None where all were inspected alike.
    base
        The castings that the centre and the limits come from; None for all.

    Raises
    ------
    ValueError
        There is no casting, a count is negative, or an exposure is not above 0.
    """
    voids = np.asarray(counts, np.float64)
    sizes = np.ones_like(voids) if exposures is None else np.asarray(exposures, np.float64)
    if not len(voids) or voids.min() < 0 or sizes.min() <= 0 or len(sizes) != len(voids):
        raise ValueError("a chart of counts needs castings, counts of 0 or more and exposures above 0")
    used = slice(None) if base is None else base
    rate = float(voids[used].sum() / sizes[used].sum())
    expected = rate * sizes
    scores = (voids - expected) / np.sqrt(np.maximum(expected, 1e-12))
    chance = _dispersion_chance(scores[used])
    widened = max(1.0, _spread_of_neighbours(scores[used])) if chance < SURELY_SPREAD else 1.0
    reach = SIGMAS * widened * np.sqrt(expected)
    exact = (expected < EXACT_BELOW) & (widened == 1.0)
    low, high = np.maximum(expected - reach, 0.0), expected + reach
    low[exact], high[exact] = (poisson_quantile(tail, expected[exact]) for tail in (TAIL, 1.0 - TAIL))
    beyond = (voids < low) | (voids > high)
    sides = scores / widened, -scores / widened
    few = (expected > 0.0) & (expected < EXACT_BELOW)
    for side, chances in zip(sides, _poisson_sides(voids[few] / widened**2, expected[few] / widened**2), strict=True):
        side[few] = chances
    return Chart(
        kind="c" if exposures is None else "u",
        values=voids / sizes,
        centre=rate,
        low=low / sizes,
        high=high / sizes,
        scores=scores / widened,
        exact=exact,
        widened=widened,
        dispersion_chance=chance,
        signals=_signals(scores, sides=sides, beyond=beyond),
    )


def individuals_chart(values: ArrayLike, *, base: slice | None = None) -> Chart:
    """Return the chart of single values, limits from the mean moving range, NIST/SEMATECH e-Handbook 6.3.2.2.

    Raises
    ------
    ValueError
        There are fewer than two values, or one is not a number.
    """
    single = np.asarray(values, np.float64)
    used = single[slice(None) if base is None else base]
    if len(used) < 2 or not np.isfinite(single).all():  # noqa: PLR2004
        raise ValueError("a chart of single values needs two numbers at least")
    centre = float(used[0] + (used - used[0]).mean())  # of equal values it is theirs to the last digit
    spread = float(np.abs(np.diff(used)).mean()) / SPREAD_OF_TWO
    low, high = centre - SIGMAS * spread, centre + SIGMAS * spread
    scores = (single - centre) / spread if spread > 0 else np.zeros_like(single)
    return Chart(
        kind="individuals",
        values=single,
        centre=centre,
        low=np.full_like(single, low),
        high=np.full_like(single, high),
        scores=scores,
        exact=np.zeros(len(single), bool),
        widened=1.0,
        dispersion_chance=math.nan,
        signals=_signals(scores, sides=(scores, -scores), beyond=(single < low) | (single > high)),
    )


def _dispersion_chance(scores: Floats) -> float:
    """Return the chance of a spread at least this wide among equal castings, by the index of dispersion."""
    if len(scores) < 2:  # noqa: PLR2004
        return 1.0
    return chi_square_above(float(np.sum(scores**2)), len(scores) - 1)


def _spread_of_neighbours(scores: Floats) -> float:
    return float(np.abs(np.diff(scores)).mean()) / SPREAD_OF_TWO


def _poisson_sides(counts: Floats, expected: Floats) -> tuple[Floats, Floats]:
    """Return how far above and how far below counts lie, in the standard deviations of a normal law of the same tails.

    Where few voids are expected most castings lie below the mean, and a single void may lie 2 standard deviations above
    it: zones of a normal law would be left far more often than they say. Counts need not be whole, since those of
    castings that vary by themselves are scaled down to a Poisson law.
    """
    normal = NormalDist()
    pairs = list(zip(counts.tolist(), expected.tolist(), strict=True))
    above = [chi_square_above(2.0 * mean, 2.0 * count) if count > 0.0 else 0.0 for count, mean in pairs]  # fewer
    below = [1.0 - chi_square_above(2.0 * mean, 2.0 * count + 2.0) for count, mean in pairs]  # more
    ends = np.finfo(np.float64).eps
    up, down = (
        np.array([normal.inv_cdf(min(max(chance, ends), 1.0 - ends)) for chance in side]) for side in (above, below)
    )
    return up, down


def _signals(scores: Floats, *, sides: tuple[Floats, Floats], beyond: NDArray[np.bool_]) -> tuple[Signal, ...]:
    """Return what stands out, in the order of the castings, by how far they lie above and below the centre."""
    found = [Signal(int(at), "beyond the limits", WESTERN) for at in np.flatnonzero(beyond)]
    for side, name in zip(sides, ("above", "below"), strict=True):
        for over, least, of, words in ZONES:
            found += _runs(side > over, of=of, least=least, rule=words.format(name), source=WESTERN)
        rising = np.concatenate([[False], np.diff(scores if name == "above" else -scores) > 0.0])
        way = "rising" if name == "above" else "falling"
        found += _runs(rising, of=5, least=5, rule=f"6 in a row {way}", source=NELSON)
    return tuple(sorted(found, key=lambda signal: signal.at))


def _runs(hit: NDArray[np.bool_], *, of: int, least: int, rule: str, source: str) -> list[Signal]:
    """Return the castings at which `least` of the last `of` hit, the last one among them; a run is told once."""
    if len(hit) < of:
        return []
    windows = np.lib.stride_tricks.sliding_window_view(hit, of).sum(axis=1) >= least
    told = np.concatenate([np.zeros(of - 1, bool), windows]) & hit
    begins = told & ~np.concatenate([[False], told[:-1]])
    return [Signal(int(at), rule, source) for at in np.flatnonzero(begins)]
