"""What the middle of a void must show, by optics, whatever was learned of how voids look.

It passes the light: what is as dark in its middle as at its border is a spot of paint, an opaque body, or a mark on the
light. But not all of it: both faces of the void reflect some (Fresnel's equations: 8 % in resin of index 1.5). A ring
whose middle takes nothing is painted, printed or of metal, or a drop of what bends light as resin does.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade import optics
from bubblegrade.casting.transmittance import TINTED
from bubblegrade.quantiles import quantile
from bubblegrade.settings import Settings
from bubblegrade.voids.cores import MIDDLE, TELLING, telling_cores
from bubblegrade.voids.features import LEAST_DEPTH, VIEW
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import Verdicts

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Codes = NDArray[np.uint8] | NDArray[np.uint16]

BODY: Final = 0.8  # of the radius: what a void takes of the light within it is told from its edge,
BODY_DARK: Final = 0.9  # and is more than this in narrow light alone: 0.86 at most of 8,615 voids; eyes take more,
GLEAM_DARK: Final = 0.7  # and their middle too: a gleam takes 0.84, a void in light of 9 degrees 0.66 at most there
CORED_BLUR: Final = 0.12  # the photograph's blur over the radius, up to which a void shows its core;
CORE: Final = 0.45  # of the radius: within it
CORELESS: Final = 0.8  # of the darkest ring: no void of 17,000 is so dark there, 0.74 at most; painted spots 0.85
LIGHTEST: Final = 0.1  # share of what lies within that
WHOLE_RADIUS_PX: Final = 10.0  # of a ring whose middle tells whether it takes any light,
WHOLE_BLUR: Final = 0.08  # the photograph's blur over that radius,
NOTHING: Final = 0.25  # of what Fresnel's equations say: within so much of none lie 0.2 % of voids
AROUND: Final = (1.15, 1.75)  # radii between which lies what the middle is held against,
BRIGHT: Final = 0.25  # its quantile of darkness: shade on one side, or another void, darkens what is around
OTHERS: Final = 8  # so many other rings must take their share, or sharpening has brightened all middles:
SHARE: Final = 0.7  # three in four of them this much of it
FULL: Final = 0.98  # of the codes' scale: light up to its end hides what a void takes of it
_STEPS: Final = np.linspace(VIEW.inner, VIEW.outer, VIEW.radii)
_MIDDLE: Final = int(np.count_nonzero(_STEPS <= MIDDLE))
_BODY: Final = _STEPS[_STEPS <= BODY].astype(np.float32)
_CORE: Final = int(np.count_nonzero(_STEPS <= CORE))
_RING: Final = slice(_CORE - 1, int(np.count_nonzero(_STEPS <= 1.0)))
_AROUND: Final = slice(*np.searchsorted(_STEPS, AROUND))


def held_to_optics(
    verdicts: Verdicts, fits: Fits, rays: Floats, codes: Codes, settings: Settings, *, blur_px: float, passes: float
) -> tuple[Verdicts, Mask]:
    """Return what is learned of N candidates, held to optics, and in the middle of which no light is lost, (N,).

    Spots are no voids. What takes no light is unsure: what lies under a void may be brighter than what is around. In
    tinted resin nothing is told by that: a void takes the place of resin, which would take more.

    Parameters
    ----------
    verdicts
        What is learned of each candidate.
    fits
        Its ring.
    rays
        What is seen around it, as in `Looks`.
    codes
        The photograph, grey (rows, cols) or (rows, cols, 3).
    settings
        From which probability on a find counts, or is unsure.
    blur_px
        Standard deviation of the photograph's blur.
    passes
        Share of the bare light that clear resin passes; NaN where it is not known.
    """
    likely, whole = verdicts.likely.copy(), np.zeros(len(fits), bool)
    rows = np.flatnonzero(likely >= settings.accept)
    some, seen = fits[rows], rays[rows]
    spots = dark_throughout(some, seen) | evenly_dark(some, seen, blur_px=blur_px)
    lossless = takes_nothing(some, seen, blur_px=blur_px, index=settings.index)
    whole[rows] = ~spots & lossless & ~_at_full_scale(some, codes) & (not passes < TINTED)
    likely[rows[spots]] = 0.0
    likely[whole] = settings.unsure
    return replace(verdicts, likely=likely), whole


def dark_throughout(fits: Fits, rays: Floats) -> Mask:
    """Return which of N candidates let so little light through that they are opaque, (N,); `rays` as in `Looks`.

    A gleam on a dark ball makes it a ring with a small core, as a void in narrow light has; but a void's passes the
    light. Where blur takes it, nothing tells.
    """
    dark = rays[:, :, : len(_BODY)].mean(axis=1) * _depth(fits) + fits.level[:, None]
    body, middle = dark @ (_BODY / _BODY.sum()), dark[:, :_MIDDLE].min(axis=1)
    return np.asarray(telling_cores(fits) & (body > BODY_DARK) & (middle > GLEAM_DARK))


def evenly_dark(fits: Fits, rays: Floats, *, blur_px: float) -> Mask:
    """Return which of N candidates are as dark within as where they are darkest, (N,), though blur fills no core.

    Where the photograph's blur is wide for the size, nothing tells.
    """
    lightest = _quantile(rays[:, :, :_CORE], LIGHTEST)
    darkest = np.median(rays[:, :, _RING], axis=1).max(axis=1)
    return np.asarray((blur_px < CORED_BLUR * fits.radius_px) & (lightest > CORELESS * darkest))


def takes_nothing(fits: Fits, rays: Floats, *, blur_px: float, index: float) -> Mask:
    """Return which of N candidates are as light in their middle as the lighter part of what is around, (N,).

    None are where the middles of the others show that the photograph's sharpening, or its tones, make them lighter.
    """
    over = _quantile(rays[:, :, :_MIDDLE], TELLING) - _quantile(rays[:, :, _AROUND], BRIGHT)
    taken = over * _depth(fits)[:, 0]
    large = (fits.radius_px > WHOLE_RADIUS_PX) & (blur_px < WHOLE_BLUR * fits.radius_px)
    lost = 1.0 - float(optics.passed(0.0, index=index))
    nothing = np.abs(taken) < NOTHING * lost
    others = taken[large & ~nothing]
    if len(others) >= OTHERS and quantile(others, 1 / 4) < SHARE * lost:
        return np.zeros(len(fits), bool)
    return np.asarray(large & nothing)


def _at_full_scale(fits: Fits, codes: Codes) -> Mask:
    """Return in the middle of which of N candidates a colour's light reaches the end of the scale, (N,)."""
    rows, cols = codes.shape[:2]
    x, y = (np.rint(at).astype(np.intp) for at in (fits.x_px, fits.y_px))
    there = codes[np.clip(y, 0, rows - 1), np.clip(x, 0, cols - 1)]
    return np.asarray(np.atleast_2d(there.T).max(axis=0) > FULL * np.iinfo(codes.dtype).max)


def _depth(fits: Fits) -> Floats:
    """Return by what the rays of N fits were divided, (N, 1)."""
    return np.maximum(fits.depth, np.float32(LEAST_DEPTH))[:, None]


def _quantile(rays: Floats, share: float) -> Floats:
    """Return a quantile of the samples of each of N candidates, (N,), the next one below it."""
    samples = rays.reshape(len(rays), rays.shape[1] * rays.shape[2])
    place = int(share * samples.shape[1])
    return np.asarray(np.partition(samples, place, axis=1)[:, place])
