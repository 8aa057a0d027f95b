"""The dark rim of a piece: how far in from the outline its curved flanks bend the light away, and what bulges from it.

Along the outline the rim is about as wide as near by; a void, a hanger or a flake that touches it makes it wider over a
short way. A running median over the outline therefore tells the rim from what lies at it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from bubblegrade.inspection.breaks import Unrolled, breaks_of
from bubblegrade.inspection.depth import depth, touching
from bubblegrade.inspection.extent import Along
from bubblegrade.inspection.straddling import straddling
from bubblegrade.quantiles import median, quantile

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
Places = NDArray[np.intp]
Image = NDArray[np.float32]

WINDOW: Final = 0.14  # of the outline's length over which the rim's width is a median: wider than two voids beside it
ALONG: Final = 4  # squares of the outline that share a width: depth is counted from the nearest, so some have none
WIDER: Final = 1.3  # of the rim's width that is still the rim,
SLACK: Final = 2.0  # and squares added to it
LEAST_BULGE: Final = 3.0  # squares, and
LEAST_SHARE: Final = 0.3  # of the rim's width: smaller bulges are the rim's own roughness
MOST: Final = 0.9  # of the rim's squares: as deep as these it is looked at for what breaks it
SOLID_BULGE: Final = 0.85  # of a bulge's hull that is opaque: it is hardware that touches the rim
LEAST_DARK: Final = 0.4  # of its disc, as at a void from 0.46 to 1: less, down to 0.16, is a wire that runs across


@dataclass(frozen=True, eq=False)
class Rim:
    """What of a piece, on its grid, is the dark rim."""

    mask: Mask  # (rows, cols)
    bulges: Floats  # (N, 3) middle x, y and diameter of what bulges from the rim and may be a void, in squares
    breaks: Floats  # (N, 3) likewise, of what shows in it: the diameter of the largest void that may show so


def rim_of(piece: Mask, dark: Mask, opaque: Mask, lit: Image) -> Rim:
    """Return the rim of a piece.

    Parameters
    ----------
    piece
        (rows, cols), the squares within the outline.
    dark
        Its squares through which nothing can be judged, those of counted voids left out.
    opaque
        Those that let hardly any light through.
    lit
        (rows, cols), light over that of the clear resin.
    """
    inside = depth(piece)
    held = touching(dark & piece, piece & (inside <= SLACK))
    if not held.any():
        return Rim(np.zeros_like(piece), np.empty((0, 3)), np.empty((0, 3)))
    band = _unrolled(piece, inside, held)
    unrolled = band[held[band.rows, band.cols]]
    usual = _usual(_deepest(_unbroken(band, held)))
    mask = np.zeros_like(piece)
    rim = unrolled.depth <= WIDER * usual[unrolled.place] + SLACK
    mask[unrolled.rows[rim], unrolled.cols[rim]] = True
    width = _deepest(unrolled)
    own = WIDER * _usual(width) + SLACK  # along a wire that reaches the rim nothing bulges
    bulges = [
        _bulge(unrolled, own, run, dark, opaque) for run in _runs(ndimage.maximum_filter1d(width, 3, mode="wrap") > own)
    ]
    found = np.array([each for each in bulges if each is not None], np.float64).reshape(-1, 3)
    along = Along.of(piece, lit, float(2 * usual.max()))
    breaks = breaks_of(band[band.depth <= quantile(unrolled.depth, MOST)], along, lit, usual)
    return Rim(mask, found, _each_once(np.concatenate([breaks, straddling(along, dark & piece)])))


def _each_once(found: Floats) -> Floats:
    """Return what was found, (N, 3) middle x, y, diameter, without what lies in something larger; the largest first."""
    kept = np.empty((0, 3))
    for each in found[np.argsort(-found[:, 2], kind="stable")]:
        if (np.hypot(kept[:, 0] - each[0], kept[:, 1] - each[1]) >= kept[:, 2] / 2).all():
            kept = np.vstack([kept, each])
    return kept


def _unrolled(piece: Mask, inside: NDArray[np.float32], held: Mask) -> Unrolled:
    """Return the squares that are `held`, and all that are as deep as most of those, in steps of ALONG squares."""
    outlines, _ = cv2.findContours(piece.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=len)[:, 0, :]
    squares = np.flatnonzero(held | (piece & (inside <= quantile(inside[held], MOST))))
    rows, cols = np.divmod(squares, piece.shape[1])
    off = np.ones(piece.shape, np.uint8)
    off[outline[:, 1], outline[:, 0]] = 0
    _, nearest = cv2.distanceTransformWithLabels(off, cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL)
    along = np.zeros(len(outline) + 1, np.intp)
    along[nearest[outline[:, 1], outline[:, 0]]] = np.arange(len(outline))
    place = along[nearest[rows, cols]]
    places = -(-len(outline) // ALONG)
    return Unrolled(rows, cols, inside[rows, cols].astype(np.float64), place // ALONG, places)


def _unbroken(band: Unrolled, held: Mask) -> Unrolled:
    """Return the squares that are `held` and dark all the way from the outline: a wire behind clear resin is not."""
    dark = held[band.rows, band.cols]
    depth = band.depth.astype(np.intp)
    shape = band.places, int(depth.max()) + 1
    lit, told = (np.bincount(band.place[rows] * shape[1] + depth[rows], minlength=shape[0] * shape[1]).reshape(shape)
                 for rows in (~dark, dark))  # fmt: skip
    ends = (lit > 0) & (told == 0) & (np.arange(shape[1]) > SLACK)
    end = np.where(ends.any(axis=1), ends.argmax(axis=1), shape[1])
    return band[dark & (depth < end[band.place])]


def _deepest(squares: Unrolled) -> Floats:
    """Return how deep the squares reach, by place along the outline."""
    width = np.zeros(squares.places)
    np.maximum.at(width, squares.place, squares.depth)
    return width


def _usual(width: Floats) -> Floats:
    """Return the width of the rim near by, by place along the outline."""
    return np.asarray(ndimage.median_filter(width, max(3, int(WINDOW * len(width)) | 1), mode="wrap"))


def _runs(wide: Mask) -> list[Places]:
    """Return the runs of places along the closed outline where `wide` holds."""
    if wide.all() or not wide.any():
        return []
    start = int(np.flatnonzero(~wide)[0])
    turned = np.roll(wide, -start)
    ends = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]]).astype(np.int8)))
    return [(np.arange(a, b) + start) % len(wide) for a, b in ends.reshape(-1, 2)]


def _bulge(unrolled: Unrolled, own: Floats, run: Places, dark: Mask, opaque: Mask) -> tuple[float, float, float] | None:
    """Return middle and diameter of what bulges from the rim over a run; None where it is too small or no void."""
    mine = np.isin(unrolled.place, run) & (unrolled.depth > own[unrolled.place])
    rim = median(own[run]) / WIDER
    deep = float(unrolled.depth[mine].max(initial=0.0)) - rim
    if min(ALONG * len(run), deep) < max(LEAST_BULGE, LEAST_SHARE * rim):
        return None
    cells = np.stack([unrolled.cols[mine], unrolled.rows[mine]], axis=1).astype(np.int32)
    hull, disc = (np.zeros(opaque.shape, np.uint8) for _ in range(2))
    cv2.fillConvexPoly(hull, cv2.convexHull(cells), 1)
    (x, y), reach = cv2.minEnclosingCircle(cells)
    cv2.circle(disc, (round(x), round(y)), math.ceil(reach), 1, -1)
    if opaque[hull > 0].mean() > SOLID_BULGE or dark[disc > 0].mean() < LEAST_DARK:
        return None
    return float(x), float(y), 2 * float(reach) + 1
