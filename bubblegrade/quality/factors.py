"""One factor at a time: did the resin, the mould, the humidity or the operator make a difference.

Castings are compared group against group, with an interval for the difference and an allowance for the number of
comparisons. Castings of one group differ from each other by more than chance, so the spread within the groups sets the
interval and not the counts alone: that of all groups taken as one, or each group's own (B. L. Welch, Biometrika 34
(1947) 28; from memory), whichever leaves more open. One spread of all says too much where few castings of a group that
varies stand beside many of one that does not. A difference is no cause: what was changed along with it is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.grading.estimate import Estimate
from bubblegrade.quality.tails import chi_square_above

Levels = Mapping[str, Sequence[str | None]]  # by name of a factor, an entry a casting
Words = Literal["more", "less", "not distinguishable"]

ALIKE: Final = "not distinguishable"
COVERAGE: Final = 0.95  # of all intervals together
LEAST_EACH: Final = 2  # castings in a group: one has no spread
TOGETHER: Final = 0.9  # Cramer's V from which two factors were changed together, and cannot be told apart
PARTLY: Final = 0.3  # and from which one shows at the other, where chance makes it in less than `BY_CHANCE`
BY_CHANCE: Final = 0.05
# Share of pairs of castings, one of each group, in one order of time: they were cast one after the other.
APART: Final = 0.9
FREE_AT_MOST: Final = 1e6  # degrees of freedom: with more, Student's law is the normal one
NONE_BESIDE: Final[Levels] = {}


@dataclass(frozen=True)
class _Compared:
    """Groups before they are set against each other, by level; a variance is a spread times its `weight`."""

    level: dict[str, float]  # log rate, or mean
    weight: dict[str, float]  # one over voids, or castings
    own: dict[str, float]  # spread within each group
    spread: float  # within all groups, taken as one
    free: int  # its degrees of freedom
    least: float  # spread of chance alone: a group's own that is no larger is known

    def half(self, one: str, other: str, groups: dict[str, NDArray[np.intp]], tail: float) -> float:
        """Return how far the difference of two groups may be off on each side."""
        from scipy import special  # noqa: PLC0415 - it takes half a second, and charts, which come by, do without it

        parts = {group: self.own[group] * self.weight[group] for group in (one, other)}
        doubt = sum(part**2 / (len(groups[group]) - 1) for group, part in parts.items() if self.own[group] > self.least)
        free = min(sum(parts.values()) ** 2 / doubt, FREE_AT_MOST) if doubt > 0.0 else FREE_AT_MOST
        pooled = self.spread * (self.weight[one] + self.weight[other])
        each = ((self.free, pooled), (free, sum(parts.values())))
        return max(float(special.stdtrit(degrees, 1.0 - tail)) * math.sqrt(variance) for degrees, variance in each)


@dataclass(frozen=True, eq=False)
class _Coded:
    """A factor's known levels, sorted, and the place among them of each casting's own."""

    levels: list[str]
    places: NDArray[np.intp]  # (n,); -1 where it is unknown


@dataclass(frozen=True)
class Difference:
    """Two groups compared."""

    one: str
    other: str
    castings: tuple[int, int]
    effect: Estimate  # rates: ratio of one to other; values: difference one less other
    word: Words  # of one against other
    first: str | None  # the group that was cast before the other; None where they were cast by turns


@dataclass(frozen=True)
class Factor:
    """What a factor did, as far as it can be told."""

    name: str
    groups: tuple[tuple[str, int], ...]  # each level and its castings
    differences: tuple[Difference, ...]
    together_with: tuple[str, ...]  # what was changed along with it
    partly_with: tuple[str, ...]  # what often was
    too_few: bool  # fewer than two groups of two castings


def rate_differences(
    counts: ArrayLike, exposures: ArrayLike, factors: Levels, *, beside: Levels = NONE_BESIDE
) -> tuple[Factor, ...]:
    """Return for each factor the ratios of void rates between its levels.

    The variance of a log ratio is phi1 / N1 + phi2 / N2 for N voids in each group, with phi the dispersion within all
    groups of the factor, or within each, 1 at least (quasi-Poisson; McCullagh and Nelder, Generalized Linear Models,
    1989, section 6).

    Parameters
    ----------
    counts
        Voids of each casting, (n,).
    exposures
        Area or volume inspected of each, (n,).
    factors
        By name: the level of each casting, in the order they were cast; None where it is unknown, and left out.
    beside
        Further ones that are not compared, but may have been changed along.
    """
    voids, sizes = np.asarray(counts, np.float64), np.asarray(exposures, np.float64)

    def compared(groups: dict[str, NDArray[np.intp]]) -> _Compared:
        level, weight, misfit = {}, {}, {}
        for group, rows in groups.items():
            total = voids[rows].sum() + 0.5  # half a void: none found has a rate too
            expected = total / sizes[rows].sum() * sizes[rows]
            level[group], weight[group] = math.log(total / sizes[rows].sum()), 1.0 / total
            misfit[group] = float(np.sum((voids[rows] - expected) ** 2 / expected))
        return _within(groups, level, weight, misfit, least=1.0)

    return _factors(factors, beside, compared, logarithmic=True)


def value_differences(values: ArrayLike, factors: Levels, *, beside: Levels = NONE_BESIDE) -> tuple[Factor, ...]:
    """Return for each factor the differences of a mean, such as clarity, between its levels.

    One spread of all groups is that of the analysis of variance of one factor.
    """
    single = np.asarray(values, np.float64)

    def compared(groups: dict[str, NDArray[np.intp]]) -> _Compared:
        level = {group: float(single[rows].mean()) for group, rows in groups.items()}
        weight = {group: 1.0 / len(rows) for group, rows in groups.items()}
        squares = {group: float(np.sum((single[rows] - level[group]) ** 2)) for group, rows in groups.items()}
        return _within(groups, level, weight, squares, least=0.0)

    return _factors(factors, beside, compared, logarithmic=False)


def _within(
    groups: dict[str, NDArray[np.intp]],
    level: dict[str, float],
    weight: dict[str, float],
    squares: dict[str, float],
    *,
    least: float,
) -> _Compared:
    """Return groups with their spreads, `least` at least, from the sums of squares within each."""
    free = sum(len(rows) - 1 for rows in groups.values())
    own = {group: max(least, squares[group] / (len(rows) - 1)) for group, rows in groups.items()}
    return _Compared(level, weight, own, max(least, sum(squares.values()) / free), free, least)


def _factors(
    factors: Levels,
    beside: Levels,
    compared: Callable[[dict[str, NDArray[np.intp]]], _Compared],
    *,
    logarithmic: bool,
) -> tuple[Factor, ...]:
    """Return every factor with its differences, the intervals allowing for all comparisons together (Bonferroni)."""
    every = {name: _coded(levels) for name, levels in {**beside, **factors}.items()}
    usable = {name: _groups(every[name]) for name in factors}
    pairs = {name: list(combinations(sorted(groups), 2)) for name, groups in usable.items()}
    tail = (1.0 - COVERAGE) / 2 / max(1, sum(map(len, pairs.values())))
    found = []
    for name, groups in usable.items():
        differences = []
        if pairs[name]:
            within = compared(groups)
            for one, other in pairs[name]:
                difference = within.level[one] - within.level[other], within.half(one, other, groups, tail)
                differences.append(_difference(one, other, groups, difference, logarithmic=logarithmic))
        counted = tuple(sorted((str(level), len(rows)) for level, rows in _groups(every[name], least=1).items()))
        ties = {other: _tie(every[name], own) for other, own in every.items() if other != name}
        together, partly = (tuple(other for other, tie in ties.items() if tie == kind) for kind in ("wholly", "partly"))
        found.append(Factor(name, counted, tuple(differences), together, partly, too_few=not pairs[name]))
    return tuple(found)


def _difference(
    one: str, other: str, groups: dict[str, NDArray[np.intp]], found: tuple[float, float], *, logarithmic: bool
) -> Difference:
    off, half = found
    word: Words = "more" if off - half > 0.0 else "less" if off + half < 0.0 else ALIKE
    limits = (off, off - half, off + half)
    effect = Estimate(*(math.exp(limit) for limit in limits)) if logarithmic else Estimate(*limits)
    numbers = len(groups[one]), len(groups[other])
    before = int(np.searchsorted(groups[one], groups[other]).sum()) / math.prod(numbers)
    first = one if before >= APART else other if before <= 1.0 - APART else None
    return Difference(one, other, numbers, effect, word, first)


def _coded(levels: Sequence[str | None]) -> _Coded:
    known = sorted({level for level in levels if level is not None})
    place_of: dict[str | None, int] = {None: -1, **{level: place for place, level in enumerate(known)}}
    return _Coded(known, np.array([place_of[level] for level in levels], np.intp))


def _groups(coded: _Coded, *, least: int = LEAST_EACH) -> dict[str, NDArray[np.intp]]:
    """Return the castings of each known level that has enough of them."""
    ends = np.bincount(coded.places + 1, minlength=len(coded.levels) + 1).cumsum()
    rows = np.split(np.argsort(coded.places, kind="stable"), ends[:-1])[1:]
    return {level: own for level, own in zip(coded.levels, rows, strict=True) if len(own) >= least}


def _tie(one: _Coded, other: _Coded) -> Literal["wholly", "partly", "not"]:
    """Say whether two factors were changed together, by Cramer's V over the castings where both are known."""
    both = (one.places >= 0) & (other.places >= 0)
    rows, cols = (np.unique(each.places[both], return_inverse=True)[1] for each in (one, other))
    table = np.zeros((rows.max(initial=-1) + 1, cols.max(initial=-1) + 1))
    np.add.at(table, (rows, cols), 1.0)
    if min(table.shape) < 2:  # noqa: PLR2004
        return "not"
    expected = table.sum(axis=1, keepdims=True) * table.sum(axis=0, keepdims=True) / table.sum()
    square = float(np.sum((table - expected) ** 2 / expected))
    tie = math.sqrt(square / table.sum() / (min(table.shape) - 1))
    by_chance = chi_square_above(square, (table.shape[0] - 1) * (table.shape[1] - 1))
    return "wholly" if tie >= TOGETHER else "partly" if tie >= PARTLY and by_chance < BY_CHANCE else "not"
