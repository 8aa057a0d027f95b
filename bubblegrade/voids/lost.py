"""How much light voids take: those that are counted (cover) and those too small to count (veil)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.enlarged import Enlarged
from bubblegrade.quantiles import median
from bubblegrade.threads import each, runs
from bubblegrade.voids.table import Voids

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]

HALO: Final = 1.25  # radii up to which a void's darkness reaches
MARK_HALO_PX: Final = 9  # side of the square around a mark's pixels in which its own blur and ringing show
SMOOTHING_PX: Final = 1.2
SMOOTHED_PX: Final = 6  # lines farther away make no difference to that
THINNED: Final = 3  # one pixel of so many each way tells of shading and noise; and of the pictures so thinned
SLOW_PX: Final = 11  # side of the square over which darkness is averaged: what changes more widely is no speck
LEAST_SPECK: Final = 5.0  # of the smoothed noise
WIDEST: Final = 3.0  # of the smallest countable void: what is connected farther is a line, an edge or a ring, no speck
USUAL_DARKNESS: Final = 0.45  # of a void's silhouette on average, where no void tells (optics.darkness, wide light)
STRIP_PX: Final = 192  # lines worked on at once: they stay in the cache; a multiple of THINNED
TINY: Final = 1e-6  # of the squares around: none, but for rounding
UNTOLD: Final = 1.0  # the shading where no square around tells it: nothing stands out of that
FULL: Final = 255
SPECKS_ERR: Final = 0.51  # of the veil: 95 % from none of it, being dust, to twice, as faint specks are missed
ENOUGH: Final = 300_000  # of these places, or a few more, tell the noise
STEEP: Final = 0.05  # darkness at which a smoothed speck is worth its neighbours too


@dataclass(frozen=True, eq=False)
class _Strip:
    """What some lines of a picture tell."""

    area_px: int  # judged
    covered_px: int  # of it that voids cover
    clear_px: int  # of the pixels where specks are looked for
    clear: NDArray[np.uint8]  # these, eight in a number
    shade: Floats  # darkness around, one value for each square of THINNED px
    thinned: Floats  # smoothed darkness where specks are looked for over that, of one pixel in nine
    steep: NDArray[np.intp]  # places in the lines that may be specks
    smooth: Floats  # smoothed darkness of these


@dataclass(frozen=True)
class LostLight:
    """Shares of the judged area, [0, 1]."""

    area_px: int  # of which these are shares
    cover: float
    cover_err: float  # one standard uncertainty, that of the voids' diameters
    veil: float
    veil_err: float


def lost_light(
    darkness: Image,
    voids: Voids,
    aside: Mask,
    judged: Mask | Enlarged,
    *,
    speckable: Mask | Enlarged,
    noise: float,
    smallest_px: float,
) -> LostLight:
    """Return the share of the judged area that voids cover, and what specks veil beside them.

    A speck is too small to have an edge. It takes the same sum of darkness however it is blurred or sampled, which is
    turned into area by what the voids of this photograph take per silhouette. Dark lines, edges and rings are wider
    than a speck one way at least and left out: wire and its eyes, veins of ink, the walls of an air chamber.

    Parameters
    ----------
    darkness
        (rows, cols).
    voids
        The counted voids.
    aside
        (rows, cols): what belongs to flakes, fibres, hardware; left out on both sides.
    judged
        (rows, cols): where the casting is judged.
    speckable
        (rows, cols): the part of `judged` that is clear of the border's own shade; the veil is measured there.
    noise
        Standard deviation of a pixel's darkness.
    smallest_px
        Diameter from which on voids are counted.
    """
    shape = darkness.shape[0], darkness.shape[1]
    own, near, lines = silhouettes(shape, voids), discs(shape, voids, HALO), runs(len(darkness), STRIP_PX)
    strips = each(lambda part: _strip(darkness, (own, near), aside, judged, speckable, part), lines)
    total = sum(strip.area_px for strip in strips)
    if not total:
        return LostLight(0, *(float("nan"),) * 4)
    cover = sum(strip.covered_px for strip in strips) / total
    rest, specks, floor = _specks(darkness, strips, lines, WIDEST * smallest_px)
    area = max(sum(strip.clear_px for strip in strips), 1) * _darkness_each(voids)
    veil = min(max(rest / area, 0.0), 1.0)
    veil_err = math.hypot(noise * math.sqrt(specks) / area, floor * specks / area, SPECKS_ERR * veil)
    return LostLight(total, cover, cover * _doubt(voids), veil, veil_err)


def silhouettes(shape: tuple[int, int], voids: Voids) -> Mask:
    """Return (rows, cols) True where a pixel's centre lies in the silhouette of any void."""
    drawn, radius = np.zeros(shape, np.bool_), voids.diameter_px / 2
    sides = np.floor(voids.diameter_px).astype(np.intp) + 2
    for side in np.unique(sides):  # those of one size together
        x, y, reach = (column[sides == side, None] for column in (voids.x_px, voids.y_px, radius))
        down, across = (np.ceil(at - reach).astype(np.intp) + np.arange(side) for at in (y, x))
        within = ((down - y) ** 2)[:, :, None] + ((across - x) ** 2)[:, None] <= (reach**2)[:, :, None]
        within &= ((down >= 0) & (down < shape[0]))[:, :, None] & ((across >= 0) & (across < shape[1]))[:, None]
        void, row, col = np.nonzero(within)
        drawn[down[void, row], across[void, col]] = True
    return drawn


