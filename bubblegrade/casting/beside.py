"""What else in the frame is enclosed by a step of light as a casting is: a second one, or the whole of the first.

Card, coin, clamp and dirt are no castings: they are small, open, or let hardly any light through. A casting that the
frame cuts is told by what is seen of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.edge import traced
from bubblegrade.casting.evidence import evidence
from bubblegrade.casting.held_line import MOST_SHARE, STEPS, Flood
from bubblegrade.casting.parts import filled, solidity
from bubblegrade.quantiles import median

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

TRIED: Final = STEPS[4:13:4]  # brightness steps: a pale casting that touches another is lost at larger ones
NEAR_PX: Final = 9  # coarse px: what lies within half of this of the casting is its own
FRAME_PX: Final = 5  # coarse px: what comes so near to the frame is cut by it, since a flood keeps off it
THREAD_PX: Final = 5  # coarse px: narrower threads of noise are cut
LEAST: Final = 0.15  # of the casting's area: smaller things are looked at as voids, dirt or hardware
HELD: Final = 0.9  # share of its outline with a step of light: what noise and ripples enclose had none,
SOLID: Final = 0.93  # and least solidity
OPAQUE: Final = 0.2  # of the light around it: less through it is hardware


def further(flood: Flood, coarse: Image, casting: Mask) -> list[Mask]:
    """Return closed regions beside or around the casting that light holds all around, those around it filled.

    Parameters
    ----------
    flood
        Of the same picture.
    coarse
        (rows, cols) linear light.
    casting
        (rows, cols) what the outline encloses.
    """
    near = _near(casting)
    found: list[Mask] = []
    for region in _regions(flood, casting, near, along_border=True):
        if not _meets(region, found) and _is_casting(coarse, region, near):
            found.append(region)
    return found


def cut_off(flood: Flood, coarse: Image, casting: Mask, others: list[Mask]) -> list[Mask]:
    """Return what is seen of castings that one side of the frame or a corner cuts, beside the casting and the others.

    Parameters are those of `further`, and what it found.
    """
    near = _near(casting)
    found: list[Mask] = []
    for region in _regions(flood, casting, near, along_border=False):
        apart = _is_at_frame(region) and not _meets(region, [casting, *others, *found])
        if apart and _is_casting(coarse, region, near):
            found.append(region)
    return found


def _regions(flood: Flood, casting: Mask, near: Mask, *, along_border: bool) -> Iterator[Mask]:
    """Give the regions beside or around a casting, filled, that are not reached from the bare light; step by step."""
    thread, least = np.ones((THREAD_PX, THREAD_PX), np.uint8), LEAST * np.count_nonzero(casting)
    most = MOST_SHARE * np.count_nonzero(flood.inner)
    for step in TRIED:
        dry = (flood.dry(float(step), along_border=along_border) > 0) & ~near
        if np.count_nonzero(dry) < least:
            continue
        _, labels, facts, _ = cv2.connectedComponentsWithStats(
            cv2.morphologyEx(dry.astype(np.uint8), cv2.MORPH_OPEN, thread), connectivity=4
        )
        for label in 1 + np.flatnonzero(facts[1:, cv2.CC_STAT_AREA] >= least):
            region = filled(labels == label)
            if np.count_nonzero(region) < most:
                yield region


def _near(casting: Mask) -> Mask:
    """Return the casting with what lies so near to it that it is its own."""
    return cv2.dilate(casting.astype(np.uint8), np.ones((NEAR_PX, NEAR_PX), np.uint8)).astype(bool)


def _meets(region: Mask, others: Sequence[Mask]) -> bool:
    return any(bool((region & other).any()) for other in others)


def _is_at_frame(region: Mask) -> bool:
    """Say whether a region reaches the frame at one side or at a corner; over more sides lies what frames the light."""
    top, bottom, left, right = (
        bool(strip.any())
        for strip in (region[:FRAME_PX], region[-FRAME_PX:], region[:, :FRAME_PX], region[:, -FRAME_PX:])
    )
    return (top or bottom or left or right) and not (top and bottom) and not (left and right)


def _is_casting(coarse: Image, region: Mask, near: Mask) -> bool:
    """Say whether light holds a region wherever the frame does not cut it, and passes it."""
    if solidity(region) < SOLID or evidence(coarse, traced(region, 1), 1).held_share < HELD:
        return False
    grown = cv2.dilate(region.astype(np.uint8), np.ones((2 * NEAR_PX, 2 * NEAR_PX), np.uint8)).astype(bool)
    around = grown & ~region & ~near
    return bool(around.any()) and median(coarse[region]) > OPAQUE * median(coarse[around])
