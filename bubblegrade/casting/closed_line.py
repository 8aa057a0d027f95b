"""The casting's outline where its edge is weaker, point by point, than a pattern of the backlight.

Of all closed lines around a point, the one is taken across which the light grows most from inside to outside, summed
all the way around: at an edge it grows everywhere, at a ripple here and there only. The lines run in polar coordinates,
stretched to the casting's proportions, and are found by dynamic programming [1]_. Only a line that is round or shaped
like a lens and strong nearly everywhere counts, so that a bare backlight has none, wavy or not. Straight edges do not
count: where ripples cross they draw squares.

References
----------
.. [1] A. A. Amini, T. E. Weymouth and R. C. Jain, Using dynamic programming for solving variational problems in
   vision, IEEE Trans. Pattern Anal. Mach. Intell. 12 (1990) 855-867.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.best_way import BENDS, best_way
from bubblegrade.casting.edge import Points, covered
from bubblegrade.casting.parts import disc

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]

ANGLES, RADII = 128, 64  # around a centre, and outwards
RADIUS_SHARES: Final = (0.1, 0.56)  # least and most radius, of the root of the lit area
CENTRES: Final = (-0.12, 0.0, 0.12)  # from the middle of the lit area, of its width and height
STRETCHES: Final = ((1, 1), (2, 6), (5, 12))  # length over width tried, and in how many directions
NARROW_PX, BROAD_PX = 1.0, 4.0  # sigma, coarse px: an edge is narrower than a ripple of the light
VOID_PX: Final = 9  # coarse px: dark spots and wires narrower than this are filled before lines are looked for
FULL_STEP: Final = 0.012  # natural log per coarse px: a stronger step counts as this one, or voids draw the line
BORDER_PX: Final = 17  # coarse px: the rim of the lit area is no edge of a casting
KEPT: Final = (40, 16)  # lines looked at again around their own middles, in the first and second round
NEAR: Final = 3  # radii to both sides of a line in which it is looked for once more, with the dark spots
RUN: Final = 9  # angles over which a line's strength is averaged
WEAK_SHARE: Final = 0.1  # of the way around: the weakest part of a line


@dataclass(frozen=True)
class _Form:
    """What a line must be to belong to a casting of some form; strengths are shares of FULL_STEP."""

    longest: float  # length over width
    shortest: float
    likeness: float  # least overlap with the ellipse fitted to it, over their union
    mean: float  # least mean strength
    weakest: float  # least strength in its weakest part


ROUND: Final = _Form(longest=1.4, shortest=1.0, likeness=0.965, mean=0.6, weakest=0.3)
LENS: Final = _Form(longest=10.0, shortest=3.5, likeness=0.945, mean=0.8, weakest=0.35)


@dataclass(frozen=True, eq=False)
class _Lines:
    """The strongest closed line around each centre."""

    points: NDArray[np.float32]  # (N, ANGLES, 2) x, y in coarse px
    strength: Image  # (N, ANGLES) growth of the light across it, outwards, over FULL_STEP; at most 1
    radius: NDArray[np.intp]  # (N, ANGLES)

    def best_first(self) -> NDArray[np.intp]:
        """Return the lines' places by their mean strength."""
        return np.argsort(-self.strength.mean(axis=1), kind="stable")


def find_closed_line(coarse: Image, field: Mask) -> Points | None:
    """Return the closed line around a casting, (N, 2) x, y in coarse px; None where none is certain.

    Parameters
    ----------
    coarse
        (rows, cols) linear light.
    field
        (rows, cols) the lit part of it.
    """
    if not field.any():
        return None
    filled, bare = (_growth(coarse, field, without_spots=spotless) for spotless in (True, False))
    size = float(np.sqrt(np.count_nonzero(field)))
    radii = np.geomspace(RADIUS_SHARES[0] * size, RADIUS_SHARES[1] * size, RADII).astype(np.float32)
    views, lines = _first_views(field), None
    for most in KEPT:
        lines = _strongest(filled, views, radii)
        views = _own_views(lines.points[lines.best_first()], most)
        if not len(views):
            return None
    lines = _strongest(filled, views, radii)
    found = [lines, _strongest(bare, views, radii, near=lines.radius)]
    certain = [
        (float(strength.mean()), points)
        for each in found
        for points, strength in zip(each.points, each.strength, strict=True)
        if _is_casting(points, strength, field.shape)
    ]
    return np.asarray(max(certain, key=lambda line: line[0])[1], np.float64) if certain else None


