"""Control charts over castings: is a change more than chance makes.

Counts of voids are charted per area or volume inspected (u-chart; c-chart where every casting is inspected alike),
clarity and fitted shrinkage as individuals. Castings of one recipe vary more than chance alone makes them; where the
counts show it, limits and zones are of a law that varies as neighbours do.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.grading.score import clarity_score, lost_of_score
from bubblegrade.quality.tails import chi_square_above
from bubblegrade.quality.varying import placed, shape_of_neighbours

Floats = NDArray[np.float64]
Kind = Literal["c", "u", "individuals"]
Law = Literal["single", "equal", "varying"]  # of what is charted: single values, counts of chance alone or more

SIGMAS: Final = 3.0
TAIL: Final = 0.00135  # of a normal distribution beyond 3 standard deviations, on one side
EXACT_BELOW: Final = 9.0  # expected voids under which c - 3 sqrt(c) is below 0, and exact Poisson limits are used
SPREAD_OF_TWO: Final = 1.128  # mean range of two normal values in standard deviations, NIST/SEMATECH e-Handbook 6.3.2
SURELY_SPREAD: Final = 0.025  # chance of a dispersion like this among equal castings: less, and they are not equal
# Beyond so many sigma, at least so many of so many in a row.
ZONES: Final = (
    (2.0, 2, 3, "2 of 3 in a row more than 2 sigma {}"),
    (1.0, 4, 5, "4 of 5 in a row more than 1 sigma {}"),
    (0.0, 8, 8, "8 in a row {} the centre"),
)
# Share of later castings that some rule marks though nothing has changed, by the castings that limits come from;
# simulated with 30 castings after each base: normal single values; counts of equal castings, 8 to 200 expected; counts
# that vary besides by 10 to 50 % (gamma law), where the base has shown it. Of counts it is the most of those.
MARKED_BY_CHANCE: Final[dict[Law, dict[int, float]]] = {
    "single": {2: 0.27, 3: 0.17, 4: 0.13, 5: 0.10, 7: 0.075, 10: 0.053, 15: 0.042, 20: 0.032},
    "equal": {2: 0.089, 3: 0.058, 4: 0.046, 5: 0.044, 7: 0.033, 10: 0.027, 15: 0.022, 20: 0.021},
    "varying": {2: 0.11, 3: 0.13, 4: 0.117, 5: 0.097, 7: 0.079, 10: 0.061, 15: 0.043, 20: 0.035},
}
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
    exact: NDArray[np.bool_]  # where limits and zones are quantiles of the law of counts, and not multiples of sigma
    widened: float  # standard deviation of a casting over that of chance alone; 1 where they vary no more
    signals: tuple[Signal, ...]


def count_chart(counts: ArrayLike, exposures: ArrayLike | None = None, *, base: slice | None = None) -> Chart:
    """Return the chart of void counts.

    Limits lie 3 standard deviations off, u +- 3 sqrt(u / n), NIST/SEMATECH e-Handbook 6.3.3.1, or where few voids are
    expected at the exact Poisson quantiles of the same tail. Where the counts are spread wider than chance makes them,
    limits and zones are those of the negative binomial law that neighbours show (`varying`).

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
    plain = (voids - expected) / np.sqrt(np.maximum(expected, 1e-12))
    chance = _dispersion_chance(plain[used])
    shape = shape_of_neighbours(voids[used], expected[used]) if chance < SURELY_SPREAD else math.inf
    scores = plain / np.sqrt(1.0 + expected / shape)
    reach = SIGMAS * np.sqrt(expected)
    low, high = np.maximum(expected - reach, 0.0), expected + reach
    above, below = scores.copy(), -scores
    exact = (expected < EXACT_BELOW) | math.isfinite(shape)
    if exact.any():
        law = placed(voids[exact], expected[exact], shape, tail=TAIL)
        low[exact], high[exact], above[exact], below[exact] = law.low, law.high, law.above, law.below
    return Chart(
        kind="c" if exposures is None else "u",
        values=voids / sizes,
        centre=rate,
        low=low / sizes,
        high=high / sizes,
        scores=scores,
        exact=exact,
        widened=math.sqrt(1.0 + float(expected[used].mean()) / shape),
        signals=_signals(plain, sides=(above, below), beyond=(voids < low) | (voids > high)),
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
        signals=_signals(scores, sides=(scores, -scores), beyond=(single < low) | (single > high)),
    )


def clarity_chart(scores: ArrayLike, *, base: slice | None = None) -> Chart:
    """Return the chart of clarity, from 0 to 100, with the limits of single values of the root of the share lost.

    The share that voids take is a sum over a Poisson number of them: its standard deviation grows as the root of its
    mean, and the root's hardly does (M. S. Bartlett, Biometrics 3 (1947) 39; from memory). Clarity itself is skewed
    against 100, and chance alone would leave its limits and zones too often. Limits are drawn back onto the scale.

    Raises
    ------
    ValueError
        There are fewer than two scores, or one is no number.
    """
    values = np.asarray(scores, np.float64)
    roots = individuals_chart(-np.sqrt(lost_of_score(values)), base=base)
    centre, low, high = (
        clarity_score(float(np.clip(root, -1.0, 0.0)) ** 2, 0.0) for root in (roots.centre, roots.low[0], roots.high[0])
    )
    return replace(
        roots,
        values=values,
        centre=centre,
        low=np.full_like(values, low),
        high=np.full_like(values, high),
    )


def marked_by_chance(law: Law, base: int) -> float:
    """Return the share of later castings that a chart marks though nothing has changed, with limits from so many.

    >>> round(marked_by_chance("single", 5), 2), round(marked_by_chance("varying", 5), 3)
    (0.1, 0.097)
    """
    shares = MARKED_BY_CHANCE[law]
    return float(np.interp(base, list(shares), list(shares.values())))


def _dispersion_chance(scores: Floats) -> float:
    """Return the chance of a spread at least this wide among equal castings, by the index of dispersion."""
    if len(scores) < 2:  # noqa: PLR2004
        return 1.0
    return chi_square_above(float(np.sum(scores**2)), len(scores) - 1)


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
    up_to = np.concatenate([[0], hit.cumsum()])
    windows = up_to[of:] - up_to[:-of] >= least
    told = np.concatenate([np.zeros(of - 1, bool), windows]) & hit
    begins = told & ~np.concatenate([[False], told[:-1]])
    return [Signal(int(at), rule, source) for at in np.flatnonzero(begins)]
