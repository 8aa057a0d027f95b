"""How much light voids take: those that are counted (cover) and those too small to count (veil)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.enlarged import Enlarged
from bubblegrade.quantiles import median
from bubblegrade.threads import each, runs
from bubblegrade.voids.mark_looks import nonzero
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
USUAL_DARKNESS: Final = 0.45  # of a void's silhouette on average, where no void tells (optics.darkness, wide light)
STRIP_PX: Final = 192  # lines worked on at once: they stay in the cache; a multiple of THINNED
ENOUGH: Final = 300_000  # of these places, or a few more, tell the noise
STEEP: Final = 0.05  # darkness at which a smoothed speck is worth its neighbours too


@dataclass(frozen=True, eq=False)
class _Strip:
    """What some lines of a picture tell."""

    area_px: int  # judged
    near_px: int  # of it that lie in a void's halo
    taken: float  # darkness there, summed
    clear_px: int  # of the pixels where specks are looked for
    clear: NDArray[np.uint8]  # these, eight in a number
    thinned: Floats  # smoothed darkness there, of one pixel in nine
    steep: NDArray[np.intp]  # places in the lines that may be specks
    smooth: Floats  # smoothed darkness of these


@dataclass(frozen=True)
class LostLight:
    """Shares of the judged area, [0, 1]."""

    area_px: int  # of which these are shares
    cover: float
    cover_err: float  # one standard uncertainty, from noise and from the voids' own darkness
    veil: float
    veil_err: float


def lost_light(
    darkness: Image, voids: Voids, aside: Mask, judged: Mask | Enlarged, *, speckable: Mask | Enlarged, noise: float
) -> LostLight:
    """Return cover and veil from the darkness summed over the judged area.

    A void of given size takes the same sum of darkness however it is blurred or sampled, so the sum does not hang on
    where single edges are drawn. It is turned into area by what the voids of this photograph take per silhouette.

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
    """
    own, lines = discs(darkness.shape, voids, HALO), runs(len(darkness), STRIP_PX)
    strips = each(lambda part: _strip(darkness, own, aside, judged, speckable, part), lines)
    total = sum(strip.area_px for strip in strips)
    if not total:
        return LostLight(0, *(float("nan"),) * 4)
    silhouette, spread = _darkness_each(voids)
    cover = min(max(sum(strip.taken for strip in strips) / silhouette / total, 0.0), 1.0)
    grain = noise * np.sqrt(sum(strip.near_px for strip in strips)) / silhouette / total
    rest, specks, floor = _specks(darkness, strips, lines)
    searched = max(sum(strip.clear_px for strip in strips), 1)
    veil = min(max(rest / silhouette / searched, 0.0), 1.0)
    veil_err = np.hypot(noise * np.sqrt(specks), floor * specks) / silhouette / searched
    return LostLight(total, cover, float(np.hypot(cover * spread, grain)), veil, float(veil_err))


def discs(shape: tuple[int, ...], voids: Voids, factor: float) -> Mask:
    """Return (rows, cols) True within `factor` radii of any void."""
    drawn = np.zeros(shape[:2], np.uint8)
    x, y, radius = np.rint(16 * np.stack([voids.x_px, voids.y_px, factor * voids.diameter_px / 2])).astype(int)
    for *centre, reach in zip(x.tolist(), y.tolist(), np.maximum(radius, 8).tolist(), strict=True):
        cv2.circle(drawn, centre, reach, 1, thickness=-1, shift=4)
    return drawn.view(bool)


def _darkness_each(voids: Voids) -> tuple[float, float]:
    """Return a silhouette's mean darkness, and the relative uncertainty of it."""
    told = np.isfinite(voids.contrast)
    if told.sum() < 5:  # noqa: PLR2004
        return USUAL_DARKNESS, 0.15
    known, size = voids.contrast[told], voids.diameter_px[told]
    typical = float(np.average(known, weights=size))  # by size: the depth of a small ring is read least well
    scatter = 1.4826 * float(np.median(np.abs(known - typical)))
    return max(typical, 0.1), scatter / typical / float(np.sqrt(told.sum()))


