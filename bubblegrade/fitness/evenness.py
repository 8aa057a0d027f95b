"""Evenness: how much the bare light varies over the casting."""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.fitness.check import Limit, Measured, Test
from bubblegrade.fitness.places import region
from bubblegrade.fitness.view import View, some
from bubblegrade.quantiles import quantile

DARKER: Final = 0.6  # of the span from the brightest to the darkest: what is darker is shown as the place


def unevenness(view: View) -> Measured:
    """Measure by how much the light behind the casting falls from its brightest to its darkest spot, as a share."""
    level = view.behind
    if level is None or not view.outline.judged.any():
        return Measured(math.nan, "too little bare light is seen around the casting")
    judged = view.outline.judged
    low, high = (quantile(some(level, judged), share) for share in (0.02, 0.98))
    if high <= 0.0:
        return Measured(math.nan, "nothing is lit")
    share = float(1.0 - max(low, 0.0) / high)
    dark = judged & (level < high - DARKER * (high - low))
    return Measured(
        share, f"the light falls by {100 * share:.0f} % over the casting", region(dark, view.outline.step_px)
    )


TESTS: Final = (
    Test(
        "unevenness",
        "fall of the light over the casting",
        "share",
        Limit(0.35, 0.70),
        "noise and the smallest countable size differ from place to place",
        "diffuse the light, or move the casting to its middle",
        unevenness,
    ),
)
