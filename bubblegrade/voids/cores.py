"""The photograph's tones, read in the middle of its voids.

There the light meets both faces of a void upright, and Fresnel's equations say what is lost: 8 % in resin of index 1.5,
whatever the light, the void's size and its depth. Tones that are drawn apart at the level of clear resin show more of
it, and rings seem larger; the light that blur and sharpening move about shows less.

Where middles are not seen, in lures and among small voids, the light that whole voids take tells flat tones: blur moves
that about and keeps its sum, so that it is the same for voids of any size. Where blur is much, fits lose a part of it
among what lies around.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade import optics
from bubblegrade.quantiles import median, quantile
from bubblegrade.voids.features import LEAST_DEPTH, VIEW
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.lighting import Lighting, usual_lighting
from bubblegrade.voids.rings import ring_table
from bubblegrade.voids.table import Voids

Floats = NDArray[np.float32]

LEAST_RADIUS_PX: Final = 7.0  # of a void whose middle stands clear of its ring,
MOST_BLUR: Final = 0.1  # and the blur over its radius: at 0.14 the ring darkens the middle to 1.4 times
MIDDLE: Final = 0.25  # of the radius: within it the light of even a narrow source passes upright
AT_EDGE: Final = 0.2  # radians: as near to its edge the light may already fade, and the angle is off by as much
LEAST_CORES: Final = 5  # fewer tell nothing
LEAST_RINGS: Final = 10  # that the light was measured by: from fewer its angle may be far off
LEVEL: Final = 1.3  # times: where the darkness grows by more within MIDDLE, the light does not fill it
WHOLE_PX: Final = 6.0  # diameter from which the darkness of a whole void is told apart from its size,
LEAST_WHOLE: Final = 5  # how many such voids tell,
WHOLE_BLUR_PX: Final = 1.8  # and their blur up to which they do: at 2.6 px every third photograph would seem flat
TELLING: Final = 0.4  # quantile of them that counts: dust and other voids only darken
_STEPS: Final = np.linspace(VIEW.inner, VIEW.outer, VIEW.radii)
_RADII: Final = int(np.count_nonzero(_STEPS <= MIDDLE))


def telling_cores(fits: Fits) -> NDArray[np.bool_]:
    """Return which rings are so large and sharp that the middle stands clear of them."""
    return np.asarray((fits.radius_px > LEAST_RADIUS_PX) & (fits.blur_px < MOST_BLUR * fits.radius_px))


def steepness_of(fits: Fits, rays: Floats, lighting: Lighting, *, index: float) -> float:
    """Return the darkness in the middle of N voids, chosen by `telling_cores`, over that by Fresnel.

    NaN where they are too few, and where the light is too narrow, or unknown, to fill their middles. They are evenly
    dark where it does; the angle alone may be far off.

    Parameters
    ----------
    fits
        The voids' rings.
    rays
        (N, angles, radii) darkness as in `Looks`.
    lighting
        The photograph's light.
    index
        Refractive index of the resin.
    """
    filled = lighting.rings >= LEAST_RINGS and lighting.theta > optics.turned(MIDDLE, index=index) + AT_EDGE
    if not filled or len(fits) < LEAST_CORES:
        return float("nan")
    middles = np.median(rays[:, :, :_RADII], axis=1) * np.maximum(fits.depth, LEAST_DEPTH)[:, None]
    inmost, outmost = (quantile(middles[:, place], TELLING) for place in (0, -1))
    if outmost > LEVEL * max(inmost, 0.0):
        return float("nan")
    return quantile(middles.mean(axis=1), TELLING) / (1.0 - float(optics.passed(0.0, index=index)))


def darkness_of(voids: Voids, lighting: Lighting, *, index: float) -> tuple[float, float]:
    """Return the light that voids take over that by optics, and the most that it may be; NaN where nothing tells.

    It is held against the usual light, or against the photograph's own where that lets them be paler still. The most is
    a standard error more, by the ranks of the voids about their median: they differ, and few may be pale by chance.
    """
    blur_px = lighting.blur_px if math.isnan(lighting.followed_blur_px) else lighting.followed_blur_px
    told = voids.contrast[(voids.diameter_px >= WHOLE_PX) & np.isfinite(voids.contrast)]
    if blur_px > WHOLE_BLUR_PX or len(told) < LEAST_WHOLE:
        return float("nan"), float("nan")
    lights = ((light.theta, light.wall) for light in (lighting, usual_lighting(index=index)))
    optical = min(ring_table(*light, index=index).mean_darkness for light in lights)
    return median(told) / optical, quantile(told, 0.5 + 0.5 / math.sqrt(len(told))) / optical
