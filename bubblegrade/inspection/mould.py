"""Marks of the mould: finds at the same place of several pieces, more often than chance puts voids there.

Places are compared in fractions of the piece's length and width, each side for itself. The test: if a piece's finds
lay anywhere alike, one of them would come within the reach of a place with p = 1 - exp(-n a), n its finds and a the
reach's share of the piece's area. The number of pieces with a find there is then a sum of such chances (Poisson
binomial); its upper tail, times the number of places tried (Bonferroni), is the probability that any place repeats so
often by chance.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST_PIECES: Final = 3
LEAST_SHARE: Final = 0.5  # of the pieces of a side: a mould marks all that come out of it, one find may be missed
REACH: Final = 0.012  # of the length: how near finds lie that may be one mark
ALIKE: Final = 1.3  # ratio of the diameters over the length up to which finds may be one mark
CHANCE: Final = 0.01  # probability that any place repeats so often by chance, below which it is the mould's
CROWDED: Final = 3.0  # times as dense as on average: voids gather at the top and at edges, so chance is taken larger


@dataclass(frozen=True, eq=False)
class SidePlaces:
    """The finds of one side of one piece."""

    piece: str
    side: str  # sides are compared apart, mirrored ones too
    along: Floats  # (N,) fractions of the length
    across: Floats  # (N,) fractions of the width
    diameter: Floats  # (N,) over the length
    width: float  # over the length


@dataclass(frozen=True, eq=False)
class _Side:
    """The finds of one side of all its pieces, one below the other."""

    group: Sequence[SidePlaces]
    pieces: frozenset[str]
    along: Floats
    across: Floats
    diameter: Floats
    width: Floats  # of the piece of each find, over its length
    piece: NDArray[np.str_]  # of each find

    @classmethod
    def of(cls, group: Sequence[SidePlaces]) -> _Side:
        """Return the finds in the order of their pieces."""
        columns = ([one.along for one in group], [one.across for one in group], [one.diameter for one in group])
        along, across, diameter = (np.concatenate(column) for column in columns)
        counts = [len(one.along) for one in group]
        width, piece = (np.repeat(of, counts) for of in ([one.width for one in group], [one.piece for one in group]))
        return cls(group, frozenset(one.piece for one in group), along, across, diameter, width, piece)

    def at(self, mark: MouldMark) -> NDArray[np.bool_]:
        """Say which of them are a mark."""
        return at_mark(mark, self.along, self.across, self.diameter, self.width)


@dataclass(frozen=True)
class MouldMark:
    """A place that repeats."""

    side: str
    along: float
    across: float
    diameter: float  # over the length
    pieces: tuple[str, ...]
    of: int  # pieces whose side was compared
    by_chance: float  # probability that any place repeats so often by chance


def mould_marks(sides: Sequence[SidePlaces]) -> tuple[MouldMark, ...]:
    """Return the places at which several pieces have a find, more often than by chance."""
    by_side: dict[str, list[SidePlaces]] = defaultdict(list)
    for one in sides:
        by_side[one.side].append(one)
    return tuple(mark for _, group in sorted(by_side.items()) for mark in _of_side(group))


def tail(chances: Sequence[float], least: int) -> float:
    """Return how likely at least so many of independent events happen, each with its own chance.

    Of two fair coins at least one falls heads three times in four:

    >>> tail([0.5, 0.5], 1)
    0.75
    """
    of_count = np.array([1.0])
    for chance in chances:
        of_count = np.convolve(of_count, [1.0 - chance, chance])
    return float(of_count[least:].sum())


def at_mark(
    mark: MouldMark, along: Floats, across: Floats, diameter: Floats, width: Floats | float
) -> NDArray[np.bool_]:
    """Say for finds, as in `SidePlaces`, which of them are this mark."""
    away = np.hypot(along - mark.along, (across - mark.across) * width)
    alike = np.maximum(diameter / mark.diameter, mark.diameter / diameter) <= ALIKE
    return np.asarray((away <= REACH) & alike)


def _of_side(group: Sequence[SidePlaces]) -> list[MouldMark]:
    """Return the marks of one side, the most frequent first, none of them twice."""
    side = _Side.of(group)
    if len(side.pieces) < LEAST_PIECES:
        return []
    found: list[MouldMark] = []
    for along, across, diameter in zip(side.along, side.across, side.diameter, strict=True):
        start = MouldMark(group[0].side, along, across, diameter, (), 0, 1.0)
        mark = _tested(_centred(start, side), side)
        if mark is not None:
            found.append(mark)
    found.sort(key=lambda mark: (-len(mark.pieces), mark.by_chance, mark.along, mark.across))
    kept: list[MouldMark] = []
    for mark in found:
        if all(math.hypot(mark.along - other.along, (mark.across - other.across) * group[0].width) > REACH
               for other in kept):  # fmt: skip
            kept.append(mark)
    return kept


def _centred(mark: MouldMark, side: _Side) -> MouldMark:
    """Return the mark at the mean of the finds around it."""
    near = side.at(mark)
    along, across, diameter = (float(column[near].mean()) for column in (side.along, side.across, side.diameter))
    return replace(mark, along=along, across=across, diameter=diameter)


def _tested(mark: MouldMark, side: _Side) -> MouldMark | None:
    """Return the mark with its pieces; None where they are too few, or no more than chance brings."""
    hit = sorted(set(side.piece[side.at(mark)].tolist()))
    of = len(side.pieces)
    if len(hit) < max(LEAST_PIECES, LEAST_SHARE * of):
        return None
    chances = [1.0 - math.exp(-CROWDED * len(one.along) * math.pi * REACH**2 / one.width) for one in side.group]
    by_chance = min(1.0, len(side.along) * tail(chances, len(hit)))
    if by_chance > CHANCE:
        return None
    return MouldMark(mark.side, mark.along, mark.across, mark.diameter, tuple(hit), of, by_chance)
