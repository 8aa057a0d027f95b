"""Voids in a line: the fullest of many narrow strips, each beside its own flanks."""

from __future__ import annotations

import math
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bubblegrade.grading.pattern_chance import Scatter
from bubblegrade.grading.pattern_ground import Ground
from bubblegrade.grading.pattern_record import Place
from bubblegrade.grading.pattern_scores import LEAST_TOGETHER, excess

Floats = NDArray[np.floating[Any]]
Counts = NDArray[np.unsignedinteger[Any]]

# Lengths as shares of the side of a square as large as the ground.
LANE: Final = 0.0125  # width of the lanes that strips are made of
SEGMENT: Final = 0.25  # length of the pieces that strips are made of
FITS_A_BYTE: Final = 256
STRIP_LANES: Final = (1, 2)
STRIP_SEGMENTS: Final = (1, 2, 4, 8)
FLANK_LANES: Final = 3  # on each side of a strip: voids as dense there make a cluster or a crust, not a line
LONGEST: Final = 1.5  # strips that are longer may miss voids at their ends, between two angles tried
POUR_REACH: Final = 0.03  # how far beside the pour point a line may pass


class _Strip(NamedTuple):
    """A strip in lanes and segments of the grid."""

    excess: float
    lane: int
    lanes: int
    turn: int
    segment: int
    segments: int
    expected: float


NO_STRIP: Final = _Strip(0.0, 0, 1, 0, 0, 1, math.nan)


class Lines:
    """The fullest strip over a ground: towards the pour point if that is known, else any.

    Strips lie on a grid of angles, lanes and segments, as in the transform of P. V. C. Hough (R. O. Duda and P. E.
    Hart, Commun. ACM 15 (1972) 11). A strip is compared with what the whole ground or its own flanks would put into
    it, whichever is more.
    """

    def __init__(self, ground: Ground) -> None:
        x, y = ground.middles_px
        row, col = np.nonzero(ground.open)
        cells = np.stack([x[col], y[row]], axis=1)
        self._side = ground.side_px
        self._origin = cells.mean(axis=0) if ground.pour_px is None else np.asarray(ground.pour_px, np.float64)
        far = float(np.hypot(*(cells - self._origin).T).max()) / self._side + 0.01
        across = far if ground.pour_px is None else POUR_REACH
        self._lanes = 2 * (math.ceil(across / LANE) + FLANK_LANES + 1)  # the outermost lanes hold what lies beyond
        self._segments = 2 * math.ceil(far / SEGMENT)
        turns = math.ceil(math.pi * min(2.0 * far, LONGEST) / (4.0 * LANE))
        angle = math.pi * np.arange(turns) / turns
        self._along = np.stack([np.cos(angle), np.sin(angle)])  # (2, turns)
        self._across = np.stack([-np.sin(angle), np.cos(angle)])

    def score(self, scatter: Scatter) -> Floats:
        """Return the excess of the fullest strip of each pattern, (patterns,)."""
        return np.array([self._fullest(points).excess for points in scatter.points])

    def place(self, scatter: Scatter) -> Place:
        """Return the fullest strip of one pattern: middle, half length and angle of the line through its voids."""
        points = scatter.points[0]
        best = self._fullest(points)
        lane, segment = (grid[:, best.turn] for grid in self._on_grid(points))
        members = np.flatnonzero(
            (lane >= best.lane)
            & (lane < best.lane + best.lanes)
            & (segment >= best.segment)
            & (segment < best.segment + best.segments)
        )
        middle = points[members].mean(axis=0)
        way = np.linalg.svd(points[members] - middle, full_matrices=False)[2][0]
        ends = (points[members] - middle) @ way
        usual_per_px = best.expected / (best.segments * SEGMENT * self._side)
        first, last = _fullest_stretch(np.sort(ends), usual_per_px)
        middle = middle + way * (first + last) / 2.0
        return Place(
            voids=tuple(members[(ends >= first) & (ends <= last)].tolist()),
            x_px=float(middle[0]),
            y_px=float(middle[1]),
            reach_px=(last - first) / 2.0,
            expected=usual_per_px * (last - first),
            angle_degrees=math.degrees(math.atan2(way[1], way[0])) % 180.0,
        )

    def _on_grid(self, points: Floats) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
        """Return lane and segment of each point at each angle, (voids, turns) each."""
        off = ((points - self._origin) / self._side).astype(np.float32)
        lane = np.floor(off @ (self._across / LANE).astype(np.float32)).astype(np.int32) + self._lanes // 2
        segment = np.floor(off @ (self._along / SEGMENT).astype(np.float32)).astype(np.int32) + self._segments // 2
        return np.clip(lane, 0, self._lanes - 1), np.clip(segment, 0, self._segments - 1)

    def _fullest(self, points: Floats) -> _Strip:
        """Return the fullest strip of one pattern, (voids, 2)."""
        counts, long, best = self._counts(points), 1, NO_STRIP
        for segments in STRIP_SEGMENTS:
            if segments > self._segments:
                break
            if segments > 1:
                counts, long = counts[:-long] + counts[long:], segments
            for lanes in STRIP_LANES:
                best = max(best, _fullest_of_size(counts, segments, lanes, voids=len(points), above=best.excess))
        return best

    def _counts(self, points: Floats) -> Counts:
        """Return how many voids lie in each piece of the grid, (segments, lanes, turns)."""
        lane, segment = self._on_grid(points)
        shape = (self._segments, self._lanes, self._along.shape[1])
        cell = (segment * self._lanes + lane) * shape[2] + np.arange(shape[2], dtype=np.int32)
        counts = np.bincount(cell.ravel(), minlength=math.prod(shape)).reshape(shape)
        counts[:, 0], counts[:, -1] = 0, 0
        return counts.astype(np.uint8 if len(points) < FITS_A_BYTE else np.uint16)


