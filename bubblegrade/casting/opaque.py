"""Opaque bodies in a casting: wood beside which resin was poured, a printed sheet, a skeleton of metal.

What lets less than a fifth of the clear resin's light through, half of it less than 0.135, and ends at a sharp border
is no deeply tinted resin, whose light falls off with its depth, nor most second pours. It is hardware, and says nothing
of the resin's light and its noise. Where what is clear beside it is an opening, it is what the casting is made of.

Its border is stronger than that of pale resin, so that the outline is looked for as if it were resin too.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.backlight import COLOURLESS, DIMMEST, backlight_around
from bubblegrade.casting.parts import disc, filled
from bubblegrade.quantiles import median, quantile

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

CLEAR: Final = 0.9  # quantile of the casting's light: resin, however much of the casting is wood
PASSES: Final = 0.2  # of that light: what lets less through is opaque, or as good as that beside the resin
MOSTLY: Final = 0.135  # and half of it less than this: of sheets in a lit room 0.12 (measured), of deep tints more
WIDE_SHARE: Final = 0.02  # of the picture's longer side: radius of a disc that such a body holds
LEAST: Final = 0.1  # of the casting: less says little, as an eye or a ballast
GLEAM_PX: Final = 50  # coarse px, an area: a smaller hole in such a body is the gleam of a void before it
SHARP_PX: Final = 4  # coarse px in which the light comes back,
BACK: Final = 0.5  # to so much of the clear resin's,
SHARP: Final = 0.5  # along so much of the body's border
SOFT_PX: Final = 5  # coarse px, side of the square by which a body's soft edge is wider
AROUND_PX: Final = 17  # coarse px, likewise: what lies beyond is bare light and, somewhere, resin,
BESIDE: Final = 0.2  # the darker fifth of it at least
SHOWN: Final = 0.1  # of a casting: less that lets light through is what shines past hardware
BARE: Final = 0.97  # of the bare light: an opening lets more through


def opaque_bodies(coarse: Image, casting: Mask, field: Mask) -> Mask:
    """Return the wide opaque bodies in a casting, (rows, cols).

    Parameters
    ----------
    coarse
        (rows, cols) linear light.
    casting
        (rows, cols) what its outline encloses.
    field
        (rows, cols) the lit part of the frame.
    """
    none = np.zeros_like(casting)
    if not casting.any():
        return none
    clear = quantile(coarse[casting], CLEAR)
    wide = _wide(casting & (coarse < PASSES * clear))
    if not wide.any():
        return none
    light = cv2.dilate(np.where(casting, coarse, 0), np.ones((2 * SHARP_PX + 1,) * 2, np.uint8)) > BACK * clear
    inner = cv2.erode(casting.view(np.uint8), np.ones((2 * SHARP_PX + 3,) * 2, np.uint8), borderValue=0).view(bool)
    count, labels = cv2.connectedComponents(wide)
    found = none.copy()
    for label in range(1, count):
        body = labels == label
        border = inner & body & ~cv2.erode(body.view(np.uint8), np.ones((3, 3), np.uint8)).view(bool)
        if border.any() and light[border].mean() > SHARP and median(coarse[body]) < MOSTLY * clear:
            found |= body
    if found.sum() <= LEAST * casting.sum() or _is_all(found, coarse, casting, field):
        return none
    return _without_gleams(found)


def _is_all(bodies: Mask, coarse: Image, casting: Mask, field: Mask) -> bool:
    """Say whether bodies, but for an opening, are all of a casting: a ring that lets next to no light through."""
    around = cv2.dilate(casting.view(np.uint8), np.ones((AROUND_PX, AROUND_PX), np.uint8)).view(bool)
    passed = coarse / np.maximum(backlight_around(coarse, field & ~around), DIMMEST)
    return median(passed[casting & ~bodies]) > BARE and not shows_resin(coarse, casting, field)


def _without_gleams(bodies: Mask) -> Mask:
    """Return bodies with their small holes filled."""
    holes = (filled(bodies) & ~bodies).view(np.uint8)
    _, labels, facts, _ = cv2.connectedComponentsWithStats(holes, connectivity=4)
    small = 1 + np.flatnonzero(facts[1:, cv2.CC_STAT_AREA] < GLEAM_PX)
    return np.asarray(bodies | np.isin(labels, small))


def as_resin(coarse: Image, field: Mask) -> Image | None:
    """Return the light of a lit `field`, both (rows, cols), as if opaque bodies in it were resin; None without any."""
    bodies = _wide(field & (coarse < PASSES * quantile(coarse[field], CLEAR)))
    soft, near = (cv2.dilate(bodies, np.ones((side, side), np.uint8)).view(bool) for side in (SOFT_PX, AROUND_PX))
    light, around = backlight_around(coarse, field & ~soft), field & near & ~soft
    if not bodies.any() or not around.any() or np.isnan(light).any():
        return None
    passes = min(quantile(coarse[around] / np.maximum(light[around], DIMMEST), BESIDE), COLOURLESS)
    beside = cv2.dilate(np.where(soft, 0, coarse), np.ones((SOFT_PX, SOFT_PX), np.uint8))
    return np.where(bodies.view(bool), np.float32(passes) * light, np.where(soft, beside, coarse))


def shows_resin(coarse: Image, casting: Mask, field: Mask) -> bool:
    """Say whether enough of a casting near its outline lets light through; masks and light, (rows, cols).

    What shines through the bore of a ring of metal lies farther inside, and the soft edge of a body is narrow.
    """
    square = np.ones((SOFT_PX, SOFT_PX), np.uint8)
    bright = (casting & (coarse > PASSES * quantile(coarse[field], CLEAR))).view(np.uint8)
    _, labels = cv2.connectedComponents(cv2.morphologyEx(bright, cv2.MORPH_OPEN, square))
    inner = cv2.erode(casting.view(np.uint8), np.ones((AROUND_PX, AROUND_PX), np.uint8), borderValue=0).view(bool)
    at_edge = np.unique(labels[casting & ~inner])
    return bool(np.isin(labels, at_edge[at_edge > 0]).sum() > SHOWN * casting.sum())


def _wide(dark: Mask) -> NDArray[np.uint8]:
    """Return the parts of what is dark that are as wide as a body."""
    core = cv2.morphologyEx(dark.view(np.uint8), cv2.MORPH_OPEN, disc(max(1, round(WIDE_SHARE * max(dark.shape)))))
    _, labels = cv2.connectedComponents(dark.view(np.uint8))
    return np.isin(labels, np.setdiff1d(labels[core > 0], [0])).astype(np.uint8)
