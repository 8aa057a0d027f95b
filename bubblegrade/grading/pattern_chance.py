"""Chance: voids scattered at random over a ground, and how often they stand out as much as those that were found."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree

from bubblegrade.grading.pattern_ground import Ground

Floats = NDArray[np.floating[Any]]
Numbers = NDArray[np.intp]

HIDDEN_WITHIN: Final = 0.5  # of the larger's diameter between two centres: nearer, and the smaller is not seen
MOST_ROUNDS: Final = 40  # of moving hidden voids elsewhere; where they still do not fit, they stay
ENOUGH: Final = 15  # simulated patterns that stand out as much: then p is told well enough, and no more are drawn
LARGEST_BLOCK: Final = 25_000  # voids scattered at once, to bound the memory
FIRST_BLOCK: Final = 125  # patterns behind every range, at the least


class Scatter:
    """Patterns of equally many voids each: `points`, (patterns, voids, 2) x, y in px."""

    def __init__(self, points: Floats) -> None:
        self.points = np.asarray(points, np.float64)

    @property
    def shape(self) -> tuple[int, int]:
        """Patterns, voids."""
        return self.points.shape[0], self.points.shape[1]

    @cached_property
    def stacked(self) -> Floats:
        """All points, (patterns x voids, 3), each pattern on a level of its own, far from the others."""
        patterns, voids = self.shape
        far = 4.0 * (float(np.ptp(self.points)) + 1.0) if self.points.size else 1.0
        level = np.repeat(np.arange(patterns) * far, voids)
        return np.column_stack([self.points.reshape(-1, 2), level])

    @cached_property
    def tree(self) -> Any:
        """A search tree of the stacked points."""
        return cKDTree(self.stacked, balanced_tree=False, compact_nodes=False)


Score = Callable[[Scatter], Floats]  # (patterns,): the larger, the less like chance


@dataclass(frozen=True)
class Chance:
    """A score beside those of random placement."""

    value: float
    expected: float  # mean under random placement
    spread: float  # standard deviation under random placement
    low: float  # limits of 95 % of random patterns
    high: float
    p: float
    simulations: int  # random patterns that it was compared with

    def mirrored(self) -> Chance:
        """Return the same for the score of the other sign."""
        return replace(self, value=-self.value, expected=-self.expected, low=-self.high, high=-self.low)


def scattered(ground: Ground, diameters_px: Floats, patterns: int, random: np.random.Generator) -> Scatter:
    """Return voids of these diameters, (voids,), at random over a ground.

    A void whose centre lies within half of a larger one's diameter of its centre would not be seen, and is placed anew:
    otherwise seen voids, which never lie so near, would look evenly spaced.
    """
    shape = (patterns, len(diameters_px))
    points = _thrown(ground, shape, random).reshape(-1, 2)
    moved = np.arange(len(points))
    for _ in range(MOST_ROUNDS):
        moved = _hidden(Scatter(points.reshape(*shape, 2)), np.tile(diameters_px, patterns), moved)
        if not len(moved):
            break
        points[moved] = _thrown(ground, moved.shape, random)
    return Scatter(points.reshape(*shape, 2))


def _thrown(ground: Ground, shape: tuple[int, ...], random: np.random.Generator) -> Floats:
    """Return points, (*shape, 2), at random over the ground."""
    cell = np.searchsorted(ground.heights, random.random(shape) * ground.heights[-1], side="right")
    row, col = np.divmod(cell, ground.share.shape[1])
    return (np.stack([col, row], axis=-1) + random.random((*shape, 2))) * ground.step_px - 0.5


def _hidden(scatter: Scatter, diameters_px: Floats, moved: Numbers) -> Numbers:
    """Return the row in the stacked points of each void that a larger one hides, where either was just `moved`."""
    if not len(moved):
        return moved
    theirs = cKDTree(scatter.stacked[moved], balanced_tree=False, compact_nodes=False)
    near = theirs.sparse_distance_matrix(scatter.tree, HIDDEN_WITHIN * float(diameters_px.max()), output_type="ndarray")
    one, other, apart = moved[near["i"]], near["j"], near["v"]
    first, second = diameters_px[one], diameters_px[other]
    hiding = (one != other) & (apart < HIDDEN_WITHIN * np.maximum(first, second))
    behind = np.where((first < second) | ((first == second) & (one > other)), one, other)
    return np.unique(behind[hiding])


def against_chance(
    found: Scatter, draw: Callable[[int], Scatter], scores: Mapping[str, Score], *, simulations: int
) -> dict[str, Chance]:
    """Return each score of the one pattern `found` beside those of up to `simulations` that `draw` makes.

    p is (1 + g) / (1 + m), where g of m random patterns score at least as high; drawing for a score ends when ENOUGH
    do, then p is ENOUGH over the number drawn. Both hold exactly: G. A. Barnard, J. R. Statist. Soc. B 25 (1963) 294;
    J. Besag and P. Clifford, Biometrika 78 (1991) 301.
    """
    values = {name: float(score(found)[0]) for name, score in scores.items()}
    drawn: dict[str, list[Floats]] = {name: [] for name in scores}
    waiting, done = set(scores), 0
    block = max(1, LARGEST_BLOCK // max(found.shape[1], 1))
    while waiting and done < simulations:
        count = min(block, FIRST_BLOCK, simulations - done)
        scatter = draw(count)
        for name in sorted(waiting):
            drawn[name].append(scores[name](scatter))
        done += count
        if done >= min(FIRST_BLOCK, simulations):
            waiting = {name for name in waiting if _reached(drawn[name], values[name]) < ENOUGH}
    return {name: _compared(values[name], np.concatenate(drawn[name])) for name in scores}


def _reached(parts: list[Floats], value: float) -> int:
    return sum(int(np.count_nonzero(part >= value)) for part in parts)


def _compared(value: float, drawn: Floats) -> Chance:
    """Return a score beside those drawn."""
    reached = np.flatnonzero(drawn >= value)
    p = ENOUGH / (int(reached[ENOUGH - 1]) + 1) if len(reached) >= ENOUGH else (1 + len(reached)) / (1 + len(drawn))
    low, high = np.quantile(drawn, [0.025, 0.975])
    spread = float(drawn.std(ddof=1)) if len(drawn) > 1 else math.nan
    return Chance(value, float(drawn.mean()), spread, float(low), float(high), p, len(drawn))


def holm(p_values: ArrayLike) -> Floats:
    """Return p-values, (n,), corrected for n questions: the chance of any false alarm stays below the limit set.

    S. Holm, Scand. J. Statist. 6 (1979) 65.

    >>> holm([0.01, 0.04, 0.02]).tolist()
    [0.03, 0.04, 0.04]
    """
    values = np.asarray(p_values, np.float64)
    order = np.argsort(values, kind="stable")
    stepped = np.maximum.accumulate(values[order] * np.arange(values.size, 0, -1))
    corrected = np.empty_like(values)
    corrected[order] = np.minimum(stepped, 1.0)
    return corrected
