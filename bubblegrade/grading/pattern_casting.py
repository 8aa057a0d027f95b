"""Where a graded casting's voids lie: its ground from the lines around the judged area, and what many castings say."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.special import bdtrc

from bubblegrade.casting.outline import COARSE_SIDE_PX
from bubblegrade.distances import distances
from bubblegrade.grading.pattern import Ground, Pattern, void_pattern
from bubblegrade.grading.pattern_record import FALSE_ALARMS, Cause

Side = Literal["top", "bottom", "left", "right"]
Floats = NDArray[np.floating[Any]]

SIDES: Final[dict[Side, tuple[float, float]]] = {
    "top": (0.0, -1.0), "bottom": (0.0, 1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)
}  # fmt: skip  # x, y from the middle of the photograph
MOST_HIDDEN_SHARE: Final = 0.05  # of the casting, behind bodies of unknown outline: more, and voids may look crowded
# Voids lie wholly in the resin and the edge shades the nearest of them, so that a strip along the wall holds none and
# would make all others look crowded. The ground begins where this share of the voids lies nearer to the wall; they are
# left out with the strip.
STRIP_SHARE: Final = 0.02
_TIE: Final = 1e-9  # one alarm in one casting is 5 in 100, rounded either way


@dataclass(frozen=True)
class Pouring:
    """What is known of how a casting was poured, as sides of its photograph."""

    pour: Side | None = None  # where the resin came in
    up: Side | None = None  # what was up while the resin set


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


def casting_pattern(voids_px: Floats, ground: Ground, *, hardware_px: Floats, pouring: Pouring, seed: int) -> Pattern:
    """Return where a casting's voids lie in its judged area.

    Parameters
    ----------
    voids_px
        (n, 3) x, y and diameter.
    ground
        The judged area, as `judged_ground` returns it.
    hardware_px
        (k, 3) x, y and diameter of each body: of a disc of its area.
    pouring
        What is known of how it was poured.
    seed
        Of the random placements.
    """
    clear = _without_strip(ground, voids_px[:, :2])
    bodies = _bodies(clear, hardware_px)
    known = replace(
        clear,
        hardware=bodies if bodies.any() else None,
        pour_px=_middle_of(clear, pouring.pour) if pouring.pour else None,
        up=SIDES[pouring.up] if pouring.up else None,
    )
    return void_pattern(voids_px[:, :2], voids_px[:, 2], known, seed=seed)


def _bodies(ground: Ground, hardware_px: Floats) -> NDArray[np.bool_]:
    """Return the cells that hardware covers, (rows, cols)."""
    cells = np.zeros(ground.judged.shape, np.uint8)
    for x, y, diameter in hardware_px:
        place = tuple(round(float((v + 0.5) / ground.step_px - 0.5)) for v in (x, y))
        cv2.circle(cells, place, max(round(float(diameter / 2 / ground.step_px)), 1), 1, thickness=-1)
    return cells.astype(bool)


def _middle_of(ground: Ground, side: Side) -> tuple[float, float]:
    """Return x, y in px of the middle of one side of the rectangle around the judged area."""
    rows, cols = np.nonzero(ground.judged)
    if not len(rows):
        return 0.0, 0.0
    reach = np.array([np.ptp(cols), np.ptp(rows)]) / 2
    middle = np.array([cols.min(), rows.min()]) + reach
    x, y = (middle + reach * np.array(SIDES[side]) + 0.5) * ground.step_px - 0.5
    return float(x), float(y)


def _without_strip(ground: Ground, centres_px: Floats) -> Ground:
    """Return the ground without the strip along its border that voids keep clear of."""
    if not len(centres_px):
        return ground
    depth = distances(np.pad(ground.judged, 1))[1:-1, 1:-1]
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
    raised = alarms(cause, known)
    return raised > 0 and float(bdtrc(raised - 1, len(known), FALSE_ALARMS)) <= FALSE_ALARMS + _TIE


def alarms(cause: Cause, known: Sequence[Pattern]) -> int:
    """Return in how many of the patterns a cause is suspected."""
    return sum(any(suspect.cause == cause for suspect in pattern.suspects) for pattern in known)