def discs(shape: tuple[int, ...], voids: Voids, factor: float) -> Mask:
    """Return (rows, cols) True in every pixel that a disc of `factor` radii about a void touches."""
    drawn = np.zeros(shape[:2], np.uint8)
    x, y, radius = np.rint(16 * np.stack([voids.x_px, voids.y_px, factor * voids.diameter_px / 2])).astype(int)
    for *centre, reach in zip(x.tolist(), y.tolist(), np.maximum(radius, 8).tolist(), strict=True):
        cv2.circle(drawn, centre, reach, 1, thickness=-1, shift=4)
    return drawn.view(bool)


def _doubt(voids: Voids) -> float:
    """Return the relative uncertainty of what the voids cover: theirs together, as light and index are off for all."""
    area = float(np.sum(voids.diameter_px**2))
    return float(np.nansum(2 * voids.diameter_px * voids.diameter_err_px)) / area if area else 0.0


def _darkness_each(voids: Voids) -> float:
    """Return a silhouette's mean darkness."""
    told = np.isfinite(voids.contrast)
    if told.sum() < 5:  # noqa: PLR2004
        return USUAL_DARKNESS
    # By size: the depth of a small ring is read least well.
    return max(float(np.average(voids.contrast[told], weights=voids.diameter_px[told])), 0.1)


def _within(picture: NDArray[Any], lines: slice, reach: int, blurred: Callable[[NDArray[Any]], Any]) -> NDArray[Any]:
    """Return some lines of a blurred picture, whose blur reaches so many lines."""
    first = max(lines.start - reach, 0)
    return np.asarray(blurred(picture[first : lines.stop + reach])[lines.start - first :][: lines.stop - lines.start])


