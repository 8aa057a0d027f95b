"""What else in the frame is enclosed by a step of light as a casting is: a second one, or the whole of the first.

Card, coin, clamp and dirt are no castings: they are small, open, or let hardly any light through.
"""

from __future__ import annotations

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
    near = cv2.dilate(casting.astype(np.uint8), np.ones((NEAR_PX, NEAR_PX), np.uint8)).astype(bool)
    thread, least = np.ones((THREAD_PX, THREAD_PX), np.uint8), LEAST * np.count_nonzero(casting)
    most = MOST_SHARE * np.count_nonzero(flood.inner)
    found: list[Mask] = []
    for step in TRIED:
        dry = (flood.dry(float(step), along_border=True) > 0) & ~near
        if np.count_nonzero(dry) < least:
            continue
        _, labels, facts, _ = cv2.connectedComponentsWithStats(
            cv2.morphologyEx(dry.astype(np.uint8), cv2.MORPH_OPEN, thread), connectivity=4
        )
        for label in 1 + np.flatnonzero(facts[1:, cv2.CC_STAT_AREA] >= least):
            region = filled(labels == label)
            known = np.count_nonzero(region) >= most or any((region & other).any() for other in found)
            if not known and _is_casting(coarse, region, near):
                found.append(region)
    return found


def _is_casting(coarse: Image, region: Mask, near: Mask) -> bool:
    """Say whether light holds a region all around and passes it."""
    if solidity(region) < SOLID or evidence(coarse, traced(region, 1), 1).held_share < HELD:
        return False
    grown = cv2.dilate(region.astype(np.uint8), np.ones((2 * NEAR_PX, 2 * NEAR_PX), np.uint8)).astype(bool)
    around = grown & ~region & ~near
    return bool(around.any()) and median(coarse[region]) > OPAQUE * median(coarse[around])
