"""Edges on one level of a pyramid vote for the centres that they curve around, in parts that stay in the cache."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.enlarged import Box, Enlarged
from bubblegrade.quantiles import quantile
from bubblegrade.threads import each, runs
from bubblegrade.voids.mark_looks import nonzero

Image = NDArray[np.float32]
Floats = NDArray[np.float32]

RADII_PX: Final = (2.4, 2.9, 3.4, 4.0, 4.7, 5.5)  # looked for on each level; the next one starts where they end
SMOOTHING_PX: Final = 0.8  # before the gradient is taken
LEAST_EDGE: Final = 3.2  # an edge's gradient over the noise of one of its components
FAINTEST_EDGE: Final = 0.009  # darkness per px: fainter is no edge even without noise
SPREAD_PX: Final = 1.0  # votes are summed over a bell of this standard deviation
NEAR: Final = (5, 5)  # px: where that bell, and the one before the gradient, are cut off
FULL: Final = 1.13 * RADII_PX[0] / SPREAD_PX**2  # what a full circle sums to, its votes spread by rounding and noise
OVER_PX: Final = 8  # farther than an edge votes
MIDDLE_PX: Final = 48  # lines that foretell how steep an edge is at least, and
SURELY: Final = 0.7  # the share of that from which on edges are taken before it is known
STRIP_PX, WIDE_PX = 192, 1056  # lines and columns of a level worked on at once: they stay in the cache; and
HALO_PX: Final = 6  # px around them, farther than smoothing, gradient and the spread of votes reach
BORDER_PX: Final = 2  # along the frame, where there are no edges
LARGE_PX: Final = 4_000_000  # pixels: in a larger picture fewer of them tell of the grain, one in
CALM_PX: Final = (3, 6)  # px each way, in a small picture and a large one; parts of STRIP_PX and WIDE_PX


def vote(darkness: Image, judged: Enlarged, least_seen: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Return x, y, radius and share seen of the candidates on one level, in px of that level."""
    strips, columns = runs(len(darkness), STRIP_PX), runs(darkness.shape[1], WIDE_PX)

    def found(least: float) -> list[list[tuple[Floats, Floats]]]:
        return each(lambda lines: [_thin_edges(darkness, judged, (lines, one), least) for one in columns], strips)

    likely = _least(_thin_edges(darkness, judged, _middle(darkness.shape), np.inf)[1]) * SURELY
    parts = found(likely)
    least = _least(np.concatenate([calm for row in parts for _, calm in row]))
    if least < likely:
        parts = found(least)
    steep = [[edges[:, edges[4] > least] for edges, _ in row] for row in parts]

    def tops(i: int) -> Floats:
        made = []
        for j, across in enumerate(columns):
            around = [part for row in steep[max(i - 1, 0) : i + 2] for part in row[max(j - 1, 0) : j + 2]]
            made.append(_tops(np.concatenate(around, axis=1), (strips[i], across), darkness.shape, least_seen))
        return np.concatenate(made, axis=1)

    x, y, radius, seen = np.concatenate(each(tops, range(len(strips))), axis=1)
    return x, y, radius, seen


def _tops(edges: Floats, part: Box, shape: tuple[int, ...], least_seen: float) -> Floats:
    """Return x, y, radius and share seen where the votes of edges near a part of a level meet, (4, N)."""
    reach = OVER_PX + HALO_PX
    x, y = edges[:2]
    near = (y > part[0].start - reach) & (y < part[0].stop + reach)
    near &= (x > part[1].start - reach) & (x < part[1].stop + reach)
    x, y, right, down, _ = edges[:, np.flatnonzero(near)]
    if not len(x):
        return np.empty((4, 0), np.float32)
    (lines, across), within = _haloed((_reached(y, part[0]), _reached(x, part[1])), shape)
    x, y = x - np.float32(across.start), y - np.float32(lines.start)
    inner = np.s_[2 * OVER_PX : -2 * OVER_PX, 2 * OVER_PX : -2 * OVER_PX]
    held = (lines.stop - lines.start + 4 * OVER_PX, across.stop - across.start + 4 * OVER_PX)
    votes, counts = np.empty(held, np.float32), []
    first = 2 * OVER_PX * (held[1] + 1)  # where the part begins in that
    for radius in RADII_PX:
        at_x, at_y = np.rint(x + radius * right), np.rint(y + radius * down)
        places = (at_y * held[1] + (at_x + first)).astype(np.intp)  # float32 holds them exactly, and is faster
        votes.fill(0)
        np.add.at(votes.ravel(), places, np.float32(RADII_PX[0] / radius))  # larger ones have more edge and weigh less
        counts.append(np.asarray(cv2.GaussianBlur(votes[inner], NEAR, SPREAD_PX), np.float32))
    best = np.maximum(counts[0], counts[1])
    for count in counts[2:]:
        np.maximum(best, count, out=best)
    top = best >= cv2.dilate(best, np.ones((3, 3), np.uint8))
    top &= best > least_seen * FULL
    row, col = nonzero(np.ascontiguousarray(top[within]))
    row, col = row + within[0].start, col + within[1].start
    which = np.argmax([count[row, col] for count in counts], axis=0)
    radii = np.asarray(RADII_PX, np.float32)[which]
    return np.stack([col + across.start, row + lines.start, radii, best[row, col] / FULL]).astype(np.float32)


