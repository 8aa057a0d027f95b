"""Where a graded casting's voids lie: its ground from the lines around the judged area, and what many castings say."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc

from bubblegrade.casting.outline import COARSE_SIDE_PX
from bubblegrade.grading.pattern import Ground, Pattern, void_pattern
from bubblegrade.grading.pattern_record import FALSE_ALARMS, Cause

Floats = NDArray[np.floating[Any]]

MOST_HIDDEN_SHARE: Final = 0.05  # of the casting, behind bodies of unknown outline: more, and voids may look crowded
# Voids lie wholly in the resin and the edge shades the nearest of them, so that a strip along the wall holds none and
# would make all others look crowded. The ground begins where this share of the voids lies nearer to the wall; they are
# left out with the strip.
STRIP_SHARE: Final = 0.02
_TIE: Final = 1e-9  # one alarm in one casting is 5 in 100, rounded either way


def judged_ground(borders_px: Sequence[Floats], shape_px: tuple[int, int]) -> Ground:
    """Return the ground of a judged area from the closed lines around it.

    Parameters
    ----------
    borders_px
        (N, 2) x, y each, through the outermost cells of the coarse picture that the outline was found in.
    shape_px
        Rows and columns of the photograph.

    >>> square = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 4.0], [0.0, 4.0]])
    >>> judged_ground([square], (10, 20)).area_px
    50.0
    """
    step = max(1, -(-max(shape_px) // COARSE_SIDE_PX))
    mask = np.zeros([max(side // step, 1) for side in shape_px], np.uint8)
    cells = [np.rint((line + 0.5) / step - 0.5).astype(np.int32) for line in borders_px if len(line)]
    if cells:
        cv2.fillPoly(mask, cells, 1)
    return Ground(mask.astype(bool), float(step))


def casting_pattern(
    borders_px: Sequence[Floats], shape_px: tuple[int, int], centres_px: Floats, diameters_px: Floats, *, seed: int
) -> Pattern:
    """Return where a casting's voids, (n, 2) x, y and (n,), lie in its judged area; see `judged_ground`.

    Hardware has no outline in what is known of a graded casting: a wreath around it is not asked for.
    """
    ground = _without_strip(judged_ground(borders_px, shape_px), centres_px)
    return void_pattern(centres_px, diameters_px, ground, seed=seed)


def _without_strip(ground: Ground, centres_px: Floats) -> Ground:
    """Return the ground without the strip along its border that voids keep clear of."""
    if not len(centres_px):
        return ground
    padded = np.pad(ground.judged, 1).astype(np.uint8)
    depth = cv2.distanceTransform(padded, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[1:-1, 1:-1]
    least = np.quantile(depth[ground.cells(centres_px)], STRIP_SHARE, method="lower")
    return Ground(ground.judged & (depth >= least), ground.step_px)


def clustered(patterns: Sequence[Pattern]) -> bool | None:
    """Say whether voids lie in clusters in more castings than chance explains; None where none can be told.

    Of castings whose voids lie at random 5 in 100 raise an alarm each, so that one of many says nothing.
    """
    known = [pattern for pattern in patterns if pattern.known]
    if not known:
        return None
    return speaks_for("moisture", known)


def speaks_for(cause: Cause, known: Sequence[Pattern]) -> bool:
    """Say whether more of the patterns speak for a cause than chance explains at 5 in 100."""
    raised = sum(any(suspect.cause == cause for suspect in pattern.suspects) for pattern in known)
    return raised > 0 and float(bdtrc(raised - 1, len(known), FALSE_ALARMS)) <= FALSE_ALARMS + _TIE
