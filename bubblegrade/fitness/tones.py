"""Tones: whether the camera drew those about the level of clear resin apart, as contrast and scene modes do.

The optics of voids tell it (voids/cores.py), since nothing else in a photograph has a known darkness. Tones that differ
from place to place move no size where they stay smooth; a curve that is steep at the level of clear resin makes rings
seem larger and resin darker, over the whole picture as in tiles. A power of the light undoes most of it.
"""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.fitness.check import UNMEASURED, Limit, Measured, Test
from bubblegrade.fitness.view import View

STEEP: Final = 1.3  # times: of 135 photographs that tell and whose tones were left alone none came above 1.2
DOUBT: Final = 0.02  # of a diameter, for each e-fold of steepness: as much too large rings may seem when straightened


def steep(view: View) -> Measured:
    """Measure how dark the middles of voids are over what optics say, in times."""
    if math.isnan(view.steepness):
        return Measured(math.nan, UNMEASURED)
    said = (
        f"the middles of voids are {view.steepness:.1f} times as dark as optics allow: the camera steepened the tones"
    )
    return Measured(view.steepness, said)


def is_steep(steepness: float) -> bool:
    """Say whether tones are so steep that they must be straightened; those that do not tell are not.

    >>> is_steep(1.5), is_steep(1.2), is_steep(math.nan)
    (True, False, False)
    """
    return steepness > STEEP


def tone_doubt(steepness: float) -> float:
    """Return the standard uncertainty of a diameter, as a share of it, that tones leave after they were straightened.

    >>> round(tone_doubt(2.0), 4)
    0.0139
    """
    return DOUBT * math.log(steepness)


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
)
