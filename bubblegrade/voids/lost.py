"""How much light voids take: those that are counted (cover) and those too small to count (veil)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.threads import each, runs
from bubblegrade.voids.table import Voids

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]

HALO: Final = 1.25  # radii up to which a void's darkness reaches
MARK_HALO_PX: Final = 9  # side of the square around a mark's pixels in which its own blur and ringing show
SMOOTHING_PX: Final = 1.2
SLOW_PX: Final = 8.0  # a change of darkness wider than this is shading, not a speck
LEAST_SPECK: Final = 5.0  # of the smoothed noise
USUAL_DARKNESS: Final = 0.45  # of a void's silhouette on average, where no void tells (optics.darkness, wide light)
STRIP_PX: Final = 192  # lines worked on at once: they stay in the cache; a multiple of three
STEEP: Final = 0.05  # darkness at which a smoothed speck is worth its neighbours too


@dataclass(frozen=True)
class LostLight:
    """Shares of the judged area, [0, 1]."""

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
    area = judged & ~aside
    total = int(area.sum())
    if not total:
        return LostLight(cover=float("nan"), cover_err=float("nan"), veil=float("nan"), veil_err=float("nan"))
    near = discs(darkness.shape, voids, HALO) & area
    silhouette, spread = _darkness_each(voids)
    taken = float(darkness[near].sum(dtype=np.float64))
    cover = min(max(taken / silhouette / total, 0.0), 1.0)
    halo = cv2.dilate(aside.view(np.uint8), np.ones((MARK_HALO_PX, MARK_HALO_PX), np.uint8))
    clear = area & speckable
    clear &= ~near
    clear &= halo == 0
    speck, floor = _specks(darkness, clear)
    rest = float(darkness[speck].sum(dtype=np.float64))
    searched = max(int(clear.sum()), 1)
    veil = min(max(rest / silhouette / searched, 0.0), 1.0)
    grain = noise * np.sqrt(float(near.sum())) / silhouette / total
    veil_err = np.hypot(noise * np.sqrt(float(speck.sum())), floor * speck.sum()) / silhouette / searched
    return LostLight(cover=cover, cover_err=float(np.hypot(cover * spread, grain)), veil=veil, veil_err=float(veil_err))


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


def _specks(darkness: Image, where: Mask) -> tuple[Mask, float]:
    """Return where specks stand out of the noise, and the noise of the smoothed picture."""
    side, cols = int(4 * SLOW_PX) + 1, where.shape[1]

    def steep(lines: slice) -> tuple[Floats, NDArray[np.intp], Floats]:
        """Return some lines' smoothed pixels, one of nine, and place and smoothed darkness of the steep ones."""
        first, inside = max(lines.start - side, 0), where[lines]
        part = darkness[first : lines.stop + side]
        smooth: Image = np.asarray(cv2.GaussianBlur(part, (0, 0), SMOOTHING_PX), np.float32)
        cv2.subtract(smooth, cv2.blur(part, (side, side)), dst=smooth)
        smooth = smooth[lines.start - first : lines.stop - first]
        at = np.flatnonzero(inside & (smooth > STEEP))
        return smooth[::3, ::3][inside[::3, ::3]], at + lines.start * cols, smooth.ravel()[at]

    thinned, at, value = (np.concatenate(part) for part in zip(*each(steep, runs(len(where), STRIP_PX)), strict=True))
    if not thinned.size:
        return np.zeros(where.shape, bool), 0.0
    floor = float(1.4826 * np.median(np.abs(thinned - np.median(thinned))))
    found = np.zeros(where.shape, np.uint8)
    found.ravel()[at[value > LEAST_SPECK * floor]] = 1
    return cv2.dilate(found, np.ones((3, 3), np.uint8)).view(bool) & where, floor
