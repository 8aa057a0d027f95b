"""The outline: whether light holds it all the way around, and whether other castings lie beside it."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from bubblegrade.fitness.check import Limit, Measured, Place, Test
from bubblegrade.fitness.places import region
from bubblegrade.fitness.view import View

# Of 2,573 photographs of known outline, right ones had 0.8 and more but for 4 in strong ripples; of those that
# followed the edge of the light or noise none had more than 0.6.
HELD: Final = Limit(0.8, 0.6, least=True)


def held(view: View) -> Measured:
    """Measure the share of the outline that has a step of light across it."""
    if view.whole or not view.has_outline:
        return Measured(math.nan, "no outline was looked for" if view.whole else "the casting's outline is lost")
    share = view.outline.held_share
    said = f"light holds only {100 * share:.0f} % of the outline"
    return Measured(share, said, Place("line", (view.outline.edge_px,)))


def beside(view: View) -> Measured:
    """Count the castings beside the one that is judged."""
    others = view.outline.beside
    place = region(np.any(others, axis=0), view.outline.step_px) if others else Place()
    return Measured(float(len(others)), "more than one casting in view", place)


TESTS: Final = (
    Test(
        "outline_held",
        "outline held by light",
        "share",
        HELD,
        "what is measured may not be the casting",
        "see in the marked picture whether it follows the casting, and show it on smooth light, bare all around",
        held,
    ),
    Test(
        "beside",
        "castings beside the outlined one",
        "count",
        Limit(0.0),
        "only the outlined one is measured",
        "photograph one at a time, or crop",
        beside,
    ),
)
