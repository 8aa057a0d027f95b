"""The dark rim inside a casting's outline, and what lies within it.

A curved flank and the edge of a tapered cup's bottom draw a dark line inside the outline. Bright parts that reach the
outline then lie over the wall or beyond the flank, where everything is seen distorted or twice; the bright parts away
from it are the ones to judge. Where narrow gaps in the line join the two, the gaps are closed; what that takes between
two parts, as at the ends of a wire, is given back, and so are a wire that parts one from the other and an opaque body
that a strip of clear resin as narrow parts from the line, as an eye by the flank. Where a wire cuts the casting in two
and one side leaks, the line is looked for at paler shades.
"""

from __future__ import annotations

from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.parts import disc, filled, stub_px
from bubblegrade.quantiles import median

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

NO_GAP: Final = 1  # coarse px
DARK: Final = 0.6  # of the casting's clear light: darker is a rim or hardware
OPAQUE: Final = 0.1  # of the clear level: what passes less is hardware; stray light of a lens leaves it 0.01 to 0.03
TRIES: Final = ((DARK, NO_GAP), (DARK, 5))  # a rim is darker than this share of the clear light, its gaps are narrower
FURTHER: Final = ((0.7, NO_GAP), (0.7, 5), (0.8, NO_GAP), (0.8, 5))  # where one side of a wire shows that there is one
INNER_SHARE: Final = 0.4  # of the casting that bright parts away from the outline must cover to be the judged ones
ASIDE: Final = 0.06  # of the casting's size: farther from its middle lies the middle of one side alone
ENCLOSED: Final = 2 / 3  # of the border of its hull in clear parts: of bodies 0.75 or more, of pieces of rim half
LOST: Final = 0.5  # of a dark body that is opaque and left out: less of a wire, nearly all of an eye by the flank
WIRE_SHARE: Final = 0.03  # of the casting's size: a wire from end to end is up to twice as wide
PART_SHARE: Final = 0.01  # of the casting: a smaller bright part is the core of a void or a gleam


def within_rim(coarse: Image, casting: Mask, apart: Mask) -> Mask:
    """Return the part of the casting that can be judged: what lies within its dark rim, all of it if there is none.

    Parameters
    ----------
    coarse
        Linear light, (rows, cols), thinned.
    casting
        What the outline runs through and holds, same shape.
    apart
        Where the bare light shows through it or a wide body lets none through, same shape: that tells no clear level.
    """
    level, area = median(coarse[casting & ~apart]), casting.sum()
    around = cv2.dilate(casting.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    one_side = False
    for dark, gap in (*TRIES, *FURTHER):
        if (dark, gap) in FURTHER and not one_side:
            break
        bright = (around & ~apart & (coarse > dark * level)).view(np.uint8)
        inner = _away_from_outline(_without_leaks(bright, gap), casting, around)
        if inner.sum() < INNER_SHARE * area:
            continue
        if not _is_aside(inner, casting):
            return _with_bodies(filled(_closed(inner, casting, gap)), bright.view(np.bool_), coarse < OPAQUE * level)
        one_side = True
    return casting


def _without_leaks(bright: NDArray[np.uint8], gap: int) -> NDArray[Any]:
    """Return what is bright, without what is no wider than a gap."""
    return bright if gap == NO_GAP else cv2.morphologyEx(bright, cv2.MORPH_OPEN, np.ones((gap, gap), np.uint8))


def _is_aside(inner: Mask, casting: Mask) -> bool:
    """Say whether what lies within the rim is one side of the casting, as where a wire cuts it in two."""
    (x, y), (to_x, to_y) = (_middle(mask) for mask in (inner, casting))
    return bool(np.hypot(x - to_x, y - to_y) > ASIDE * np.sqrt(casting.sum()))


def _middle(mask: Mask) -> tuple[float, float]:
    moments = cv2.moments(mask.view(np.uint8), binaryImage=True)
    return moments["m10"] / moments["m00"], moments["m01"] / moments["m00"]


def _with_bodies(inner: Mask, bright: Mask, opaque: Mask) -> Mask:
    """Return what lies within the rim, with the opaque bodies that are taken for rim but lie inside all the same."""
    kept, lost = inner.astype(np.uint8), opaque & ~inner
    bodies, _ = cv2.findContours((filled(bright) & ~bright).view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    for body in bodies:
        left, top, width, height = cv2.boundingRect(body)
        around = np.s_[top - 1 : top + height + 1, left - 1 : left + width + 1]
        own, hull = np.zeros((2, height + 2, width + 2), np.uint8)
        cv2.drawContours(own, [body - (left - 1, top - 1)], -1, 1, thickness=cv2.FILLED)
        cv2.fillConvexPoly(hull, cv2.convexHull(body) - (left - 1, top - 1), 1)
        border = cv2.dilate(hull, np.ones((3, 3), np.uint8)) > hull
        if inner[around][border].mean() > ENCLOSED and lost[around][own > 0].mean() > LOST:
            kept[around] |= own
    return kept.view(np.bool_)


def _closed(inner: Mask, casting: Mask, gap: int) -> Mask:
    """Return what lies within the rim without its dents, gaps and the wires between its parts."""
    reach = stub_px(casting) if gap == NO_GAP else gap
    wide = max(reach, round(WIRE_SHARE * np.sqrt(casting.sum())))
    return _bridged(inner, reach) | _between(inner, _bridged(inner, wide) & ~inner)


def _bridged(inner: Mask, reach: int) -> Mask:
    """Return a mask with what is no wider than twice the reach closed."""
    closed = cv2.morphologyEx(np.pad(inner, 3 * reach).astype(np.uint8), cv2.MORPH_CLOSE, disc(reach))
    return np.asarray(closed[3 * reach : -3 * reach, 3 * reach : -3 * reach].astype(bool))


def _between(inner: Mask, gaps: Mask) -> Mask:
    """Return those gaps that part one piece of what lies within the rim from another."""
    found = np.zeros_like(inner)
    count, pieces = cv2.connectedComponents(inner.astype(np.uint8))
    if count <= 2:  # noqa: PLR2004
        return found
    gaps_there, labels = cv2.connectedComponents(gaps.astype(np.uint8))
    for label in range(1, gaps_there):
        gap = labels == label
        beside = cv2.dilate(gap.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool) & inner
        if len(np.unique(pieces[beside])) > 1:
            found |= gap
    return found


def _away_from_outline(bright: NDArray[Any], casting: Mask, around: Mask) -> Mask:
    """Return the large bright parts that do not reach the border of what lies `around` the casting."""
    _, labels = cv2.connectedComponents(bright, connectivity=4)
    rim = around & ~cv2.erode(around.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0).astype(bool)
    area = np.bincount(labels.ravel())
    area[0] = area[labels[rim]] = 0
    area[area < PART_SHARE * casting.sum()] = 0
    return np.asarray(area[labels] > 0)