def _fullest_of_size(counts: Counts, segments: int, lanes: int, *, voids: int, above: float) -> _Strip:
    """Return the fullest strip of a size, given what each lane holds over so many segments.

    It is NO_STRIP where none stands out by more than `above`.
    """
    usual = voids * lanes * LANE * segments * SEGMENT
    least = int(np.searchsorted(excess(np.arange(voids + 1), usual), above, side="right"))
    first, last = FLANK_LANES, counts.shape[1] - FLANK_LANES - lanes + 1
    inside = sum((counts[:, first + lane : last + lane] for lane in range(1, lanes)), counts[:, first:last])
    flat = np.flatnonzero(inside >= max(LEAST_TOGETHER, least))
    if not len(flat):
        return NO_STRIP
    segment, lane, turn = np.unravel_index(flat, inside.shape)
    seen = inside[segment, lane, turn].astype(np.float64)
    wide = np.arange(lanes + 2 * FLANK_LANES)[:, np.newaxis]
    around = counts[segment, lane + wide, turn].sum(axis=0, dtype=np.float64) - seen
    expected = np.maximum(usual, around * lanes / (2 * FLANK_LANES))
    excesses = excess(seen, expected)
    top = int(excesses.argmax())
    place = (int(lane[top]) + first, lanes, int(turn[top]), int(segment[top]), segments)
    return _Strip(float(excesses[top]), *place, float(expected[top]))


def _fullest_stretch(along_px: Floats, usual_per_px: float) -> tuple[float, float]:
    """Return first and last of the voids, sorted along a line, between which the most stand above what is usual."""
    first, last = np.triu_indices(len(along_px), 1)
    excesses = excess(last - first + 1, usual_per_px * (along_px[last] - along_px[first]))
    top = int(np.where(last - first + 1 >= LEAST_TOGETHER, excesses, -1.0).argmax())
    return float(along_px[first[top]]), float(along_px[last[top]])
