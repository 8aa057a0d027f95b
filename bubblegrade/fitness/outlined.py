"""The outline: whether it may follow something else than the casting, is drawn out, or has other castings beside it."""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.evidence import evidence
from bubblegrade.casting.outline import DENTED, Mask
from bubblegrade.casting.parts import solidity
from bubblegrade.casting.roundness import rounded
from bubblegrade.fitness.check import RAISE, Fitness, Limit, Measured, Place, Points, Test, Verdict
from bubblegrade.fitness.exposure import backlight, clipped_backlight
from bubblegrade.fitness.places import region
from bubblegrade.fitness.view import View

# Of 2,573 photographs of known outline, right ones had 0.8 and more but for 4 in strong ripples; of those that
# followed the edge of the light or noise none had more than 0.6.
HELD: Final = Limit(0.8, 0.6, least=True)
# The 8 of 2,367 outlines that followed the edge of the light had 0.55 and more there, true ones within the frame none.
ALONG: Final = Limit(0.15)
# The lines of lamps in slabs that the frame cut had 0.06 and 0.14; an open band less than a twentieth as wide as its
# radius has less than 0.1 (plane geometry), a cuff of the trade 0.15.
HULL: Final = Limit(DENTED, 0.1, least=True)
# As much as the height of its widest span leaves open of a scale, which says what this leaves open: no limit to unfit.
# Of 513 traced round castings seen at less than 3 degrees 2 had more, and their span was 2.5 and 3.2 % long.
DRAWN_OUT: Final = Limit(0.02)
# Two faces of resin let 0.92 of the light through (Fresnel, index 1.5), one alone 0.96: light around right outlines was
# 1.05 times that within and more, and 0.97 to 1.02 times within lines of a grid on the light.
DIMMER: Final = Limit(1.03, least=True)
MOST_CLIPPED: Final = 0.05  # of the bare light at full scale: more, and how bright it is is not known
BAY_PX: Final = 5  # coarse px: narrower bays are the grain of the outline
NOT_THE_CASTING: Final = "what is measured may not be the casting"
SEE: Final = "see in the marked picture whether it follows the casting"


def held(view: View) -> Measured:
    """Measure the share of the outline that has a step of light across it."""
    if view.no_outline:
        return Measured(math.nan, view.no_outline)
    share = evidence(view.level, view.outline.edge_px, view.outline.step_px).held_share
    said = f"light holds only {100 * share:.0f} % of the outline"
    return Measured(share, said, Place("line", (view.outline.edge_px,)))


def dimmer(view: View) -> Measured:
    """Measure the light around the outline over that of the clear resin within."""
    if view.no_outline:
        return Measured(math.nan, view.no_outline)
    if clipped_backlight(view).value > MOST_CLIPPED:
        return Measured(math.nan, "the bare light is at full scale")
    return Measured(backlight(view).value, "as much light comes through the outline as around it, and resin takes some")


def turns_inwards(view: View) -> Measured:
    """Measure the outline's area over that of its convex hull."""
    if view.no_outline:
        return Measured(math.nan, view.no_outline)
    casting = view.outline.casting
    return Measured(solidity(casting), "the outline turns inwards", region(_bays(casting), view.outline.step_px))


def along_edge(view: View) -> Measured:
    """Measure the share of the outline that runs along the edge of the light or of the frame."""
    if view.no_outline:
        return Measured(math.nan, view.no_outline)
    along = view.outline.along_edge
    said = f"{100 * along.mean():.0f} % of the outline runs along the edge of the light"
    return Measured(float(along.mean()), said, Place("line", _stretches(view.outline.edge_px, along)))


def drawn_out(view: View) -> Measured:
    """Measure by how much the outline of a round casting is longer than wide."""
    if view.no_outline or view.outline.cut_by_frame:
        return Measured(math.nan, view.no_outline or "the casting is cut by the frame")
    found = rounded(view.outline.edge_px)
    if found is None:
        return Measured(math.nan, "the casting is not round")
    longer = f"the outline is {100 * found.drawn_out:.1f} % longer than wide"
    leans = f"by {math.degrees(found.lean):.0f} degrees" if found.is_ellipse else "and its walls are straight"
    said = f"{longer}: if the casting is round, the camera leans {leans}"
    return Measured(found.drawn_out, said, Place("line", (np.stack(found.ends_px),)))


def beside(view: View) -> Measured:
    """Count the castings beside the one that is judged."""
    others = view.outline.beside
    place = region(np.any(others, axis=0), view.outline.step_px) if others else Place()
    return Measured(float(len(others)), "more than one casting in view", place)


def doubts(fitness: Fitness) -> tuple[str, ...]:
    """Return what asks for care about the outline, with the cure."""
    names = {test.name for test in TESTS}
    return tuple(check.line for check in fitness.of(Verdict.CARE) if check.name in names)


def _bays(casting: Mask) -> Mask:
    """Return what lies between an outline and its convex hull, both of the coarse picture."""
    lines, _ = cv2.findContours(casting.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hull = cv2.fillConvexPoly(np.zeros(casting.shape, np.uint8), cv2.convexHull(np.concatenate(lines)), 1).astype(bool)
    bays = (hull & ~casting).astype(np.uint8)
    return cv2.morphologyEx(bays, cv2.MORPH_OPEN, np.ones((BAY_PX, BAY_PX), np.uint8)).astype(bool)


def _stretches(line: Points, chosen: NDArray[np.bool_]) -> tuple[Points, ...]:
    """Return the stretches of a closed line, (N, 2), whose points are chosen, (N,)."""
    if chosen.all():
        return (line,)
    start = int(np.argmin(chosen))  # a point that is not chosen: no stretch runs over it
    line, chosen = np.roll(line, -start, axis=0), np.roll(chosen, -start)
    turns = np.flatnonzero(np.diff(chosen.astype(np.int8), append=0)) + 1
    return tuple(line[first:last] for first, last in turns.reshape(-1, 2))


TESTS: Final = (
    Test(
        "outline_held",
        "outline held by light",
        "share",
        HELD,
        NOT_THE_CASTING,
        f"{SEE}, show it on smooth light, bare all around, and {RAISE}",
        held,
    ),
    Test(
        "outline_dimmer",
        "light around the outline over that within",
        "ratio",
        DIMMER,
        NOT_THE_CASTING,
        f"{SEE}, and show it on smooth light without lines",
        dimmer,
    ),
    Test(
        "outline_hull",
        "outline's area over its convex hull's",
        "share",
        HULL,
        NOT_THE_CASTING,
        SEE,
        turns_inwards,
    ),
    Test(
        "outline_along_edge",
        "outline along the edge of the light",
        "share",
        ALONG,
        NOT_THE_CASTING,
        f"{SEE}, and show it with bare light all around",
        along_edge,
    ),
    Test(
        "drawn_out",
        "round outline longer than wide",
        "share",
        DRAWN_OUT,
        "a scale from its width is less certain",
        "hold the camera level, right above the casting",
        drawn_out,
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
