"""Voids in front of hardware: what a wire, an eye or ballast should look like there, and what differs from it.

Over hardware a void has no dark ring on a bright ground: its core shows the light beside the hardware, so it is a
bright spot that darkness encloses, and its ring is lighter than what lies behind it. Where it stands half beside the
hardware, its ring is dark there. Both together make a disc. So the hardware is drawn without the void, by the straight
lines along which it is dark, and the void is what differs from that.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.quantiles import median
from bubblegrade.voids.table import Voids, apart, stacked

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Line = NDArray[Any]
Places = NDArray[np.float32]
Disc = tuple[float, float, float, float]  # x, y, diameter, roundness

CORES: Final = {0.15: 0.44, 0.25: 0.5, 0.4: 0.57, 0.6: 0.8, 0.75: 1.02}  # darkness: a core's radius over the void's
SCALES: Final = (1.0, 1.6)  # times that radius: half a core, over the hardware's edge, tells too little
LEAST_DEPTH: Final = 0.12  # by which a core is lighter than the darkness that encloses it
GREY: Final = 2  # dimensions of a picture without colour
GRAIN_PX: Final = 0.8  # blur that takes grain off before that is told
LEAST_CORE_PX, MOST_CORE_PX = 2.0, 60.0  # area, and radius
THINNEST: Final = 0.25  # of its length: a narrower core is a gleam along a wire
NEAR_PX: Final = 2  # around hardware: so far off, what encloses a core is still hardware
ENCLOSED: Final = 0.9  # of a core's border that is hardware
SAME_PLACE, SAME_SIZE = 0.2, 1.2  # radii, and ratio: what lies nearer and is more alike is one core
UNIT: Final = 9  # pixels of a view over the radius that the core tells
HALF: Final = 34  # from the middle of a view to its side
HALVED: Final = 0.4  # blur over the pixels that become one in a smaller view
TOGETHER: Final = 64  # views looked at together
LINE: Final = 24  # places on a line along which hardware is dark, and
STEP: Final = 2  # pixels of a view from one to the next
DIRECTIONS: Final = 16
DARK: Final = 0.55  # darkness of hardware
LEAST_SHOWN: Final = 0.05  # of the pixels around one that tell how dark the hardware is there
HELD: Final = (0.45, 0.75)  # share of a line that is dark: none below the former is hardware, all above the latter
CHANGES: Final = (0.1, 0.15, 0.25, 0.4)  # differences at which a disc is cut out
LEAST_NOISE: Final = 3.0  # standard deviations of a pixel's darkness that a difference exceeds
LEAST_DISC, MOST_DISC = 0.15, 6.0  # times the disc that the core tells
OFF_MIDDLE: Final = 0.3  # of the radius that the core tells: how far beside the core a disc may end
SOLIDITY: Final = 0.7  # of a disc over its convex hull
ROUND, ROUNDISH = 0.6, 0.4  # share of the smallest circle around it: of a void, and of what may be one
BORDERS: Final = 4.0  # diameters: nearer to the border of what is judged, gleams in the dark rim look alike
SIZE_ERR: Final = 0.15  # of a diameter: measured on traced lures (tests/benchmarks/README.md)
THINNED: Final = 8  # pixels each way of which one tells the colour of the resin
CLEAR: Final = 0.05  # darkness up to which resin is clear
CORE: Final = 0.55  # of a diameter: the middle of a disc, which its colour is told by
COLOURED: Final = (
    0.15  # red less blue over their mean: of 119 voids in lures at most 0.11, of flakes of gold 0.3 and more
)
REASON: Final = "bright spot before hardware: a void in front of it, its size is rough"


@dataclass(frozen=True, eq=False)
class _Core:
    """A bright spot that darkness encloses."""

    x: float
    y: float
    radius: float  # of the void that would show it


def before_hardware(
    darkness: Image, solid: Mask, counted: Voids, border_of: Callable[[Places, Places], Places], *, blur_px: float,
    noise: float,
) -> Voids:  # fmt: skip
    """Return the voids in front of hardware that are not counted yet, and what may be one as 'unsure'.

    Parameters
    ----------
    darkness
        (rows, cols).
    solid
        (rows, cols) hardware, without the bright spots in it.
    counted
        The voids that are counted already.
    border_of
        Tells for (N,) x and y how far each place is from the border of what is judged, px.
    blur_px
        Standard deviation of the photograph's blur.
    noise
        Standard deviation of a pixel's darkness.
    """
    cores = _unlike(_cores(darkness, solid, noise), counted)
    some = (cores[i : i + TOGETHER] for i in range(0, len(cores), TOGETHER))
    discs = [disc for few in some for disc in _discs(darkness, few, blur_px, noise)]
    x, y, diameter, roundness = np.array(sorted(discs, key=lambda disc: -disc[2] * disc[3])).reshape(-1, 4).T
    found = Voids.of(
        x_px=x, y_px=y, diameter_px=diameter, diameter_err_px=SIZE_ERR * diameter,
        kind=np.where(roundness >= ROUND, "void", "unsure"), reason=np.full(len(x), REASON),
    )  # fmt: skip
    away = border_of(x.astype(np.float32), y.astype(np.float32))
    found = found[apart(found, counted) & (away > BORDERS * diameter)]
    kept = Voids.none()
    for i in range(len(found)):
        one = found[i : i + 1]
        kept = stacked([kept, one[apart(one, kept)]])
    return kept


def coloured(codes: NDArray[np.uint8], darkness: Image, finds: Voids) -> Mask:
    """Return which finds, (N,), have a colour of their own, as flakes and eyes do; a void has that of the resin.

    Parameters
    ----------
    codes
        (rows, cols, 3) or (rows, cols), as the file has them.
    darkness
        (rows, cols).
    """
    few = np.s_[::THINNED, ::THINNED]
    resin = codes[few][np.abs(darkness[few]) < CLEAR]
    if codes.ndim == GREY or not len(resin):
        return np.zeros(len(finds), bool)
    even = np.maximum(np.median(resin, axis=0), 1.0)
    return np.array(
        [_is_coloured(codes, even, *at) for at in zip(finds.x_px, finds.y_px, finds.diameter_px, strict=True)], bool
    )


def _is_coloured(codes: NDArray[np.uint8], even: NDArray[np.float64], x: float, y: float, diameter: float) -> bool:
    """Say whether the middle of a disc has another colour than one that is `even`."""
    reach = max(CORE * diameter / 2, 1.5)
    rows, cols = (
        np.arange(max(round(at - reach), 0), min(round(at + reach) + 1, size))
        for at, size in zip((y, x), codes.shape[:2], strict=True)
    )
    within = np.hypot(rows[:, np.newaxis] - y, cols - x) <= reach
    blue, _, red = np.median(codes[rows[:, np.newaxis], cols][within] / even, axis=0)
    return bool(abs(red - blue) > COLOURED * (red + blue) / 2)


def _cores(darkness: Image, solid: Mask, noise: float) -> list[_Core]:
    """Return the bright spots that hardware encloses, each at every darkness at which it does."""
    side = 2 * NEAR_PX + 1
    near = cv2.dilate(solid.astype(np.uint8), np.ones((side, side), np.uint8))
    left, top, wide, high = cv2.boundingRect(near)
    if not wide:
        return []
    box = np.s_[top : top + high, left : left + wide]
    seen, near = darkness[box], near[box]
    smooth = np.asarray(cv2.GaussianBlur(seen, (0, 0), GRAIN_PX), np.float32)
    found, depth = [], max(LEAST_DEPTH, LEAST_NOISE * noise)
    for level, share in CORES.items():
        lines, nesting = cv2.findContours((seen > level).astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
        holes = [] if nesting is None else np.flatnonzero(nesting[0, :, 3] >= 0).tolist()
        for line in (lines[i] for i in holes):
            area = cv2.contourArea(line) - len(line) / 2  # the line runs through the dark pixels around the hole
            if not LEAST_CORE_PX < area < np.pi * MOST_CORE_PX**2:
                continue
            if near[line[:, 0, 1], line[:, 0, 0]].mean() < ENCLOSED or not _deep(smooth, line, level - depth):
                continue
            (x, y), sides, _ = cv2.minAreaRect(line)
            long, short = max(sides) - 1, min(sides) - 1
            if short > THINNEST * long:
                found += [_Core(x + left, y + top, scale * long / 2 / share) for scale in SCALES]
    return found


def _unlike(cores: list[_Core], counted: Voids) -> list[_Core]:
    """Return the cores in the middle of no counted void of which none before shows nearly the same view."""
    kept: list[_Core] = []
    for core in cores:
        off = np.hypot(core.x - counted.x_px, core.y - counted.y_px)
        known = (off < counted.diameter_px / 2).any()
        if not known and not any(
            np.hypot(core.x - one.x, core.y - one.y) < SAME_PLACE * one.radius
            and max(core.radius, one.radius) < SAME_SIZE * min(core.radius, one.radius)
            for one in kept
        ):
            kept.append(core)
    return kept


def _deep(smooth: Image, line: Line, level: float) -> bool:
    """Say whether a hole, given by the dark pixels around it, is anywhere lighter than a level."""
    x, y, wide, high = cv2.boundingRect(line)
    inside = np.zeros((high, wide), np.uint8)
    cv2.drawContours(inside, [line], -1, 1, -1, offset=(-x, -y))
    return bool((smooth[y : y + high, x : x + wide][inside > 0] < level).any())


def _discs(darkness: Image, cores: list[_Core], blur_px: float, noise: float) -> Iterator[Disc]:
    """Yield x, y, diameter and roundness of what differs from the bare hardware around each core, where it does."""
    views = np.stack([_view(darkness, core, core.radius / UNIT) for core in cores])
    for core, view, held in zip(cores, views, _lines(views > DARK), strict=True):
        disc = _disc(view, held, core, blur_px, noise)
        if disc is not None:
            yield disc


def _disc(view: Image, held: Image, core: _Core, blur_px: float, noise: float) -> Disc | None:
    """Return x, y, diameter and roundness of what differs in a view from the bare hardware around a core, or None."""
    pixel = core.radius / UNIT
    if not (hard := (held > DARK) & (view > DARK)).any():
        return None
    bare = cv2.GaussianBlur(np.clip((held - HELD[0]) / (HELD[1] - HELD[0]), 0, 1), (0, 0), max(0.6, blur_px / pixel))
    differs = np.abs(cv2.GaussianBlur(view - bare * _shade(view, hard), (0, 0), 0.7))
    best = None
    for change in CHANGES:
        found = _cut_out(differs > max(change, LEAST_NOISE * noise))
        if found is not None and (best is None or found[2] * found[3] > best[2] * best[3]):
            best = found
    if best is None:
        return None
    x, y, diameter, roundness = best
    return core.x + (x - HALF) * pixel, core.y + (y - HALF) * pixel, diameter * pixel, roundness


def _view(darkness: Image, core: _Core, pixel: float) -> Image:
    """Return the darkness around a core, (2 HALF + 1,) each way, whose pixels are `pixel` of the photograph."""
    reach = int(np.ceil(HALF * pixel)) + 2
    middle = round(core.x), round(core.y)
    top, left = max(middle[1] - reach, 0), max(middle[0] - reach, 0)
    part = darkness[top : middle[1] + reach + 1, left : middle[0] + reach + 1]
    if pixel > 1:
        part = np.asarray(cv2.GaussianBlur(part, (0, 0), HALVED * pixel), np.float32)
    shift = np.array([[pixel, 0, core.x - left - HALF * pixel], [0, pixel, core.y - top - HALF * pixel]])
    return np.asarray(
        cv2.warpAffine(
            part, shift, (2 * HALF + 1,) * 2,
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE,
        ),
        np.float32,
    )  # fmt: skip


def _lines(dark: Mask) -> Image:
    """Return for each pixel of (N, rows, cols) views the largest dark share of a line through it.

    The padded views lie behind one another in one row, in which each place of a line is one shift of all pixels.
    """
    reach, (rows, cols) = LINE * STEP // 2, dark.shape[1:]
    around = np.pad(dark.view(np.uint8), ((0, 0), (reach, reach), (reach, reach)), mode="edge")
    wide, flat, most = around.shape[2], around.ravel(), np.zeros(around.shape, np.uint8)
    seen = most.ravel()[: flat.size - 2 * reach * (wide + 1)]
    held = np.empty_like(seen)
    for down, right in _steps():
        held.fill(0)
        for row, col in zip(down, right, strict=True):
            first = row * wide + col
            held += flat[first : first + held.size]
        np.maximum(seen, held, out=seen)
    return most[:, :rows, :cols].astype(np.float32) / np.float32(LINE)


@lru_cache(maxsize=1)
def _steps() -> list[tuple[list[int], list[int]]]:
    """Return for lines in all directions where each of their LINE places lies, down and right of the first corner."""
    along = STEP * (np.arange(LINE) - (LINE - 1) / 2)
    angles = np.arange(DIRECTIONS) * np.pi / DIRECTIONS
    down, right = (LINE * STEP // 2 + np.rint(np.outer(part(angles), along)).astype(int) for part in (np.sin, np.cos))
    return list(zip(down.tolist(), right.tolist(), strict=True))


def _shade(view: Image, hard: Mask) -> Image:
    """Return how dark the hardware is around each pixel of a view; `hard` says where it shows."""
    size = (4 * UNIT + 1,) * 2
    weight = cv2.blur(hard.astype(np.float32), size)
    near = cv2.blur(view * hard, size) / np.maximum(weight, 1e-6)
    return np.asarray(np.where(weight > LEAST_SHOWN, near, median(view[hard])), np.float32)


def _cut_out(differs: Mask) -> Disc | None:
    """Return x, y, diameter and roundness of the largest body in the middle of a view, or None."""
    body = cv2.morphologyEx(differs.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    body = cv2.morphologyEx(body, cv2.MORPH_CLOSE, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5)))
    best = None
    for line in cv2.findContours(body, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)[0]:
        area = _area(line)
        if (
            not LEAST_DISC < area / (np.pi * UNIT**2) < MOST_DISC
            or cv2.pointPolygonTest(line, (HALF, HALF), measureDist=True) < -OFF_MIDDLE * UNIT
        ):
            continue
        hull = cv2.convexHull(line)
        full = _area(hull)
        roundness = area / (np.pi * (cv2.minEnclosingCircle(line)[1] + 0.5) ** 2)
        if area > SOLIDITY * full and roundness > ROUNDISH and (best is None or area > best[4]):
            moments = cv2.moments(hull)
            x, y = moments["m10"] / moments["m00"], moments["m01"] / moments["m00"]
            best = (x, y, 2 * np.sqrt(full / np.pi), roundness, area)
    return None if best is None else best[:4]


def _area(line: Line) -> float:
    """Return the area of the pixels that a line through the outer ones of them encloses."""
    return float(cv2.contourArea(line) + cv2.arcLength(line, closed=True) / 2 + 1)
