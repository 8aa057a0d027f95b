"""Candidates at every size: edges vote for the centre that they curve around.

The outer edge of a void's dark ring points, all around, at the void's centre. On each level of a pyramid every edge
pixel votes for the points at a few distances along its gradient, towards the dark side; where the votes of a whole
circle meet, a void may lie. The count over the circumference is the share of the edge that was seen: an overlapped or
lop-sided void still collects what is left of it, whatever its contrast. A misshapen void's edges do not meet in one
point; its bright core, enclosed by the dark, is a candidate too.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from bubblegrade.casting.outline import Mask, box_around
from bubblegrade.quantiles import quantile
from bubblegrade.threads import each, runs
from bubblegrade.voids.mark_looks import nonzero

Image = NDArray[np.float32]
Floats = NDArray[np.float32]

RADII_PX: Final = (2.4, 2.9, 3.4, 4.0, 4.7, 5.5)  # looked for on each level; the next one starts where they end
SMOOTHING_PX: Final = 0.8  # before the gradient is taken
NOISE_SMOOTHING_PX: Final = 1.5  # what this takes away is noise
LEAST_EDGE: Final = 3.2  # an edge's gradient over the noise of one of its components
FAINTEST_EDGE: Final = 0.009  # darkness per px: fainter is no edge even without noise
CORE_DARKNESS: Final = (0.2, 0.4)  # levels at which the dark is cut out
CORE_SEEN: Final = 0.25  # stands for the share seen of a candidate that comes from a core
CORE_TO_RING: Final = 1.5  # ring's outer edge over core: 1.3 for gas in water, 1.75 in resin, both over a wide light
LEAST_CORE_PX: Final = 6.0  # area
LEAST_FILLED: Final = 0.5  # of its smallest enclosing circle that a core takes
SPREAD_PX: Final = 1.0  # votes are summed over a bell of this standard deviation
NEAR: Final = (5, 5)  # px: where that bell, and the one before the gradient, are cut off
FULL: Final = 1.13 * RADII_PX[0] / SPREAD_PX**2  # what a full circle sums to, its votes spread by rounding and noise
OVER_PX: Final = 8  # farther than an edge votes
STRIP_PX: Final = 192  # lines of a level worked on at once: they stay in the cache; a multiple of three, and
HALO_PX: Final = 6  # lines around them, farther than smoothing, gradient and the spread of votes reach
BORDER_PX: Final = 2  # along the frame, where there are no edges
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


def noise_of(darkness: Image, where: Mask | None = None) -> float:
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
        return np.asarray(off.ravel() if chosen is None else off[chosen[lines][::3, ::3]], np.float32)

    return quantile(np.concatenate(each(rough, runs(len(darkness), STRIP_PX))), 0.25) / 0.3186


def find_candidates(pyramid: list[Image], judged: Mask | None, *, least_seen: float) -> Candidates:
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
    found = [np.empty((0, 4), np.float32)]
    for level, darkness in enumerate(pyramid):
        scale = 2.0**level
        where = None if judged is None else _fitted(judged, darkness.shape)
        top, left, box = (0, 0, np.s_[:, :]) if where is None else box_around(where, MARGIN_PX)
        x, y, radius, seen = _vote(darkness[box], where if where is None else where[box], least_seen)
        at_x, at_y = (x + left + 0.5) * scale - 0.5, (y + top + 0.5) * scale - 0.5
        found.append(np.stack([at_x, at_y, radius * scale, seen], axis=1))
    largest = RADII_PX[-1] * 2.0 ** (len(pyramid) - 1)
    rows = np.concatenate([*found, _cores(pyramid[0], judged, largest)])
    rows = rows[np.argsort(-rows[:, 3], kind="stable")]
    rows = rows[first_of_twins(rows[:, 0], rows[:, 1], rows[:, 2], centre=SAME_CENTRE, size=SAME_SIZE)]
    return Candidates(*(np.ascontiguousarray(column, np.float32) for column in rows.T))


def _cores(darkness: Image, judged: Mask | None, largest_radius_px: float) -> Floats:
    """Return x, y, edge radius and CORE_SEEN of bright spots that darkness encloses, (N, 4)."""

    def enclosed(level: float) -> list[tuple[float, float, float, float]]:
        found = []
        dark = np.asarray(darkness > level)
        if judged is not None:
            dark &= judged
        outlines, nesting = cv2.findContours(dark.view(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
        holes = [] if nesting is None else np.flatnonzero(nesting[0, :, 3] >= 0).tolist()
        for line in (outlines[i] for i in holes):
            area = cv2.contourArea(line) - len(line) / 2  # the line runs through the middles of the ring's inner pixels
            if not LEAST_CORE_PX < area < np.pi * largest_radius_px**2:
                continue
            (x, y), reach = cv2.minEnclosingCircle(line)
            if area > LEAST_FILLED * np.pi * reach**2:
                found.append((x, y, CORE_TO_RING * np.sqrt(area / np.pi), CORE_SEEN))
        return found

    return np.array([core for cores in each(enclosed, CORE_DARKNESS) for core in cores], np.float32).reshape(-1, 4)


def first_of_twins(x: Floats, y: Floats, radius: Floats, *, centre: float, size: float) -> NDArray[np.intp]:
    """Return the indices of those that no earlier one is a twin of: nearer than `centre` radii, alike within `size`."""
    points = np.stack([x, y], axis=1)
    tree = cKDTree(points)
    near = tree.query_ball_point(points, centre * radius + 0.5)
    kept = np.ones(len(x), bool)
    for i, others in enumerate(near):
        if kept[i]:
            for j in others:
                if j > i and 1 / size < radius[j] / radius[i] < size:
                    kept[j] = False
    return np.flatnonzero(kept)


def _vote(darkness: Image, judged: Mask | None, least_seen: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Return x, y, radius and share seen of the candidates on one level, in px of that level."""
    strips = runs(len(darkness), STRIP_PX)
    edges, calm = zip(*each(lambda lines: _thin_edges(darkness, judged, lines), strips), strict=True)
    least = max(FAINTEST_EDGE, LEAST_EDGE * _grain(np.concatenate(calm)))
    steep = [rows[:, rows[4] > least] for rows in edges]

    def tops(i: int) -> Floats:
        around = np.concatenate(steep[max(i - 1, 0) : i + 2], axis=1)
        return _tops(around, strips[i], darkness.shape, least_seen)

    x, y, radius, seen = np.concatenate(each(tops, range(len(strips))), axis=1)
    return x, y, radius, seen


