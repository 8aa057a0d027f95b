"""Tones: whether the camera drew those about the level of clear resin apart or together, as contrast modes do.

The optics of voids tell it (voids/cores.py), since nothing else in a photograph has a known darkness: their middles, or
flat tones the whole of them. Tones that differ from place to place move no size where they stay smooth; a curve that is
steep at the level of clear resin makes rings seem larger and resin darker, over the whole picture as in tiles. A curve
that is flat there, and light that strays over the picture, make rings smaller and resin clearer than its faces allow.
A power of the light undoes most of it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from bubblegrade import optics
from bubblegrade.fitness.check import UNMEASURED, Limit, Measured, Test
from bubblegrade.fitness.view import View

STEEP: Final = 1.2  # times: of 217 photographs that tell and whose tones were left alone none came above
FLAT: Final = 0.65  # times: less, where resin is clearer than optics allow by
CLEARER: Final = 0.02  # of the bare light: of 82 such photographs four are so pale, and none of them so clear
FLATTEST: Final = 0.35  # times: as far tones are straightened,
PARTLY: Final = 0.75  # and the power of it, where they are flat: stray light, which does the same, asks for less
PALE: Final = 0.7  # times, at most: of 248 photographs whose whole voids tell, tones left alone, none is so pale
DOUBT: Final = 0.02  # of a diameter, for each e-fold of steepness: as much too large rings may seem when straightened


def told_steepness(middles: float, voids: tuple[float, float], passes: Callable[[], float], *, index: float) -> float:
    """Return by how much tones are steep, or flat where that is less than FLAT; NaN where nothing tells.

    Parameters
    ----------
    middles
        Darkness in the middle of voids over that by optics.
    voids
        Darkness of whole voids over the same, and the most that it may be: that tells flat tones, where middles do not
        say otherwise.
    passes
        Returns the share of the bare light that clear resin passes; asked for pale middles only. By Fresnel's
        equations it is no more than two faces let through: sharpening makes middles pale, and the resin no clearer.
    index
        Refractive index of the resin.

    >>> [told_steepness(middles, (1.0, 1.1), lambda: 0.96, index=1.5) for middles in (0.4, 1.5)]
    [0.4, 1.5]
    >>> [told_steepness(middles, (1.0, 1.1), lambda: 0.92, index=1.5) for middles in (0.4, 1.5)]
    [nan, 1.5]
    >>> [round(told_steepness(middles, (0.55, 0.6), lambda: 0.92, index=1.5), 2) for middles in (0.4, math.nan, 1.0)]
    [0.45, 0.45, 1.0]
    >>> told_steepness(0.4, (0.55, 0.75), lambda: 0.92, index=1.5)
    nan
    """
    flat = middles < FLAT
    if flat and passes() > float(optics.passed(0.0, index=index)) + CLEARER:
        return middles
    usual, most = voids
    if most < PALE and not middles >= FLAT:
        return float(usual ** (1.0 / PARTLY))  # whole voids lose as much less: tones are straightened by it
    return math.nan if flat else middles


def straightened_by(steepness: float) -> float:
    """Return the steepness that tones are straightened by; 1 where they are left alone, or do not tell.

    >>> [round(straightened_by(steepness), 3) for steepness in (1.5, 1.1, 0.4, 0.1, math.nan)]
    [1.5, 1.0, 0.503, 0.455, 1.0]
    """
    if steepness < FLAT:
        return float(max(steepness, FLATTEST) ** PARTLY)
    return steepness if steepness > STEEP else 1.0


def tone_doubt(steepness: float) -> float:
    """Return the standard uncertainty of a diameter, as a share of it, that tones leave after they were straightened.

    >>> round(tone_doubt(2.0), 4), round(tone_doubt(0.5), 4)
    (0.0139, 0.0139)
    """
    return DOUBT * abs(math.log(steepness))


def steep(view: View) -> Measured:
    """Measure how dark the middles of voids are over what optics say, in times."""
    if math.isnan(view.steepness):
        return Measured(math.nan, UNMEASURED)
    said = (
        f"the middles of voids are {view.steepness:.1f} times as dark as optics allow: the camera steepened the tones"
    )
    return Measured(view.steepness, said)


def flat(view: View) -> Measured:
    """Measure the same, where it says that tones were flattened."""
    if math.isnan(view.steepness):
        return Measured(math.nan, UNMEASURED)
    said = (
        f"voids are pale, as with middles only {max(view.steepness, 0.0):.1f} times as dark as optics say: the camera "
        "flattened the tones, or light strays over the picture"
    )
    return Measured(view.steepness, said)


TESTS: Final = (
    Test(
        "tones",
        "darkness in the middle of voids over that by optics",
        "ratio",
        Limit(STEEP),
        "they are straightened by that, and voids may still look 1 % too large; their uncertainty is widened by it",
        "switch HDR, scene and contrast modes off, or photograph in raw",
        steep,
    ),
    Test(
        "flat_tones",
        "darkness in the middle of voids over that by optics",
        "ratio",
        Limit(FLAT, least=True),
        "they are straightened by that, and voids may still look 1 % too large or too small; their uncertainty is "
        "widened by it",
        "switch HDR and scene modes off, wipe the lens and darken the room, or photograph in raw",
        flat,
    ),
)
