"""The needle of a squared dial: the long line near the centre, and its direction to a fraction of a degree.

A needle stands above the print, so that a slanting camera shifts it sideways as a whole: it need not point at the
centre, and its direction stays what it is. So its direction is fitted, never the place of its tip.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.pressure.dial.face import CENTRE_PX, RADIUS_PX, Face

Floats = NDArray[np.floating[Any]]

INNER: Final = 0.16  # of the ring's radius: outside the hub
OUTER: Final = 0.52  # inside the end of the shortest needle
FARTHEST: Final = 0.68
ASIDE: Final = np.linspace(-0.07, 0.07, 15)  # of the radius by which a needle may miss the centre
ANGLES: Final = 720
LEAST_SCORE: Final = 6.0  # grey values along the whole needle
CLEAR: Final = 1.25  # times the next best line, from which there is one needle; its tail apart
TAIL_DEG: Final = 25.0  # around the needle and its tail, where other lines are the needle's own
HALF_WIDE: Final = 0.07  # of the radius, to each side of the needle, in which it is fitted
CORE: Final = 0.6  # of a row's peak, below which it is the needle's shadow
SHADED: Final = 0.3  # of a row's peak, with which some of its shadow is taken in
UNEVEN: Final = 0.35  # of a row's peak, by which its ground may differ from side to side
MISSED_ROWS: Final = 5  # past the sure part, after which the needle is taken to have ended
LEAST_SPREAD_PX: Final = 0.1
MOST_ERR_DEG: Final = 0.6
ROUNDS: Final = 4
WEAK: Final = 0.4  # of the needle's usual strength, below which a row along it says nothing
LEAST_ROWS: Final = 24
OUTLYING: Final = 2.5  # standard deviations beyond which a row is left out
TOGETHER_PX: Final = 6.0  # rows so near share their error


@dataclass(frozen=True)
class Needle:
    """A needle's line: its direction, clockwise from straight up, and how far it passes the centre."""

    deg: float
    err_deg: float
    aside: float  # of the ring's radius, to the right of its direction


def find_needle(face: Face) -> Needle | None:
    """Return the needle of a squared dial, fitted; None where no line stands out or it cannot be followed."""
    scores = _scores(face)
    best = int(np.argmax(scores.max(axis=1)))
    aside = float(ASIDE[int(np.argmax(scores[best]))])
    deg = 360.0 * best / ANGLES
    away = np.abs((np.arange(ANGLES) * 360.0 / ANGLES - deg + 90.0) % 180.0 - 90.0)
    others = scores[away > TAIL_DEG].max()
    if scores[best].max() < max(LEAST_SCORE, CLEAR * others):
        return None
    return fit_needle(face, Needle(deg, math.nan, aside))


def fit_needle(face: Face, near: Needle) -> Needle | None:
    """Return the needle that lies near a line; None where too little of it can be followed."""
    found = near
    for _ in range(ROUNDS):
        line = _followed(face, found, CORE)
        if line is None:
            return None
        found = line
    with_shadow = _followed(face, found, SHADED)
    if with_shadow is None:
        return None
    # A shadow as dark as its needle draws the line aside, all the more the more of it is taken in.
    pulled = (with_shadow.deg - found.deg + 180.0) % 360.0 - 180.0
    return replace(found, err_deg=math.hypot(found.err_deg, pulled))


def _at(face: Face, deg: Any, along: Any, aside: Any) -> Floats:
    """Return grey values at places given by a direction, a distance along it and one to its right, in radii."""
    angle = np.radians(deg)
    x = CENTRE_PX + RADIUS_PX * (along * np.sin(angle) + aside * np.cos(angle))
    y = CENTRE_PX + RADIUS_PX * (aside * np.sin(angle) - along * np.cos(angle))
    return np.asarray(cv2.remap(face, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR))


def _scores(face: Face) -> Floats:
    """Return by how much each line, of shape (angles, asides), stands out on both its sides along its whole length."""
    soft = np.asarray(cv2.GaussianBlur(face, (0, 0), 1.5), np.float32)
    along = np.linspace(INNER, OUTER, 40)[np.newaxis]
    deg = np.arange(ANGLES)[:, np.newaxis] * 360.0 / ANGLES
    found = np.empty((ANGLES, len(ASIDE)))
    for number, aside in enumerate(ASIDE):
        grey, left, right = (_at(soft, deg, along, aside + side) for side in (0.0, -HALF_WIDE, HALF_WIDE))
        lighter, darker = np.minimum(grey - left, grey - right), np.minimum(left - grey, right - grey)
        found[:, number] = np.maximum(np.percentile(lighter, 20.0, axis=1), np.percentile(darker, 20.0, axis=1))
    return found


def _followed(face: Face, near: Needle, core: float) -> Needle | None:
    """Return the line through the middles of the needle, row by row along it."""
    along = np.arange(INNER, FARTHEST, 1.0 / RADIUS_PX)
    across = np.arange(-HALF_WIDE, HALF_WIDE + 1e-9, 0.5 / RADIUS_PX)
    grey = _at(face, near.deg, along[:, np.newaxis], near.aside + across[np.newaxis])
    edge = max(len(across) // 6, 2)
    left, right = np.median(grey[:, :edge], axis=1), np.median(grey[:, -edge:], axis=1)
    share = np.linspace(0.0, 1.0, len(across))
    off = grey - (left[:, np.newaxis] * (1.0 - share) + right[:, np.newaxis] * share)
    sure = int((OUTER - INNER) * RADIUS_PX)
    sign = 1.0 if np.median(off[:sure].max(axis=1) + off[:sure].min(axis=1)) > 0.0 else -1.0
    lit = np.clip(sign * off, 0.0, None)
    peak = lit.max(axis=1)
    lit = np.where(lit > core * peak[:, np.newaxis], lit, 0.0)
    used = (peak > WEAK * np.median(peak[:sure])) & (np.abs(left - right) < UNEVEN * peak)
    if used[:sure].sum() < LEAST_ROWS:
        return None
    middle = (lit @ across) / np.maximum(lit.sum(axis=1), 1e-9)
    return _line(along, middle, used, sure, near)


def _line(along: Floats, middle: Floats, used: NDArray[np.bool_], sure: int, near: Needle) -> Needle | None:
    """Return the needle whose middles these are: a robust line, followed past the `sure` rows as far as it goes on."""
    from scipy.stats import theilslopes  # noqa: PLC0415 - it takes most of a second, and what was typed has no needle

    slope, level, *_ = theilslopes(middle[:sure][used[:sure]], along[:sure][used[:sure]])
    keep, spread = used, 0.0
    for _ in range(ROUNDS):
        away = np.abs(middle - slope * along - level)
        within = used[:sure]
        spread = 1.4826 * float(np.median(away[:sure][within])) + LEAST_SPREAD_PX / RADIUS_PX
        keep = used & (away < OUTLYING * spread)
        keep[sure:] &= np.cumsum(~keep[sure:]) < MISSED_ROWS
        if keep.sum() < LEAST_ROWS:
            return None
        slope, level = np.polyfit(along[keep], middle[keep], 1)
    independent = max(keep.sum() / TOGETHER_PX, 3.0)
    err = math.degrees(spread / (math.sqrt(independent) * float(np.std(along[keep]))))
    if err > MOST_ERR_DEG:
        return None
    return Needle((near.deg + math.degrees(math.atan(slope))) % 360.0, err, near.aside + float(level))
