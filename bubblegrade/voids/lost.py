"""How much light voids take: those that are counted (cover) and those too small to count (veil)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

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
SLOW_PX: Final = 8.0  # a change of darkness wider than this is shading, not a speck
LEAST_SPECK: Final = 5.0  # of the smoothed noise
USUAL_DARKNESS: Final = 0.45  # of a void's silhouette on average, where no void tells (optics.darkness, wide light)
STRIP_PX: Final = 192  # lines worked on at once: they stay in the cache; a multiple of three
STEEP: Final = 0.05  # darkness at which a smoothed speck is worth its neighbours too


@dataclass(frozen=True, eq=False)
class _Strip:
    """What some lines of a picture tell."""

    area_px: int  # judged
    near_px: int  # of it that lie in a void's halo
    taken: float  # darkness there, summed
    clear: Mask  # where specks are looked for
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


def lost_light(darkness: Image, voids: Voids, aside: Mask, judged: Mask, *, speckable: Mask, noise: float) -> LostLight:
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
    searched = max(sum(np.count_nonzero(strip.clear) for strip in strips), 1)
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


def _strip(darkness: Image, own: Mask, aside: Mask, judged: Mask, speckable: Mask, lines: slice) -> _Strip:
    """Return what some lines tell."""
    area = judged[lines] & ~aside[lines]
    near = own[lines] & area
    mark, side = np.ones((MARK_HALO_PX, MARK_HALO_PX), np.uint8), int(4 * SLOW_PX) + 1
    halo = _within(aside.view(np.uint8), lines, MARK_HALO_PX // 2, lambda part: cv2.dilate(part, mark))
    clear = area & speckable[lines] & ~near & (halo == 0)
    smooth = _within(darkness, lines, SMOOTHED_PX, lambda part: cv2.GaussianBlur(part, (0, 0), SMOOTHING_PX))
    smooth -= _within(darkness, lines, side // 2, lambda part: cv2.blur(part, (side, side)))
    steep = np.flatnonzero(clear & (smooth > STEEP))
    return _Strip(
        area_px=int(np.count_nonzero(area)), near_px=int(np.count_nonzero(near)),
        taken=float(darkness[lines][near].sum(dtype=np.float64)), clear=clear,
        thinned=smooth[::3, ::3][clear[::3, ::3]], steep=steep, smooth=smooth.ravel()[steep],
    )  # fmt: skip


def _specks(darkness: Image, strips: list[_Strip], lines: list[slice]) -> tuple[float, int, float]:
    """Return the darkness of the specks that stand out of the noise, their pixels, and the smoothed picture's noise."""
    thinned = np.concatenate([strip.thinned for strip in strips])
    if not thinned.size:
        return 0.0, 0, 0.0
    floor = 1.4826 * median(np.abs(thinned - np.float32(median(thinned))))
    found = np.zeros(darkness.shape, np.uint8)
    for strip, part in zip(strips, lines, strict=True):
        found[part].ravel()[strip.steep[strip.smooth > LEAST_SPECK * floor]] = 1

    def rest(strip: _Strip, part: slice) -> tuple[float, int]:
        near = _within(found, part, 1, lambda seen: cv2.dilate(seen, np.ones((3, 3), np.uint8)))
        speck = near.view(bool) & strip.clear
        return float(darkness[part][speck].sum(dtype=np.float64)), int(np.count_nonzero(speck))

    taken, count = zip(*each(lambda pair: rest(*pair), list(zip(strips, lines, strict=True))), strict=True)
    return sum(taken), sum(count), floor
