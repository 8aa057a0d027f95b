"""Candidates at every size: edges vote for the centre that they curve around.

The outer edge of a void's dark ring points, all around, at the void's centre. On each level of a pyramid every edge
pixel votes for the points at a few distances along its gradient, towards the dark side; where the votes of a whole
circle meet, a void may lie. The count over the circumference is the share of the edge that was seen: an overlapped or
lop-sided void still collects what is left of it, whatever its contrast. A misshapen void's edges do not meet in one
point; its bright core, enclosed by the dark, is a candidate too.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from bubblegrade.casting.enlarged import Enlarged
from bubblegrade.quantiles import quantile
from bubblegrade.threads import each, runs
from bubblegrade.voids.voting import LARGE_PX, RADII_PX, vote

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]

NOISE_SMOOTHING_PX: Final = 1.5  # what this takes away is noise
HALO_PX: Final = 6  # lines farther away make no difference to that
STRIP_PX: Final = 192  # lines worked on at once: they stay in the cache; a multiple of three, and
SOME_PX: Final = 48  # lines of each strip tell enough of it in a large picture
CORE_DARKNESS: Final = (0.2, 0.4)  # levels at which the dark is cut out
CORE_SEEN: Final = 0.25  # stands for the share seen of a candidate that comes from a core
CORE_TO_RING: Final = 1.5  # ring's outer edge over core: 1.3 for gas in water, 1.75 in resin, both over a wide light
HUGE_PX: Final = 50_000_000  # pixels: in a larger picture that is done level by level, to save memory
LEAST_CORE_PX: Final = 6.0  # area
LEAST_FILLED: Final = 0.5  # of its smallest enclosing circle that a core takes
MARGIN_PX: Final = 16  # around the edges of a level: farther out no vote is spread, and no smoothing reaches
SAME_CENTRE: Final = 0.35  # of the radius: candidates nearer than this, and
SAME_SIZE: Final = 1.3  # alike in size within this ratio, are one


@dataclass(frozen=True, eq=False)
class Candidates:
    """Where voids may lie; all of length N, in px of the photograph."""

    x_px: Floats
    y_px: Floats
    edge_radius_px: Floats  # of the dark ring's outer edge
    seen: Floats  # share of the circumference that voted


def pyramid_of(darkness: Image, *, largest_radius_px: float) -> list[Image]:
    """Return the picture and its halves, quarters, ... down to where the largest radius is looked for."""
    levels = [darkness]
    while RADII_PX[0] * 2 ** len(levels) < largest_radius_px and min(levels[-1].shape) >= 48:  # noqa: PLR2004
        rows, cols = levels[-1].shape
        half = cv2.resize(
            levels[-1][: rows // 2 * 2, : cols // 2 * 2], (cols // 2, rows // 2), interpolation=cv2.INTER_AREA
        )
        levels.append(np.asarray(half, np.float32))
    return levels


def noise_of(darkness: Image, where: Mask | Enlarged | None = None) -> float:
    """Return the standard deviation of the pixel noise, from the calmer half of what a smoothing takes away.

    Voids make the larger differences; a quarter of the pixels differs by less than 0.3186 standard deviations.
    `where`, of the same shape, leaves out what is not the casting.
    """
    chosen = None if where is None or not where[::3, ::3].any() else where

    def rough(lines: slice) -> Floats:
        first = max(lines.start - HALO_PX, 0)
        part = darkness[first : lines.stop + HALO_PX]
        smooth = cv2.GaussianBlur(part, (0, 0), NOISE_SMOOTHING_PX)
        some = np.s_[lines.start - first : lines.stop - first : 3, ::3]
        off = np.abs(part[some] - smooth[some])
        return np.asarray(off.ravel() if chosen is None else off[chosen[lines.start : lines.stop : 3, ::3]], np.float32)

    strips = runs(len(darkness), STRIP_PX)
    if darkness.size > LARGE_PX:
        strips = [slice(lines.start, min(lines.start + SOME_PX, lines.stop)) for lines in strips]
    return quantile(np.concatenate(each(rough, strips)), 0.25) / 0.3186


def find_candidates(pyramid: list[Image], judged: Mask | Enlarged | None, *, least_seen: float) -> Candidates:
    """Return the candidates on all levels, strongest first, near twins taken out.

    Parameters
    ----------
    pyramid
        Darkness from `pyramid_of`.
    judged
        Where to look, at any size (it is fitted to each level); None looks everywhere.
    least_seen
        Share of the circumference that must vote.
    """
    everywhere = np.ones((1, 1), bool) if judged is None else judged
    where = everywhere if isinstance(everywhere, Enlarged) else Enlarged.over(everywhere, pyramid[0].shape)
    found = [np.empty((0, 4), np.float32)]
    for level, darkness in enumerate(pyramid):
        scale = 2.0**level
        here = where.fitted(darkness.shape)
        top, left, box = here.box(MARGIN_PX)
        x, y, radius, seen = vote(darkness[box], here.cut(box), least_seen)
        at_x, at_y = (x + left + 0.5) * scale - 0.5, (y + top + 0.5) * scale - 0.5
        found.append(np.stack([at_x, at_y, radius * scale, seen], axis=1))
    largest = RADII_PX[-1] * 2.0 ** (len(pyramid) - 1)
    rows = np.concatenate([*found, _cores(pyramid[0], where, largest)])
    rows = rows[np.argsort(-rows[:, 3], kind="stable")]
    rows = rows[first_of_twins(rows[:, 0], rows[:, 1], rows[:, 2], centre=SAME_CENTRE, size=SAME_SIZE)]
    return Candidates(*(np.ascontiguousarray(column, np.float32) for column in rows.T))


def _cores(darkness: Image, judged: Enlarged, largest_radius_px: float) -> Floats:
    """Return x, y, edge radius and CORE_SEEN of bright spots that darkness encloses, (N, 4)."""
    top, left, box = judged.box(1)
    seen, where = darkness[box], judged.cut(box)

    def enclosed(level: float) -> list[tuple[float, float, float, float]]:
        found = []
        dark = np.empty(seen.shape, bool)
        for lines in runs(len(dark), STRIP_PX):
            np.greater(seen[lines], level, out=dark[lines])
            dark[lines] &= where[lines]
        outlines, nesting = cv2.findContours(dark.view(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
        holes = [] if nesting is None else np.flatnonzero(nesting[0, :, 3] >= 0).tolist()
        for line in (outlines[i] for i in holes):
            area = cv2.contourArea(line) - len(line) / 2  # the line runs through the middles of the ring's inner pixels
            if not LEAST_CORE_PX < area < np.pi * largest_radius_px**2:
                continue
            (x, y), reach = cv2.minEnclosingCircle(line)
            if area > LEAST_FILLED * np.pi * reach**2:
                found.append((x + left, y + top, CORE_TO_RING * np.sqrt(area / np.pi), CORE_SEEN))
        return found

    made = map(enclosed, CORE_DARKNESS) if seen.size > HUGE_PX else each(enclosed, CORE_DARKNESS)
    return np.array([core for cores in made for core in cores], np.float32).reshape(-1, 4)


def first_of_twins(x: Floats, y: Floats, radius: Floats, *, centre: float, size: float) -> NDArray[np.intp]:
    """Return the indices of those that no earlier one is a twin of: nearer than `centre` radii, alike within `size`."""
    points = np.stack([x, y], axis=1).astype(np.float64)
    octave = np.floor(np.log2(radius))
    pairs = [np.empty((0, 2), np.intp)]
    for of in np.unique(octave):  # far fewer are near each other among those alike
        largest = size * 2.0 ** (of + 1)
        alike = np.flatnonzero((octave >= of) & (radius < largest))
        near = cKDTree(points[alike]).query_pairs(centre * largest + 0.5, output_type="ndarray")
        pairs.append(alike[near][octave[alike[near]].min(axis=1) == of])
    first, later = np.sort(np.concatenate(pairs), axis=1).T
    ratio = radius[later] / radius[first]
    twins = np.hypot(*(points[first] - points[later]).T) <= centre * radius[first] + 0.5
    twins &= (ratio > 1 / size) & (ratio < size)
    first, later = first[twins], later[twins]
    order = np.argsort(first, kind="stable")
    kept = [True] * len(x)
    for i, j in zip(first[order].tolist(), later[order].tolist(), strict=True):
        if kept[i]:
            kept[j] = False
    return np.flatnonzero(kept)
