"""Openings: where the bare light shows through a casting, as in a ring, a bored pendant or between the pins of a scale.

Resin always takes some of the light, its two faces alone 8 % (Fresnel, index 1.5). A part in the casting that is as
bright as the light beside it, and that a dark line parts from the resin all around, is none; nor is one of the light's
own colour in tinted resin, as the straight bore of a finger ring shows no line. Where it is most of what the outline
encloses, as of a bangle, the resin is that along the outline, which may run across the mouth of an open one. The loop
of an eye or hook hanger stands out of the resin: its wire lets nothing through, and the opening in it lies at the
outline.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.backlight import backlight_around
from bubblegrade.casting.parts import filled
from bubblegrade.photo.light import Codes
from bubblegrade.quantiles import median

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

DIMMEST: Final = 1e-3  # of full scale: no bare light is taken to be darker
LEAST_TAKEN: Final = 0.03  # of the light: resin that takes less is not told from bare light
AS_BARE: Final = 0.3  # of what the resin takes: so near to the bare light is an opening's light
CLEARED: Final = 0.04  # of the light: half of what two faces take; without a line an opening is as near to it
LEAST_TINT: Final = 0.02  # in the shares of the colours: a fainter tint tells no opening
LEAST_PX: Final = 5  # coarse px: a narrower opening has no middle clear of its own edge
APART_PX: Final = 5  # coarse px: nearer to the outline it is a dent of it, or the opening of a loop of wire
RIM_PX: Final = 5  # coarse px, side of the square in which the dark line around it must lie
RIMMED: Final = 0.9  # share of its border with such a line
MOST_LOOPS: Final = 8  # of wire at one piece: more are the meshes of what lies on the light
BAY: Final = 0.2  # of what the outline encloses: as large a part that reaches the outline may be an open bangle's bore,
MOUTH: Final = 0.3  # where no more of its border than this lies there
WIRE: Final = 0.3  # of the bare light: what lets less through is a wire
WIRE_PX: Final = 7  # coarse px, side of the square in which it must lie: dark enough only behind its own soft edge


def openings(coarse: Image, field: Mask, casting: Mask, opaque: Mask, codes: Codes | None = None) -> Mask:
    """Return the parts of a casting through which the bare light shows, (rows, cols) of the coarse picture.

    Parameters
    ----------
    coarse
        (rows, cols) linear light.
    field
        (rows, cols) the lit part of it.
    casting
        (rows, cols) what the outline encloses.
    opaque
        (rows, cols) wide bodies in it that let no light through.
    codes
        The photograph, (rows, cols) grey or (rows, cols, 3) of any size; None where its colours are not to tell.
    """
    found = np.zeros_like(casting)
    around = _grown(casting, 2 * APART_PX - 1)
    bare = backlight_around(coarse, field & ~around)
    inner = cv2.erode(casting.astype(np.uint8), np.ones((2 * APART_PX + 1,) * 2, np.uint8), borderValue=0).astype(bool)
    if not (inner & ~opaque).any() or np.isnan(bare).any():
        return found
    passed = np.asarray(coarse / np.maximum(bare, DIMMEST), np.float32)
    resin = median(passed[inner & ~opaque])
    if abs(1 - resin) < LEAST_TAKEN:  # where an opening is most of what the outline encloses
        resin = median(passed[inner & ~opaque & _grown(~inner, 2 * APART_PX + 1)])
    taken = 1 - resin
    if taken < LEAST_TAKEN:
        return found
    bright = (casting & (passed > 1 - taken / 2)).astype(np.uint8)
    kept = cv2.morphologyEx(bright, cv2.MORPH_OPEN, np.ones((LEAST_PX, LEAST_PX), np.uint8))
    count, labels = cv2.connectedComponents(kept, connectivity=4)
    loops, unlined = [], []
    for label in range(1, count):
        part = filled(labels == label)
        off = abs(median(passed[part]) - 1)
        if off >= AS_BARE * taken:
            continue
        if (part & ~inner).any():
            if _rimmed(passed, part, WIRE, WIRE_PX):
                loops.append(part)
            elif part.sum() > BAY * casting.sum() and _rimmed(passed, part, resin, RIM_PX, apart_from=~inner):
                found |= _grown(part, 3)
        elif _rimmed(passed, part, resin, RIM_PX):
            found |= _grown(part, 3)
        elif off < CLEARED:
            unlined.append(part)
    for part in () if codes is None else _of_the_light(codes, unlined, inner, field & ~around):
        found |= _grown(part, 3)
    return found | _grown(np.any(loops, axis=0), 3) if 0 < len(loops) <= MOST_LOOPS else found


def _rimmed(passed: Image, part: Mask, darker: float, side_px: int, apart_from: Mask | None = None) -> bool:
    """Say whether a line darker than this parts it from the rest nearly all around, but for a mouth at the outline."""
    border = part & ~cv2.erode(part.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    darkest = cv2.erode(passed, np.ones((side_px, side_px), np.uint8))
    if apart_from is not None:
        mouth = (border & apart_from).sum() / border.sum()
        if mouth > MOUTH:
            return False
        border &= ~apart_from
    return bool((darkest[border] < darker).mean() > RIMMED)


def _of_the_light(codes: Codes, parts: Sequence[Mask], resin: Mask, bare: Mask) -> list[Mask]:
    """Return the parts of the colour of the bare light where the resin, by its shares of the colours, has not it."""
    if codes.ndim == 2 or not parts:  # noqa: PLR2004
        return []
    small = cv2.resize(codes, resin.shape[::-1], interpolation=cv2.INTER_AREA).astype(np.float32)
    shares = small / np.maximum(small.sum(axis=2, keepdims=True), 1)
    light = np.median(shares[bare], axis=0)

    def its(part: Mask) -> bool:
        around = resin & ~_grown(part, RIM_PX)
        if not around.any():
            return False
        tint = float(np.linalg.norm(np.median(shares[around], axis=0) - light))
        return tint > LEAST_TINT and float(np.linalg.norm(np.median(shares[part], axis=0) - light)) < AS_BARE * tint

    return [part for part in parts if its(part)]


def _grown(mask: Mask, size: int) -> Mask:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), np.ones((size, size), np.uint8)).astype(bool))
