"""Curved bodies: a lure's convex flanks are a lens, and what lies inside looks larger than it is.

A body of elliptical section, `width` across and `thickness` deep, has at its crest the radius of curvature
R = width^2 / (2 thickness). Seen from far away through that surface, a void at depth s in resin of index n looks
m = 1 / (1 - (n - 1) s / (n R)) times as wide across the body (a single refracting surface, any textbook of geometrical
optics) and as long as it is along it, so that the diameter of a disc of its area grows by the square root of m. The
depth of a void is not known; the mean over all depths is taken, and its spread is the uncertainty.

A curved flank darkens the border where the light is not wide. Over a wide light it does not, and no picture from above
tells a lure from a flat oval: then the mean of both is taken, and what lies between them is in the uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.edge import across_and_along

LEAST_SLENDER: Final = 1.6  # length over width of a body that may be a lure
MOST_FILLED: Final = 0.9  # of its enclosing rectangle: a slab fills more, an ellipse 0.79; and
OVAL: Final = 0.8  # where no flank darkens the border
MOST_JUDGED: Final = 0.97  # of the casting: more is judged where no flank darkens the border
STEEPEST: Final = 0.9  # of s / R at which the surface would throw the image to infinity
UNKNOWN_THICKNESS_ERR: Final = 0.08  # what sections between flat and as deep as three quarters of the width leave open


@dataclass(frozen=True)
class Magnified:
    """By how much voids look larger than they are."""

    factor: float  # of the diameter; 1 for flat castings
    err: float  # one standard uncertainty
    source: str  # in words


FLAT: Final = Magnified(1.0, 0.0, "flat casting")


def is_upright(edge_px: NDArray[np.float64], *, judged_share: float) -> bool:
    """Say whether nothing tells a casting from a flat one with straight walls: no flank, no wall, no slender oval."""
    flat = magnified(edge_px, judged_share=judged_share, thickness_px=None, index=1.0) == FLAT
    return flat and judged_share > MOST_JUDGED


def magnified(
    edge_px: NDArray[np.float64], *, judged_share: float, thickness_px: float | None, index: float
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
    """
    if len(edge_px) < 5:  # noqa: PLR2004
        return FLAT
    edge = edge_px.astype(np.float32)
    width, length = across_and_along(edge)
    told = judged_share <= MOST_JUDGED
    if length < LEAST_SLENDER * width or cv2.contourArea(edge) > (MOST_FILLED if told else OVAL) * width * length:
        return FLAT
    if thickness_px is None:
        perhaps = "curved body" if told else "flat or curved body, no dark border tells which,"
        return Magnified(1.0, UNKNOWN_THICKNESS_ERR, f"{perhaps} of unknown thickness: not corrected")
    depth = (np.arange(200) + 0.5) / 200 * thickness_px
    bend = np.minimum((index - 1) / index * depth * 2 * thickness_px / width**2, STEEPEST)
    across = np.sqrt(1 / (1 - bend))
    factor, err = float(across.mean()), float(across.std())
    if told:
        return Magnified(factor, err, "curved body: mean over the depth of its section")
    between = float(np.hypot(err, (factor - 1) / np.sqrt(12)))  # anything from flat to that, all equally likely
    return Magnified((1 + factor) / 2, between, "flat or curved body, no dark border tells which: between the two")