def _reached(places: Floats, part: slice) -> slice:
    """Return the part of some lines or columns that the votes of edges at some places may reach."""
    first, last = int(places.min()) - OVER_PX, int(places.max()) + OVER_PX
    return slice(min(max(part.start, first), part.stop - 1), max(min(part.stop, last), part.start + 1))


def _haloed(part: Box, shape: tuple[int, ...]) -> tuple[Box, Box]:
    """Return a part of a picture of `shape` with what lies around it, and where in that the part is."""
    (lines, above), (across, before) = (
        (slice(max(one.start - HALO_PX, 0), min(one.stop + HALO_PX, size)), min(one.start, HALO_PX))
        for one, size in zip(part, shape, strict=True)
    )
    rows, cols = (one.stop - one.start for one in part)
    return (lines, across), np.s_[above : above + rows, before : before + cols]


def _thin_edges(darkness: Image, judged: Enlarged, part: Box, least: float) -> tuple[Floats, Floats]:
    """Return the edges in a part of a level that are steeper than `least`, and how steep its pixels are, one of many.

    Of each edge, (5, N): the sub-pixel place, x and y, the unit vector towards the dark side, right and down, and how
    steep it is.
    """
    part = _judged_in(judged, part)
    if part[0].start == part[0].stop:
        return np.empty((5, 0), np.float32), np.empty(0, np.float32)
    (lines, across), within = _haloed(part, darkness.shape)
    smooth = cv2.GaussianBlur(darkness[lines, across], NEAR, SMOOTHING_PX)
    to_right = cv2.Scharr(smooth, cv2.CV_32F, 1, 0, scale=1 / 32)
    down = cv2.Scharr(smooth, cv2.CV_32F, 0, 1, scale=1 / 32)
    steep = to_right * to_right  # squared: few of the roots are asked for
    steep += np.multiply(down, down, out=smooth)
    for lying, one, size in ((steep, lines, darkness.shape[0]), (steep.T, across, darkness.shape[1])):
        lying[: max(BORDER_PX - one.start, 0)] = 0
        lying[max(size - BORDER_PX - one.start, 0) :] = 0
    inner, every, where = steep[within], CALM_PX[darkness.size > LARGE_PX], judged[part]
    calm = inner[::every, ::every][where[::every, ::every]]
    at, cols = np.zeros(steep.shape, bool), steep.shape[1]
    np.logical_and(inner > np.float32(least) ** 2, where, out=at[within])
    place = np.flatnonzero(at)
    here = steep.take(place)
    root = np.sqrt(here)
    ux, uy = to_right.take(place) / root, down.take(place) / root
    step = (np.rint(uy) * cols + np.rint(ux)).astype(np.intp)
    ahead, behind = steep.take(place + step), steep.take(place - step)
    crest = np.flatnonzero((here >= ahead) & (here > behind))
    row, col = np.divmod(place.take(crest), cols)
    here, ux, uy = (one.take(crest) for one in (root, ux, uy))
    ahead, behind = np.sqrt(ahead.take(crest)), np.sqrt(behind.take(crest))
    shift = np.clip(0.5 * (ahead - behind) / (2 * here - ahead - behind + 1e-9), -0.5, 0.5)
    edges = np.stack([col + across.start + shift * ux, row + lines.start + shift * uy, ux, uy, here])
    return edges.astype(np.float32), np.sqrt(calm.ravel())


def _judged_in(judged: Enlarged, part: Box) -> Box:
    """Return the rectangle of a part that holds all of it that is judged, from a pixel that tells of the grain."""
    *_, box = judged.cut(part).box(0)
    rows, cols = (
        slice(whole.start + one.start // CALM_PX[1] * CALM_PX[1], min(whole.start + one.stop, whole.stop))
        for whole, one in zip(part, box, strict=True)
    )
    return rows, cols


def _middle(shape: tuple[int, ...]) -> Box:
    """Return some lines in the middle of a picture of `shape`."""
    first = max(shape[0] - MIDDLE_PX, 0) // 2
    return slice(first, min(first + MIDDLE_PX, shape[0])), slice(0, shape[1])


def _least(calm: Floats) -> float:
    """Return how steep an edge is at least, from the steepness of the pixels of a picture.

    The calmer of them are noise: the length of two of its components is below 0.7585 standard deviations of one in a
    quarter of the pixels.
    """
    grain = quantile(calm, 0.25) / 0.7585 if calm.size else 0.0
    return max(FAINTEST_EDGE, LEAST_EDGE * grain)