def _within(picture: NDArray[Any], lines: slice, reach: int, blurred: Callable[[NDArray[Any]], Any]) -> NDArray[Any]:
    """Return some lines of a blurred picture, whose blur reaches so many lines."""
    first = max(lines.start - reach, 0)
    return np.asarray(blurred(picture[first : lines.stop + reach])[lines.start - first :][: lines.stop - lines.start])


def _strip(
    darkness: Image, own: Mask, aside: Mask, judged: Mask | Enlarged, speckable: Mask | Enlarged, lines: slice
) -> _Strip:
    """Return what some lines tell."""
    area = judged[lines] & ~aside[lines]
    near = own[lines] & area
    clear = area & speckable[lines]
    clear &= ~near
    around = slice(max(lines.start - MARK_HALO_PX, 0), lines.stop + MARK_HALO_PX)
    if aside[around].any():
        mark = np.ones((MARK_HALO_PX, MARK_HALO_PX), np.uint8)
        clear &= _within(aside.view(np.uint8), lines, MARK_HALO_PX // 2, lambda part: cv2.dilate(part, mark)) == 0
    smooth = _within(darkness, lines, SMOOTHED_PX, lambda part: cv2.GaussianBlur(part, (0, 0), SMOOTHING_PX))
    slow, thinned = _slow(darkness, lines), np.s_[::THINNED, ::THINNED]
    shade = slow[clear[thinned]]
    maybe = np.flatnonzero(clear & (smooth > STEEP + shade.min(initial=0.0)))
    row, col = np.divmod(maybe, smooth.shape[1])
    speck = smooth.ravel()[maybe] - slow[row // THINNED, col // THINNED]
    kept = speck > STEEP
    return _Strip(
        area_px=int(np.count_nonzero(area)), near_px=int(np.count_nonzero(near)),
        taken=float(darkness[lines][nonzero(near)].sum(dtype=np.float64)),
        clear_px=int(np.count_nonzero(clear)), clear=np.packbits(clear),
        thinned=smooth[thinned][clear[thinned]] - shade, steep=maybe[kept], smooth=speck[kept],
    )  # fmt: skip


def _slow(darkness: Image, lines: slice) -> Image:
    """Return the shading of some lines, one value for each square of THINNED px."""
    reach = SLOW_PX // 2 * THINNED
    first = max(lines.start - reach, 0)
    part = darkness[first : lines.stop + reach]
    rows, cols = (max(size // THINNED, 1) for size in part.shape)
    small = cv2.resize(part[: rows * THINNED, : cols * THINNED], (cols, rows), interpolation=cv2.INTER_AREA)
    whole = -(-part.shape[0] // THINNED), -(-part.shape[1] // THINNED)
    small = np.pad(small, ((0, whole[0] - rows), (0, whole[1] - cols)), mode="edge")
    slow = cv2.blur(small, (SLOW_PX, SLOW_PX))[(lines.start - first) // THINNED :]
    return np.asarray(slow[: -(-(lines.stop - lines.start) // THINNED)], np.float32)


def _specks(darkness: Image, strips: list[_Strip], lines: list[slice]) -> tuple[float, int, float]:
    """Return the darkness of the specks that stand out of the noise, their pixels, and the smoothed picture's noise."""
    thinned = np.concatenate([strip.thinned for strip in strips])
    if not thinned.size:
        return 0.0, 0, 0.0
    some = thinned[:: 1 + thinned.size // ENOUGH]
    floor = 1.4826 * median(np.abs(some - np.float32(median(some))))
    found = np.zeros(darkness.shape, np.uint8)
    for strip, part in zip(strips, lines, strict=True):
        found[part].ravel()[strip.steep[strip.smooth > LEAST_SPECK * floor]] = 1

    def rest(strip: _Strip, part: slice) -> tuple[float, int]:
        near = _within(found, part, 1, lambda seen: cv2.dilate(seen, np.ones((3, 3), np.uint8)))
        if not near.any():
            return 0.0, 0
        speck = (near & np.unpackbits(strip.clear, count=near.size).reshape(near.shape)).view(bool)
        return float(darkness[part][speck].sum(dtype=np.float64)), int(np.count_nonzero(speck))

    taken, count = zip(*each(lambda pair: rest(*pair), list(zip(strips, lines, strict=True))), strict=True)
    return sum(taken), sum(count), floor
