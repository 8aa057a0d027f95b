"""Curved bodies: a lure's convex flanks are a lens, and what lies inside looks larger than it is.

A body of elliptical section, `width` across and `thickness` deep, has at its crest the radius of curvature
R = width^2 / (2 thickness). Seen from far away through that surface, a void at depth s in resin of index n looks
m = 1 / (1 - (n - 1) s / (n R)) times as wide across the body (a single refracting surface, any textbook of geometrical
optics) and as long as it is along it, so that the diameter of a disc of its area grows by the square root of m. The
depth of a void is not known; the mean over all depths is taken, and its spread is the uncertainty. Where the thickness
is not known, the mean over bodies a third as thick as wide and more is taken.

A curved flank darkens the border where the light is not wide. Over a wide light it does not, and the outline tells no
lure from a flat oval: then the mean of both is taken, and what lies between them is in the uncertainty.

The voids themselves tell it too: spheres, they look drawn out across such a body by m. The mean over those large enough
to show it is taken where the thickness is not known or no border tells a lure from a flat oval. A round bar, with the
outline of a slab, is told by that alone, where it is plain.

Such a body is as thick as it is said to be at its crest alone: where it is narrower it is as much thinner, and each
section thins out towards its sides as an ellipse does. What is judged holds less than its area times that thickness.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.edge import across_and_along

LEAST_LONG: Final = 1.25  # length over width from which on voids can be drawn out across a body
LEAST_SLENDER: Final = 1.6  # length over width of a body that may be a lure
MOST_FILLED: Final = 0.9  # of its enclosing rectangle: a slab fills more, an ellipse 0.79; and
OVAL: Final = 0.8  # where no flank darkens the border
MOST_JUDGED: Final = 0.97  # of the casting: more is judged where no flank darkens the border
STEEPEST: Final = 0.9  # of s / R at which the surface would throw the image to infinity
SLICES: Final = 400  # across the length of a body
FILLED_ERR: Final = 0.08  # of the mean depth: sections fuller or leaner than an ellipse (judgement)
PLAIN: Final = 0.05  # of ln(diameter): voids of flat castings look drawn out by less
PLAIN_ERRS: Final = 2.0  # standard uncertainties
BY_FORM: Final = "as far as the larger voids look drawn out across it"
USUAL_DEPTH: Final = (1 / 3, 1.0)  # of a curved body over its width, where it is not told (judgement)
SECTIONS, DEPTHS = 41, 200  # looked at: of different depths, and places in each


@dataclass(frozen=True)
class Magnified:
    """By how much voids look larger than they are."""

    factor: float  # of the diameter; 1 for flat castings
    err: float  # one standard uncertainty
    source: str  # in words
    filled: float = 1.0  # mean depth of what is judged over the thickness
    filled_err: float = 0.0  # one standard uncertainty

    @property
    def by_form(self) -> bool:
        """Whether the voids' own forms told it, which no other scale changes."""
        return BY_FORM in self.source


@dataclass(frozen=True)
class DrawnOut:
    """How far the voids of a body look drawn out across it."""

    share: float  # ln of the diameter of a disc of their area over that along the body, mean of those measured
    err: float  # one standard uncertainty of that mean
    spread: float  # standard deviation from void to void
    count: int  # voids measured


FLAT: Final = Magnified(1.0, 0.0, "flat casting")


def is_upright(edge_px: NDArray[np.float64], *, judged_share: float) -> bool:
    """Say whether nothing tells a casting from a flat one with straight walls: no flank, no wall, no slender oval."""
    flat = magnified(edge_px, judged_share=judged_share, thickness_px=None, index=1.0) == FLAT
    return flat and judged_share > MOST_JUDGED


