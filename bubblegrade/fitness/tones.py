"""Tones: whether the camera drew those about the level of clear resin apart, as contrast and scene modes do.

The optics of voids tell it (voids/cores.py), since nothing else in a photograph has a known darkness. Tones that differ
from place to place move no size where they stay smooth; a curve that is steep at the level of clear resin makes rings
seem larger, over the whole picture as in tiles.
"""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.fitness.check import Limit, Measured, Test
from bubblegrade.fitness.view import View

STEEP: Final = 1.3  # times: of 110 photographs that tell and whose tones were left alone, two came above it
DOUBT: Final = 0.03  # of a diameter, for each e-fold of steepness: rings seem larger by nearly as much


def steep(view: View) -> Measured:
    """Measure how dark the middles of voids are over what optics say, in times."""
    if math.isnan(view.steepness):
        return Measured(math.nan, "only grading measures voids, and it needs some that are large and sharp")
    said = (
        f"the middles of voids are {view.steepness:.1f} times as dark as optics allow: the camera steepened the tones"
    )
    return Measured(view.steepness, said)


def tone_doubt(steepness: float) -> float:
    """Return the standard uncertainty of a diameter, as a share of it, that steep tones leave; 0 where they are not.

    >>> tone_doubt(1.2), tone_doubt(math.nan), round(tone_doubt(2.0), 4)
    (0.0, 0.0, 0.0208)
    """
    return DOUBT * math.log(steepness) if steepness > STEEP else 0.0


TESTS: Final = (
    Test(
        "tones",
        "darkness in the middle of voids over that by optics",
        "ratio",
        Limit(STEEP),
        "voids look 1 to 2 % too large, and the uncertainty of their diameters is widened by as much",
        "switch HDR, scene and contrast modes off, or photograph in raw",
        steep,
    ),
)
