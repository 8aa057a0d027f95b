"""Noise over squares as large as the smallest voids (grain.py): how much there was, and whether any was left."""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.fitness.check import Limit, Measured, Test
from bubblegrade.fitness.view import View

COUNTED_TO: Final = 0.09  # up to here 90 % of the voids of 5 px are found
SMALLEST_PX: Final = 5.0
LEAST: Final = 0.003  # as photons of a pixel of 100,000 electrons, or steps of 8 bits, make: less was smoothed
TOO_LITTLE: Final = "too little resin is seen"
COMPRESSED: Final = "compression alone takes the little noise that ample light leaves"


def noise(view: View) -> Measured:
    """Measure the standard deviation of a pixel's light in clear resin, as a share of it, before any smoothing."""
    share = view.grain
    if math.isnan(share):
        return Measured(share, TOO_LITTLE)
    return Measured(share, f"the light is noisy by {100 * share:.0f} %, or was before the camera smoothed it")


def smoothed(view: View) -> Measured:
    """Measure the same, where it says that nothing is left of it and no compression accounts for that."""
    share = view.grain
    if math.isnan(share):
        return Measured(share, TOO_LITTLE)
    if share < LEAST and view.photo.lossy:
        return Measured(math.nan, COMPRESSED)
    return Measured(share, "the resin has no noise at all: it was smoothed away")


def countable_in_noise_px(share: float) -> float:
    """Return the diameter in px from which on voids are found in so much noise; 0 where it leaves that to contrast.

    A disc's mean is the surer the larger its diameter, in proportion to it.

    >>> countable_in_noise_px(0.18), countable_in_noise_px(0.05), countable_in_noise_px(math.nan)
    (10.0, 0.0, 0.0)
    """
    return round(SMALLEST_PX * share / COUNTED_TO, 6) if share > COUNTED_TO else 0.0


TESTS: Final = (
    Test(
        "noise",
        "noise of the light",
        "share",
        Limit(0.10, 0.20),
        "small and faint voids are lost in it",
        "give more light or expose longer, at the camera's lowest ISO",
        noise,
    ),
    Test(
        "smoothed",
        "noise of the light",
        "share",
        Limit(LEAST, least=True),
        "small and faint voids may be smoothed away with it, and others may look up to 5 % too small",
        "switch noise reduction off and give more light, or photograph in raw",
        smoothed,
    ),
)
