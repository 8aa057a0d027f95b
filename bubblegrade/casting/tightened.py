"""An outline that light does not hold, moved to the strongest closed line near it.

In weak light or a large frame the line that holds out may stand off the casting by more than the edge is looked for
in the photograph. Near it, the closed line is taken across which the light grows most; it counts where it is plainly
better held than the one before.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from bubblegrade.casting.best_way import best_way
from bubblegrade.casting.edge import Points, across_and_along, covered, followed, outward
from bubblegrade.casting.evidence import EVERY, OVER, POINTS, Evidence, evidence, growth_across, noise_of, spaced
from bubblegrade.casting.parts import solidity

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

ROUNDS: Final = 2  # of looking, each from the line before
SMOOTHED: Final = 6.0  # coarse px along the outline, a standard deviation: whiskers have no normals of use
MOST_PX: Final = 16.0  # coarse px to both sides that are looked at,
SHARE: Final = 0.4  # of the casting's half width at most, or its other side is found
STRIP, RUN = 3, 5  # places and points that a step is averaged over
FULL: Final = 4.0  # times the noise: a stronger step counts as this one, or voids draw the line
LONG, FILLS = 1.6, 0.9  # length over width from which what fills less of its rectangle has tips; they would be lost
HELD: Final = 0.97  # share of an outline with a step of light: less and it is looked for again,
EXACT: Final = 0.97  # as where less has it right there
STRONG: Final = 0.3  # natural log: a usual step above it is the dark line of a flank, with others inside it
SURELY_HELD, SURELY_EXACT = 0.98, 0.9  # of a better outline
GAIN, MUCH = 0.01, 0.2  # least growth of its share with the step right there; so much is better by itself
ROUNDER: Final = 0.002  # least growth of its solidity: an edge has no fringes
STRONGER: Final = 2.5  # times the usual step of one that was held: more is another line
MOVED: Final = 0.05  # of its area: one that was held moves by less


def drawn_in(light: Image, coarse: Image, step_px: int, field: Mask, seen: tuple[Points, Mask]) -> tuple[Points, Mask]:
    """Return an outline, drawn to where light holds it if it stands off.

    Parameters
    ----------
    light
        Linear light, (rows, cols).
    coarse
        (rows, cols) the light averaged over squares.
    step_px
        Their side.
    field
        (rows, cols) the lit part of the coarse picture.
    seen
        The outline, (N, 2) x, y in px of the photograph, and the coarse mask of what it encloses.
    """
    (edge, casting), found = seen, evidence(coarse, seen[0], step_px)
    if not _is_loose(found) or _has_tips(edge):
        return seen
    best, most = seen, found.exact_share
    for _ in range(ROUNDS):
        line = (_tightened(coarse, casting, (edge + 0.5) / step_px - 0.5) + 0.5) * step_px - 0.5
        edge, casting = followed(light, step_px, field, covered(line, step_px, field.shape) & field)
        if not casting.any():
            break
        again = evidence(coarse, edge, step_px)
        if again.exact_share > most and _is_better(found, again, seen[1], casting):
            best, most = (edge, casting), again.exact_share
            if not _is_loose(again):
                break
    return best


def _is_loose(found: Evidence) -> bool:
    """Say whether an outline should be looked for again."""
    return found.held_share < HELD or (found.exact_share < EXACT and found.step < STRONG)


def _has_tips(edge: Points) -> bool:
    """Say whether an outline is long and tapers to its ends."""
    across, along = across_and_along(edge)
    return along > LONG * across and cv2.contourArea(edge.astype(np.float32)) < FILLS * max(across * along, 1.0)


def _tightened(coarse: Image, casting: Mask, line: Points) -> Points:
    """Return the closed line near an outline across which the light grows most, (POINTS, 2) x, y in coarse px.

    Parameters
    ----------
    coarse
        (rows, cols) linear light.
    casting
        (rows, cols) what the outline encloses.
    line
        (N, 2) x, y in coarse px: the outline.
    """
    even = spaced(line)
    length = float(np.hypot(*(np.roll(even, -1, axis=0) - even).T).sum())
    even = gaussian_filter1d(even, SMOOTHED * POINTS / max(length, 1.0), axis=0, mode="wrap")
    half_width = float(cv2.distanceTransform(np.pad(casting, 1).astype(np.uint8), cv2.DIST_L2, 3).max())
    reach = EVERY * np.floor(min(MOST_PX, SHARE * half_width) / EVERY)
    off = np.arange(-reach, reach + EVERY / 2, EVERY)
    growth = growth_across(coarse, even, off, strip=STRIP, run=RUN)
    strength = np.clip(growth / np.float32(FULL * noise_of(growth)), -1.0, 1.0)
    return np.asarray(even + off[best_way(strength[None])[0]][:, None] * outward(even, OVER))


def _is_better(old: Evidence, new: Evidence, before: Mask, after: Mask) -> bool:
    """Say whether an outline is plainly better held than the one before; if that was held, on the same line."""
    if new.held_share < SURELY_HELD or new.exact_share < old.exact_share + GAIN:
        return False
    if new.exact_share < SURELY_EXACT and new.exact_share < old.exact_share + MUCH:
        return False
    return old.held_share < HELD or (
        new.step < STRONGER * old.step
        and abs(int(after.sum()) - int(before.sum())) < MOVED * before.sum()
        and solidity(after) > solidity(before) + ROUNDER
    )