def _strip(
    darkness: Image,
    voids: tuple[Mask, Mask],
    aside: Mask,
    judged: Mask | Enlarged,
    speckable: Mask | Enlarged,
    lines: slice,
) -> _Strip:
    """Return what some lines tell; of the voids come where they lie and how far each darkens what is around it."""
    own, near = voids
    first = max(lines.start - SLOW_PX // 2 * THINNED, 0)
    wider = slice(first, min(lines.stop + SLOW_PX // 2 * THINNED, len(darkness)))
    free = judged[wider] & ~aside[wider] & speckable[wider] & ~near[wider]
    around = slice(max(wider.start - MARK_HALO_PX, 0), wider.stop + MARK_HALO_PX)
    if aside[around].any():
        mark = np.ones((MARK_HALO_PX, MARK_HALO_PX), np.uint8)
        free &= _within(aside.view(np.uint8), wider, MARK_HALO_PX // 2, lambda part: cv2.dilate(part, mark)) == 0
    own_lines = slice(lines.start - first, lines.stop - first)
    area, clear = judged[lines] & ~aside[lines], free[own_lines]
    smooth = _within(darkness, lines, SMOOTHED_PX, lambda part: cv2.GaussianBlur(part, (0, 0), SMOOTHING_PX))
    slow, thinned = _slow(darkness[wider], free, own_lines), np.s_[::THINNED, ::THINNED]
    shade = slow[clear[thinned]]
    maybe = np.flatnonzero(clear & (smooth > STEEP + shade.min(initial=0.0)))
    row, col = np.divmod(maybe, smooth.shape[1])
    speck = smooth.ravel()[maybe] - slow[row // THINNED, col // THINNED]
    kept = speck > STEEP
    return _Strip(
        area_px=int(np.count_nonzero(area)), covered_px=int(np.count_nonzero(own[lines] & area)),
        clear_px=int(np.count_nonzero(clear)), clear=np.packbits(clear), shade=slow,
        thinned=smooth[thinned][clear[thinned]] - shade, steep=maybe[kept], smooth=speck[kept],
    )  # fmt: skip


def _slow(darkness: Image, free: Mask, lines: slice) -> Image:
    """Return the shading of some lines, one value for each square of THINNED px, as `free` squares around tell it."""
    rows, cols = (max(size // THINNED, 1) for size in darkness.shape)
    whole = -(-darkness.shape[0] // THINNED), -(-darkness.shape[1] // THINNED)
    small, share = (
        cv2.resize(each[: rows * THINNED, : cols * THINNED], (cols, rows), interpolation=cv2.INTER_AREA)
        for each in (darkness, free.view(np.uint8) * np.uint8(FULL))
    )
    told = (share == FULL).astype(np.float32)
    taken, count = (
        cv2.blur(np.pad(each, ((0, whole[0] - rows), (0, whole[1] - cols)), mode="edge"), (SLOW_PX, SLOW_PX))[
            lines.start // THINNED : -(-lines.stop // THINNED)
        ]
        for each in (small * told, told)
    )
    return np.divide(taken, count, out=np.full_like(taken, UNTOLD), where=count > TINY)


def _specks(darkness: Image, strips: list[_Strip], lines: list[slice], widest_px: float) -> tuple[float, int, float]:
    """Return the darkness of the specks that stand out of the noise, their pixels, and the smoothed picture's noise."""
    thinned = np.concatenate([strip.thinned for strip in strips])
    if not thinned.size:
        return 0.0, 0, 0.0
    some = thinned[:: 1 + thinned.size // ENOUGH]
    floor = 1.4826 * median(np.abs(some - np.float32(median(some))))
    found = np.zeros(darkness.shape, np.uint8)
    for strip, part in zip(strips, lines, strict=True):
        found[part].ravel()[strip.steep[strip.smooth > LEAST_SPECK * floor]] = 1
    for line in cv2.findContours(found, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)[0]:
        if max(cv2.boundingRect(line)[2:]) > widest_px:
            cv2.drawContours(found, [line], -1, 0, thickness=cv2.FILLED)

    def rest(strip: _Strip, part: slice) -> tuple[float, int]:
        near = _within(found, part, 1, lambda seen: cv2.dilate(seen, np.ones((3, 3), np.uint8)))
        if not near.any():
            return 0.0, 0
        speck = (near & np.unpackbits(strip.clear, count=near.size).reshape(near.shape)).view(bool)
        row, col = np.divmod(np.flatnonzero(speck), speck.shape[1])
        over = darkness[part][row, col] - strip.shade[row // THINNED, col // THINNED]
        return float(over.sum(dtype=np.float64)), len(row)

    taken, count = zip(*each(lambda pair: rest(*pair), list(zip(strips, lines, strict=True))), strict=True)
    return sum(taken), sum(count), floor