def _tops(edges: Floats, lines: slice, shape: tuple[int, ...], least_seen: float) -> Floats:
    """Return x, y, radius and share seen where the votes of edges near some lines of a level meet, (4, N)."""
    rows, cols = shape
    first, last = max(lines.start - HALO_PX, 0), min(lines.stop + HALO_PX, rows)
    x, y, right, down, _ = edges[:, (edges[1] > first - OVER_PX) & (edges[1] < last + OVER_PX)]
    if not len(x):
        return np.empty((4, 0), np.float32)
    left = max(int(x.min()) - 2 * OVER_PX, 0)
    wide = min(int(x.max()) + 2 * OVER_PX, cols) - left
    x, y = x - np.float32(left), y - np.float32(first)
    counts = []
    for radius in RADII_PX:
        at_x = np.rint(x + radius * right).astype(np.intp)
        at_y = np.rint(y + radius * down).astype(np.intp)
        votes = np.zeros((last - first + 4 * OVER_PX, wide + 2 * OVER_PX), np.float32)
        places = (at_y + 2 * OVER_PX) * votes.shape[1] + (at_x + OVER_PX)
        np.add.at(votes.ravel(), places, np.float32(RADII_PX[0] / radius))  # larger ones have more edge and weigh less
        within = votes[2 * OVER_PX : -2 * OVER_PX, OVER_PX:-OVER_PX]
        counts.append(cv2.GaussianBlur(within, NEAR, SPREAD_PX))
    best: Floats = np.asarray(reduce(cv2.max, counts), np.float32)
    top = best >= cv2.dilate(best, np.ones((3, 3), np.uint8))
    top &= best > least_seen * FULL
    row, col = nonzero(top[lines.start - first : lines.stop - first])
    row += lines.start - first
    which = np.argmax([count[row, col] for count in counts], axis=0)
    radii = np.asarray(RADII_PX, np.float32)[which]
    return np.stack([col + left, row + first, radii, best[row, col] / FULL]).astype(np.float32)


def _fitted(judged: Mask, shape: tuple[int, ...]) -> Mask:
    """Return a mask at the size of a level, `shape`."""
    if judged.shape == shape:
        return judged
    return np.asarray(cv2.resize(judged.view(np.uint8), shape[::-1], interpolation=cv2.INTER_NEAREST).view(bool))


def _thin_edges(darkness: Image, judged: Mask | None, lines: slice) -> tuple[Floats, Floats]:
    """Return the edges in some lines of a level, and how steep its pixels are, one of nine.

    Of each edge, (5, N): the sub-pixel place, x and y, the unit vector towards the dark side, right and down, and how
    steep it is.
    """
    rows, cols = darkness.shape
    first, last = max(lines.start - HALO_PX, 0), min(lines.stop + HALO_PX, rows)
    smooth = cv2.GaussianBlur(darkness[first:last], NEAR, SMOOTHING_PX)
    across = cv2.Scharr(smooth, cv2.CV_32F, 1, 0, scale=1 / 32)
    down = cv2.Scharr(smooth, cv2.CV_32F, 0, 1, scale=1 / 32)
    steep = across * across
    steep += down * down
    np.sqrt(steep, out=steep)
    steep[: max(BORDER_PX - first, 0)] = 0
    steep[min(rows - BORDER_PX, last) - first :] = 0
    steep[:, :BORDER_PX], steep[:, -BORDER_PX:] = 0, 0
    within = slice(lines.start - first, lines.stop - first)
    at = steep[within] > FAINTEST_EDGE
    calm = steep[within][::3, ::3]
    if judged is not None:
        at &= judged[lines]
        calm = calm[judged[lines][::3, ::3]]
    row, col = nonzero(at)
    place = (row + within.start) * cols + col
    here = steep.take(place)
    ux, uy = across.take(place) / here, down.take(place) / here
    step = np.rint(uy).astype(np.intp) * cols + np.rint(ux).astype(np.intp)
    ahead, behind = steep.take(place + step), steep.take(place - step)
    crest = (here >= ahead) & (here > behind)
    row, col, here, ahead, behind, ux, uy = (a[crest] for a in (row, col, here, ahead, behind, ux, uy))
    shift = np.clip(0.5 * (ahead - behind) / (2 * here - ahead - behind + 1e-9), -0.5, 0.5)
    edges = np.stack([col + shift * ux, row + lines.start + shift * uy, ux, uy, here])
    return edges.astype(np.float32), calm.ravel()


def _grain(calm: Floats) -> float:
    """Return the noise of a component of the gradient, from the calmer pixels of its lengths.

    The length of two components of noise is below 0.7585 standard deviations of one in a quarter of the pixels.
    """
    return quantile(calm, 0.25) / 0.7585 if calm.size else 0.0