def _growth(coarse: Image, field: Mask, *, without_spots: bool) -> tuple[Image, Image]:
    """Return how fast the light grows to the right and downwards, natural log per px, over FULL_STEP."""
    light = np.log(np.maximum(cv2.GaussianBlur(coarse, (0, 0), 0.7), 0) + 0.02)
    if without_spots:
        light = cv2.morphologyEx(light, cv2.MORPH_CLOSE, disc(VOID_PX // 2))
    narrow = cv2.GaussianBlur(light, (0, 0), NARROW_PX) - cv2.GaussianBlur(light, (0, 0), BROAD_PX)
    well_lit = cv2.erode(field.astype(np.uint8), np.ones((BORDER_PX, BORDER_PX), np.uint8), borderValue=1)
    scale = well_lit.astype(np.float32) / np.float32(32 * FULL_STEP)
    right, down = (cv2.Scharr(narrow, cv2.CV_32F, across, 1 - across) * scale for across in (1, 0))
    return np.asarray(right, np.float32), np.asarray(down, np.float32)


def _first_views(field: Mask) -> Points:
    """Return where lines are looked for, (N, 4): centre x, y, length over width, direction in radians."""
    rows, cols = np.nonzero(field)
    return np.array(
        [
            (cols.mean() + across * np.ptp(cols), rows.mean() + down * np.ptp(rows), stretch, turn * np.pi / turns)
            for across in CENTRES
            for down in CENTRES
            for stretch, turns in STRETCHES
            for turn in range(turns)
        ]
    )


def _own_views(lines: NDArray[np.float32], most: int) -> Points:
    """Return the lines' own middles, proportions and directions, (N, 4), of at most `most` that are not alike."""
    views: list[tuple[float, float, float, float]] = []
    seen = set()
    for line in lines:
        moment = cv2.moments(line.reshape(-1, 1, 2))
        area = moment["m00"]
        if area <= 1.0:
            continue
        spread, axes = np.linalg.eigh(
            np.array([[moment["mu20"], moment["mu11"]], [moment["mu11"], moment["mu02"]]]) / area
        )
        stretch = float(np.clip(np.sqrt(spread[1] / max(spread[0], 1e-6)), 1.0, 12.0))
        kind = (round(np.log(area) / 0.1), round(np.log(stretch) / 0.25))
        if kind not in seen and len(views) < most:
            seen.add(kind)
            turn = float(np.arctan2(axes[1, 1], axes[0, 1]))
            views.append((moment["m10"] / area, moment["m01"] / area, stretch, turn))
    return np.array(views).reshape(-1, 4)


def _strongest(
    growth: tuple[Image, Image], views: Points, radii: Image, near: NDArray[np.intp] | None = None
) -> _Lines:
    """Return the strongest closed line seen from each view, near given radii where there are such."""
    x, y, stretch, turn = views.T.astype(np.float32)[:, :, None]
    angle = (2 * np.pi / ANGLES * np.arange(ANGLES)).astype(np.float32)
    wide = np.sqrt(stretch)
    out = _turned(wide * np.cos(angle), np.sin(angle) / wide, turn)
    normal = _turned(np.cos(angle) / wide, np.sin(angle) * wide, turn)
    length = np.hypot(*normal)
    strength = np.empty((len(views), ANGLES, RADII), np.float32)
    points = np.empty((*strength.shape, 2), np.float32)
    for i in range(len(views)):
        along = [middle[i] + part[i][:, None] * radii for middle, part in zip((x, y), out, strict=True)]
        grown = [
            cv2.remap(part, along[0], along[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT) for part in growth
        ]
        across = sum(part * (unit[i] / length[i])[:, None] for part, unit in zip(grown, normal, strict=True))
        strength[i] = np.clip(across, -1.0, 1.0)
        points[i] = np.stack(along, axis=-1)
    if near is None:
        radius = best_way(strength)
    else:
        close = np.abs(np.arange(RADII) - near[:, :, None]) <= NEAR
        radius = best_way(np.where(close, strength, np.float32(-len(BENDS))))
    line, step = np.arange(len(views))[:, None], np.arange(ANGLES)
    return _Lines(points[line, step, radius], strength[line, step, radius], radius)


def _turned(x: NDArray[Any], y: NDArray[Any], turn: NDArray[Any] | float) -> tuple[NDArray[Any], NDArray[Any]]:
    """Return coordinates turned by an angle."""
    return np.cos(turn) * x - np.sin(turn) * y, np.sin(turn) * x + np.cos(turn) * y


def _is_casting(points: NDArray[np.float32], strength: Image, shape: tuple[int, ...]) -> bool:
    """Say whether a line has the form of a casting and is strong nearly all the way around."""
    middle, axes, turn = cv2.fitEllipse(points)
    length = max(axes) / max(min(axes), 1e-3)
    run = np.convolve(np.tile(strength, 3), np.full(RUN, 1 / RUN), "same")[ANGLES : 2 * ANGLES]
    mean, weakest = float(strength.mean()), float(np.quantile(run, WEAK_SHARE))
    angle = 2 * np.pi / ANGLES * np.arange(ANGLES)
    way = math.radians(turn)
    ellipse = np.stack(_turned(axes[0] / 2 * np.cos(angle), axes[1] / 2 * np.sin(angle), way), axis=1) + middle
    likeness = _likeness(points, ellipse, shape)
    return any(
        form.shortest <= length <= form.longest
        and likeness >= form.likeness
        and mean >= form.mean
        and weakest >= form.weakest
        for form in (ROUND, LENS)
    )


def _likeness(points: NDArray[Any], fitted: NDArray[Any], shape: tuple[int, ...]) -> float:
    """Return the overlap of the areas within two closed lines over their union."""
    one, other = (covered(np.asarray(line, np.float64), 1, (shape[0], shape[1])) for line in (points, fitted))
    return int(np.count_nonzero(one & other)) / max(int(np.count_nonzero(one | other)), 1)