def magnified(
    edge_px: NDArray[np.float64],
    *,
    judged_share: float,
    thickness_px: float | None,
    index: float,
    drawn: DrawnOut | None = None,
) -> Magnified:
    """Return by how much the voids of a casting look larger than they are.

    Parameters
    ----------
    edge_px
        (N, 2) x, y of the casting's outline; none where the whole frame is judged.
    judged_share
        Part of the casting's area that is judged, 0 to 1.
    thickness_px
        The casting's thickness, in px at its own scale; None if it is not known.
    index
        Refractive index of the resin.
    drawn
        How far its voids look drawn out across it; None where too few show it.
    """
    if len(edge_px) < 5:  # noqa: PLR2004
        return FLAT
    edge = edge_px.astype(np.float32)
    width, length = across_and_along(edge)
    told = judged_share <= MOST_JUDGED
    oval = cv2.contourArea(edge) <= (MOST_FILLED if told else OVAL) * width * length
    like_a_lure = oval and length >= LEAST_SLENDER * width
    plain = drawn is not None and drawn.share > max(PLAIN, PLAIN_ERRS * drawn.err)
    if not (like_a_lure or plain):
        return FLAT
    filled = mean_depth(edge, judged_share=judged_share)
    if drawn is None or (like_a_lure and told and thickness_px is not None):
        return _by_section(thickness_px, width, index, told=told, filled=filled)
    bent = plain or told
    filled = filled if bent and thickness_px is not None else 1.0
    return _by_form(drawn, "curved" if bent else "flat or hardly curved", filled, thickness_px)


def _by_section(thickness_px: float | None, width_px: float, index: float, *, told: bool, filled: float) -> Magnified:
    """Return what an elliptical section says, or where a dark border has not told it, what it and a flat one say."""
    deep = np.array([thickness_px]) if thickness_px is not None else np.linspace(*USUAL_DEPTH, SECTIONS) * width_px
    depth = np.linspace(0, 1, DEPTHS) * deep[:, None]
    bend = np.minimum((index - 1) / index * depth * 2 * deep[:, None] / width_px**2, STEEPEST)
    across = np.sqrt(1 / (1 - bend))
    factor, err = float(across.mean()), float(across.std())
    taken = "mean over the depth of its section"
    if thickness_px is None:
        filled, taken = 1.0, "of unknown thickness, taken for a third of its width and more"
    filled_err = 0.0 if thickness_px is None else FILLED_ERR * filled
    if told:
        return Magnified(factor, err, f"curved body: {taken}", filled, filled_err)
    # Anything from flat to that, all equally likely.
    between, open_ = (float(np.hypot(one, off / np.sqrt(12))) for one, off in ((err, factor - 1), (0.0, 1 - filled)))
    said = "flat or curved body, no dark border tells which: between the two"
    return Magnified((1 + factor) / 2, between, said, (1 + filled) / 2, open_)


def has_length(edge_px: NDArray[np.float64]) -> bool:
    """Say whether an outline, (N, 2), is so much longer than wide that across and along it are two things."""
    if len(edge_px) < 5:  # noqa: PLR2004
        return False
    width, length = across_and_along(edge_px.astype(np.float32))
    return length >= LEAST_LONG * width


def lying(edge_px: NDArray[np.float32] | NDArray[np.float64]) -> float:
    """Return the direction of an outline's length, radians from the x axis to the y axis."""
    _, sides, degrees = cv2.minAreaRect(edge_px.astype(np.float32))
    return math.radians(degrees + (90.0 if sides[0] < sides[1] else 0.0))


def _by_form(drawn: DrawnOut, kind: str, filled: float, thickness_px: float | None) -> Magnified:
    """Return what the voids' own forms say of a body of a kind."""
    factor = math.exp(max(drawn.share, 0.0))
    err = factor * math.hypot(drawn.err, drawn.spread)
    filled_err = 0.0 if thickness_px is None else FILLED_ERR * filled
    return Magnified(factor, err, f"{kind} body: {BY_FORM}, {drawn.count} of them", filled, filled_err)


def mean_depth(edge_px: NDArray[np.float32], *, judged_share: float) -> float:
    """Return the mean depth of what is judged of a curved body, over its depth at the crest.

    Parameters
    ----------
    edge_px
        (N, 2) x, y of its outline.
    judged_share
        Part of each of its sections, around the middle, that is judged.
    """
    (x, y), sides, _ = cv2.minAreaRect(edge_px)
    turn = lying(edge_px)
    axes = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    line = (edge_px - np.array([x, y])) @ axes.T * (SLICES / max(sides)) + SLICES / 2
    body = np.zeros((SLICES + 1, SLICES + 1), np.uint8)
    cv2.fillPoly(body, [np.rint(line).astype(np.int32)], 1)
    widths = body.sum(axis=0, dtype=np.float64)
    share = min(judged_share, 1.0)
    section = (share * math.sqrt(1.0 - share**2) + math.asin(share)) / (2.0 * share) if share > 0.0 else 1.0
    return float((widths**2).sum() / (widths.max() * widths.sum()) * section)
