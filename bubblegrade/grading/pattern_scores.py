"""Scores of voids' places: nearest neighbours, the fullest circle, the fullest band along something.

All lengths are in px of the photograph. Every score of a `Scatter` has the shape (patterns,).
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.grading.pattern_chance import HIDDEN_WITHIN, Scatter
from bubblegrade.grading.pattern_ground import Ground
from bubblegrade.grading.pattern_record import Place

Floats = NDArray[np.floating[Any]]

RADII: Final = 7  # circles tried about every void
FEWEST_EXPECTED: Final = 0.5  # voids in the smallest circle, at random
LARGEST_SHARE: Final = 0.1  # of the voids in the largest circle, at random
MOST_EXPECTED: Final = 20.0  # voids in the largest circle, at random: more takes long to count and adds little
LEAST_VISIBLE: Final = (
    0.02  # of the pairs within a circle, however large the voids: an excess needs something to exceed
)
LEAST_TOGETHER: Final = 4  # voids; fewer make no cluster and no band
SIDES: Final = 16  # directions tried where it is not known which was up


def excess(count: ArrayLike, expected: ArrayLike) -> Floats:
    """Return by how many standard deviations a count stands above what is expected; 0 where it does not.

    The signed root of the likelihood ratio of a Poisson count, sqrt(2 (c ln(c/e) - (c - e))), as in the scan statistic
    of M. Kulldorff, Commun. Statist. Theory Meth. 26 (1997) 1481.

    >>> float(excess(8.0, 8.0)), round(float(excess(math.e, 1.0)), 6)
    (0.0, 1.414214)
    """
    seen = np.asarray(count, np.float64)
    mean = np.maximum(np.asarray(expected, np.float64), 1e-12)
    ratio = np.maximum(seen / mean, 1.0)
    return np.asarray(np.sqrt(np.maximum(2.0 * mean * (ratio * np.log(ratio) - ratio + 1.0), 0.0)))


class Nearest:
    """How near the nearest neighbours are: the lower their mean distance, the higher the score."""

    def __init__(self, ground: Ground) -> None:
        self._area_px = ground.area_px

    def score(self, scatter: Scatter) -> Floats:
        """Return minus the ratio of P. J. Clark and F. C. Evans, Ecology 35 (1954) 445.

        The ratio is the mean distance to the nearest neighbour over 0.5 / sqrt(density); 1 at random far from edges.
        """
        patterns, voids = scatter.shape
        distance, _ = scatter.tree.query(scatter.stacked, k=2)
        mean = distance[:, 1].reshape(patterns, voids).mean(axis=1)
        return np.asarray(-2.0 * mean * math.sqrt(voids / self._area_px))


class Circles:
    """Neighbours in circles about every void: in the fullest circle, and in all circles of a size together."""

    def __init__(self, ground: Ground, diameters_px: Floats) -> None:
        voids = len(diameters_px)
        most = min(max(LARGEST_SHARE * voids, 4.0 * FEWEST_EXPECTED), MOST_EXPECTED)
        self._ground = ground
        self._radii = np.sqrt(np.geomspace(FEWEST_EXPECTED, most, RADII) * ground.area_px / (math.pi * voids))
        discs = np.stack([ground.disc_share(radius) for radius in self._radii], axis=-1)
        usual = np.tensordot(ground.share, discs, axes=2)
        visible = _visible_share(diameters_px, self._radii)
        self._usual, self._shares = usual * visible, discs * visible
        self._counted: tuple[Scatter, NDArray[np.intp]] | None = None

    def fullest(self, scatter: Scatter) -> Floats:
        """Return the excess of the fullest circle, beside what its part of the ground would hold at random."""
        return np.asarray(self._excesses(scatter).max(axis=(1, 2)))

    def pairs(self, scatter: Scatter) -> Floats:
        """Return the excess of pairs of voids within some distance, of the distances tried the one that stands out.

        The number of pairs is what B. D. Ripley's K counts, J. Appl. Prob. 13 (1976) 255.
        """
        voids = scatter.shape[1]
        near = self.neighbours(scatter).sum(axis=1) / 2.0
        return np.asarray(excess(near, voids * (voids - 1) / 2.0 * self._usual).max(axis=1))

    def places(self, scatter: Scatter, least: float) -> tuple[Place, ...]:
        """Return the circles of one pattern whose excess is at least `least`, fullest first, none within another."""
        excesses = self._excesses(scatter)[0]
        points, chosen, taken = scatter.points[0], [], np.zeros(scatter.shape[1], bool)
        for flat in np.argsort(-excesses, axis=None, kind="stable"):
            void, size = np.divmod(int(flat), RADII)
            if excesses[void, size] < least:
                break
            members = np.hypot(*(points - points[void]).T) <= self._radii[size]
            if not (members & taken).any():
                taken |= members
                chosen.append(self._place(points, members, void, size))
        return tuple(chosen)

    def _place(self, points: Floats, members: NDArray[np.bool_], void: int, size: int) -> Place:
        row, col = self._ground.cells(points[void])
        middle = points[members].mean(axis=0)
        return Place(
            voids=tuple(np.flatnonzero(members).tolist()),
            x_px=float(middle[0]),
            y_px=float(middle[1]),
            reach_px=float(np.hypot(*(points[members] - middle).T).max()),
            expected=float(self._shares[row, col, size]) * len(points),
        )

    def _excesses(self, scatter: Scatter) -> Floats:
        """Return the excess of every circle, (patterns, voids, radii)."""
        others = self.neighbours(scatter)
        expected = (scatter.shape[1] - 1) * self._shares[self._ground.cells(scatter.points)]
        return np.where(others >= LEAST_TOGETHER - 1, excess(others, expected), 0.0)

    def neighbours(self, scatter: Scatter) -> NDArray[np.intp]:
        """Return how many other voids lie in every circle, (patterns, voids, radii)."""
        if self._counted is None or self._counted[0] is not scatter:
            self._counted = (scatter, self._count(scatter))
        return self._counted[1]

    def _count(self, scatter: Scatter) -> NDArray[np.intp]:
        patterns, voids = scatter.shape
        pairs = scatter.tree.query_pairs(float(self._radii[-1]), output_type="ndarray")
        apart = scatter.stacked[pairs[:, 0], :2] - scatter.stacked[pairs[:, 1], :2]
        size = np.searchsorted(self._radii**2, np.einsum("ij,ij->i", apart, apart))
        size = np.minimum(size, RADII - 1)
        cells = np.concatenate([pairs[:, 0] * RADII + size, pairs[:, 1] * RADII + size])
        rings = np.bincount(cells, minlength=patterns * voids * RADII).reshape(patterns, voids, RADII)
        return np.asarray(np.cumsum(rings, axis=2))


def _visible_share(diameters_px: Floats, radii_px: Floats) -> Floats:
    """Return the share of pairs within each radius, (radii,), of which neither void hides the other, at random."""
    barred = HIDDEN_WITHIN * np.sort(diameters_px)
    smaller = np.arange(len(barred))  # how many pairs each void is the larger one of
    hidden = smaller @ np.minimum(barred[:, np.newaxis] / radii_px, 1.0) ** 2 / max(int(smaller.sum()), 1)
    return np.asarray(np.maximum(1.0 - hidden, LEAST_VISIBLE))


class Bands:
    """The fullest band along something: of all voids within a distance, however far, the most above chance."""

    def __init__(self, ground: Ground, distance_px: Floats, *, widest: float) -> None:
        """Take the distance of each cell, (rows, cols), and the widest band as a share of the ground."""
        self._ground, self._distance_px, self._widest = ground, distance_px, widest
        self._nearer = ground.nearer_share(distance_px)

    def score(self, scatter: Scatter) -> Floats:
        """Return the excess of the fullest band."""
        return np.asarray(self._excesses(scatter)[0].max(axis=1))

    def place(self, scatter: Scatter) -> Place:
        """Return the fullest band of one pattern; its reach is its width, its middle that of its voids."""
        excesses, order = self._excesses(scatter)
        members = np.sort(order[0, : int(excesses[0].argmax()) + 1])
        points = scatter.points[0]
        cells = self._ground.cells(points[members])
        span = self._distance_px[cells]
        return Place(
            voids=tuple(members.tolist()),
            x_px=float(points[members, 0].mean()),
            y_px=float(points[members, 1].mean()),
            reach_px=float(span.max() - self._distance_px[self._ground.open].min()),
            expected=float(self._nearer[cells].max()) * scatter.shape[1],
        )

    def _excesses(self, scatter: Scatter) -> tuple[Floats, NDArray[np.intp]]:
        """Return the excess of the band up to each void, nearest first, and the voids in that order."""
        voids = scatter.shape[1]
        nearer = self._nearer[self._ground.cells(scatter.points)]
        order = np.argsort(nearer, axis=1, kind="stable")
        shares = np.take_along_axis(nearer, order, axis=1)
        count = np.arange(1, voids + 1)
        fits = (shares <= self._widest) & (count >= LEAST_TOGETHER)
        return np.where(fits, excess(count, voids * shares), 0.0), order


class Sides:
    """The fullest band along any one side, where it is not known which was up."""

    def __init__(self, ground: Ground, *, widest: float) -> None:
        """Take the widest band as a share of the ground."""
        turns = 2.0 * math.pi * np.arange(SIDES) / SIDES
        ways = [ground.along_px((float(np.cos(turn)), float(np.sin(turn)))) for turn in turns]
        self._bands = [Bands(ground, way, widest=widest) for way in ways]

    def score(self, scatter: Scatter) -> Floats:
        """Return the excess of the fullest band of all sides."""
        return np.asarray(np.max([band.score(scatter) for band in self._bands], axis=0))

    def place(self, scatter: Scatter) -> Place:
        """Return the fullest band of one pattern."""
        return max(self._bands, key=lambda band: float(band.score(scatter)[0])).place(scatter)
