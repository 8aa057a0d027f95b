"""The casting's outline: what is judged and what is not.

The outline is the closed line that holds out longest. Seen from the frame's border, everything that can be reached
without crossing a brightness step of more than t lies outside. As t grows, voids and dust outside are swallowed early,
and the casting last, at the weakest spot of its edge. The step t over which the enclosed area keeps still for longest
(in ratio) therefore belongs to the casting, whatever its shape, tint and light. Where no step holds out, as where a
pattern of the light is as strong as the edge, a closed line is looked for that is strong in sum. The edge is then found
to a fraction of a pixel in the photograph itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.closed_line import find_closed_line
from bubblegrade.casting.edge import Points, covered, refined, traced
from bubblegrade.casting.enlarged import Box, Enlarged
from bubblegrade.casting.foot import within_foot
from bubblegrade.quantiles import median, quantile

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

COARSE_SIDE_PX: Final = 400  # the outline is looked for in a picture of about this size
LIT_SHARE: Final = 0.3  # of the 90th percentile of light: less is not lit
STEPS: Final = np.geomspace(0.0015, 0.5, 25)  # brightness steps tried, natural log per coarse px
SAME_AREA: Final = 0.93  # an enclosed area that keeps this share keeps still
LEAST_RUN: Final = 3  # of STEPS: a ratio of 2.1 in the step; less is no outline
SMALL_SHARE: Final = 0.12  # of the lit area: what encloses less may be a sliver of a casting that the frame cuts
SURE_RUN: Final = 5  # of STEPS: a ratio of 3.4
LEAST_SHARE, MOST_SHARE = 0.015, 0.88  # of the lit area that a casting covers; noise alone encloses more
RIPPLE_PX: Final = 9  # coarse px: a change of light wider than this is not an edge
SHADED_PX: Final = 4  # coarse px along the border of the judged area in which the edge casts its own shade
DARK: Final = 0.6  # of the casting's clear light: darker is a border or hardware
INNER_SHARE: Final = 0.4  # of the casting that bright parts away from the outline must cover to be the judged ones
PART_SHARE: Final = 0.01  # of the casting: a smaller bright part is the core of a void or a gleam
BOX_PX: Final = 24  # a multiple of the steps at which pictures are thinned
STUB_SHARE: Final = 0.012  # of the casting's size: gaps and whiskers of this width are closed and cut


@dataclass(frozen=True, eq=False)
class Outline:
    """Where the casting is."""

    casting: Mask  # (rows, cols) of the coarse picture
    judged: Mask  # the part of it that is judged
    edge_px: Points  # (N, 2) x, y of its edge in px of the photograph
    step_px: int  # pixels of the photograph per coarse pixel
    shape_px: tuple[int, int]  # rows, cols of the photograph
    coarse: Image  # its light averaged over squares, of the coarse picture's shape
    lit: Mask  # the lit part of that
    cut_by_frame: bool

    @property
    def area_px(self) -> float:
        """Area of the casting in px of the photograph."""
        return float(self.casting.sum()) * self.step_px**2

    @property
    def judged_area_px(self) -> float:
        """Judged area in px of the photograph."""
        return float(self.judged.sum()) * self.step_px**2

    @property
    def well_inside(self) -> Mask:
        """The judged part, coarse, without the strip along its border in which the edge casts its own shade."""
        side = 2 * SHADED_PX + 1
        kept = cv2.erode(self.judged.astype(np.uint8), np.ones((side, side), np.uint8), borderValue=0)
        return np.asarray(kept.astype(bool))

    @property
    def judged_box(self) -> tuple[int, int, Box]:
        """First row and column of the rectangle around the judged area, in px of the photograph, and the rectangle.

        Row and column are multiples of BOX_PX.
        """
        top, left, box = Enlarged.over(self.judged, self.judged.shape).box(0)
        top, left = (first * self.step_px // BOX_PX * BOX_PX for first in (top, left))
        below, right = (
            part.stop * self.step_px if part.stop < last else size
            for part, last, size in zip(box, self.judged.shape, self.shape_px, strict=True)
        )
        return top, left, np.s_[top:below, left:right]

    @property
    def borders_px(self) -> tuple[Points, ...]:
        """Closed lines around the judged area, (N, 2) x, y in px of the photograph each."""
        found, _ = cv2.findContours(self.judged.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        return tuple((line[:, 0, :].astype(np.float64) + 0.5) * self.step_px - 0.5 for line in found)

    def enlarged(self, mask: Mask, box: Box = np.s_[:, :]) -> Enlarged:
        """Return a coarse mask at the size of the photograph, or of a rectangle of it, to be cut from."""
        rows, cols = (
            np.minimum(np.arange(size)[part] // self.step_px, last - 1)
            for size, part, last in zip(self.shape_px, box, mask.shape, strict=True)
        )
        return Enlarged(mask, rows, cols)

    def full(self, mask: Mask, box: Box = np.s_[:, :]) -> Mask:
        """Return a coarse mask at the size of the photograph, or of a rectangle of it."""
        return self.enlarged(mask, box)[:, :]

    def holds(self, mask: Mask, x_px: NDArray[np.float64], y_px: NDArray[np.float64]) -> Mask:
        """Say for each point whether it lies in the coarse `mask`."""
        cols = np.clip((x_px + 0.5) / self.step_px, 0, mask.shape[1] - 1).astype(np.intp)
        rows = np.clip((y_px + 0.5) / self.step_px, 0, mask.shape[0] - 1).astype(np.intp)
        return np.asarray(mask[rows, cols])


def coarse_picture(light: Image) -> tuple[Image, int]:
    """Return the picture averaged over squares, its longer side about COARSE_SIDE_PX, and the square's side."""
    step = max(1, int(np.ceil(max(light.shape) / COARSE_SIDE_PX)))
    rows, cols = light.shape[0] // step, light.shape[1] // step
    small = cv2.resize(light[: rows * step, : cols * step], (cols, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32), step


def lit_field(coarse: Image) -> Mask:
    """Return the lit part of the frame, with everything it encloses; (rows, cols) of the coarse picture."""
    lit = _largest(coarse > LIT_SHARE * quantile(coarse, 0.9))
    return _filled(lit)


def find_outline(light: Image) -> Outline | None:
    """Return the casting's outline in a picture of linear light, (rows, cols); None where no line holds out."""
    coarse, step = coarse_picture(light)
    field = lit_field(coarse)
    enclosed, cut = _enclosed(coarse, field)
    if enclosed is None and (line := find_closed_line(coarse, field)) is not None:
        enclosed = covered((line + 0.5) * step - 0.5, step, field.shape)
    if enclosed is None:
        return None
    edge = refined(light, traced(enclosed, step), step)
    casting = covered(edge, step, enclosed.shape) & field
    if not casting.any():
        return None
    return Outline(
        casting=casting,
        judged=within_foot(coarse, _judged(coarse, casting)),
        edge_px=edge,
        step_px=step,
        shape_px=(light.shape[0], light.shape[1]),
        coarse=coarse,
        lit=field,
        cut_by_frame=cut,
    )


def whole_field(light: Image) -> Outline:
    """Return the lit part of the frame as the judged area, for `--whole`."""
    coarse, step = coarse_picture(light)
    field = lit_field(coarse)
    return Outline(
        casting=field,
        judged=field,
        edge_px=np.empty((0, 2)),
        step_px=step,
        shape_px=(light.shape[0], light.shape[1]),
        coarse=coarse,
        lit=field,
        cut_by_frame=False,
    )


def _enclosed(coarse: Image, field: Mask) -> tuple[Mask | None, bool]:
    """Return what is enclosed over the longest run of steps, or None; and whether the frame cuts it."""
    depth = cv2.distanceTransform(np.pad(field, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
    at_frame = bool(field[0].any() or field[-1].any() or field[:, 0].any() or field[:, -1].any())
    inner = depth > (2 if at_frame else 4)  # keep clear of the edge of a small light
    if not inner.any():
        return None, False
    border = inner & ~cv2.erode(inner.astype(np.uint8), np.ones((9, 9), np.uint8), borderValue=0).astype(bool)
    places, brightness = np.flatnonzero(border), cv2.GaussianBlur(coarse, (0, 0), 2.0)
    order = np.argsort(-brightness.ravel()[places], kind="stable")
    flood = _Flood(_edges(coarse), inner, border, places[order])
    length, held = _held_out(flood, along_border=True)
    if length < SURE_RUN or held is None or held.sum() < SMALL_SHARE * inner.sum():
        # Perhaps the frame cuts the casting: then the border is not all bare light, and only its brightest part is.
        length, held = max((length, held), _held_out(flood, along_border=False), key=lambda run: run[0])
    if length < LEAST_RUN or held is None:
        return None, False
    found = _without_whiskers(_filled(held))
    at_border = (
        found & inner & ~cv2.erode(inner.astype(np.uint8), np.ones((3, 3), np.uint8), borderValue=0).astype(bool)
    )
    return found, bool(at_border.any())


def _edges(coarse: Image) -> Image:
    """Return the brightness step across each pixel, natural log per px, with broad slopes of the light taken off."""
    bright = np.log(cv2.GaussianBlur(coarse, (0, 0), 1.0) + 0.02)
    across = cv2.Scharr(bright, cv2.CV_32F, 1, 0) / 32
    down = cv2.Scharr(bright, cv2.CV_32F, 0, 1) / 32
    steps = cv2.magnitude(across, down)
    return np.asarray(steps - cv2.morphologyEx(steps, cv2.MORPH_OPEN, np.ones((RIPPLE_PX, RIPPLE_PX), np.uint8)))


@dataclass(frozen=True, eq=False)
class _Flood:
    """What can be reached from the bare light without crossing a brightness step."""

    edges: Image  # brightness step across each pixel
    inner: Mask  # where to look
    border: Mask  # of it
    brightest: NDArray[np.intp]  # places of the border's pixels, the brightest first

    def dry(self, step: float, *, along_border: bool) -> NDArray[np.uint8]:
        """Return what is not reached across less than `step`, or along the border; it is 1, or 2 where it is steep."""
        passable = self.edges < step
        if along_border:
            passable |= self.border
        dry = np.add(self.inner, self.inner & ~passable, dtype=np.uint8)
        row, col = divmod(int(self.brightest[np.argmax(passable.ravel()[self.brightest])]), dry.shape[1])
        if passable[row, col]:
            cv2.floodFill(dry, None, (col, row), 0, flags=4)
        return dry


def _held_out(flood: _Flood, *, along_border: bool) -> tuple[int, Mask | None]:
    """Return over how many steps what is enclosed keeps still, and what it is then."""

    def enclosed(step: float) -> Mask:
        return _largest(flood.dry(step, along_border=along_border) > 0)

    deep = cv2.distanceTransform(enclosed(STEPS[len(STEPS) // 2]).view(np.uint8), cv2.DIST_L2, 3)
    row, col = divmod(int(deep.argmax()), deep.shape[1])

    def area(step: float) -> int:
        dry = np.minimum(flood.dry(step, along_border=along_border), 1)
        here = cv2.floodFill(dry, None, (col, row), 2, flags=4)[0] if dry[row, col] else 0
        return here if 2 * here > cv2.countNonZero(dry) else int(np.count_nonzero(_largest(dry > 0)))

    shares, first, last = np.empty(0), 0, 0
    for step in STEPS:
        if last - first >= SURE_RUN and last < len(shares) - 1:
            break  # the run is sure and has ended
        shares = np.append(shares, area(step) / np.count_nonzero(flood.inner))
        first, last = _stillest(shares)
    return last - first, enclosed(STEPS[(first + last) // 2]) if last > first else None


def _stillest(shares: NDArray[np.float64]) -> tuple[int, int]:
    """Return the first and last step of a run over which the enclosed share keeps still.

    It is the first that is long enough to be sure, since a casting may hold a stronger line inside; else the longest.
    """
    moved = np.triu(shares < SAME_AREA * shares[:, None])
    last = np.where(moved.any(axis=1), moved.argmax(axis=1), len(shares)) - 1
    length = np.where((shares > LEAST_SHARE) & (shares < MOST_SHARE), last - np.arange(len(shares)), 0)
    first = int(np.argmax(np.minimum(length, SURE_RUN) if length.max() >= SURE_RUN else length))
    return first, first + int(length[first])


def _largest(mask: Mask) -> Mask:
    """Return the largest connected part of `mask`."""
    count, labels = cv2.connectedComponents(mask.astype(np.uint8), connectivity=4)
    return np.asarray(labels == 1 + int(np.argmax(np.bincount(labels.ravel())[1:]))) if count > 2 else mask  # noqa: PLR2004


def _filled(mask: Mask) -> Mask:
    """Return `mask` with the holes that it encloses."""
    _, labels = cv2.connectedComponents(np.pad(~mask, 1, constant_values=True).astype(np.uint8), connectivity=4)
    return np.asarray((labels != labels[0, 0])[1:-1, 1:-1])


def _judged(coarse: Image, casting: Mask) -> Mask:
    """Return the part of the casting that can be judged.

    A curved flank and the edge of a tapered cup's bottom draw a dark line inside the outline. Bright parts that reach
    the outline then lie over the wall or beyond the flank, where everything is seen distorted or twice; the bright
    parts away from it are the ones to judge.
    """
    level = median(coarse[casting])
    around = cv2.dilate(casting.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    bright = around & (coarse > DARK * level)
    _, labels = cv2.connectedComponents(bright.view(np.uint8), connectivity=4)
    rim = around & ~cv2.erode(around.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0).astype(bool)
    area = np.bincount(labels.ravel())
    area[0] = area[labels[rim]] = 0
    area[area < PART_SHARE * casting.sum()] = 0
    if area.sum() < INNER_SHARE * casting.sum():
        return casting
    gap, disc = _stub(casting)
    inner = area[labels] > 0
    closed = cv2.morphologyEx(np.pad(inner, 3 * gap).astype(np.uint8), cv2.MORPH_CLOSE, disc)
    return _filled(np.asarray(closed[3 * gap : -3 * gap, 3 * gap : -3 * gap].astype(bool)))


def _without_whiskers(mask: Mask) -> Mask:
    """Return `mask` without the thin whiskers that lie along ripples of the light."""
    _, disc = _stub(mask)
    return _largest(np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc).astype(bool)))


def _stub(casting: Mask) -> tuple[int, NDArray[np.uint8]]:
    """Return the width of gaps and whiskers in coarse px, and a disc of that radius."""
    gap = max(1, round(STUB_SHARE * np.sqrt(casting.sum())))
    return gap, np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * gap + 1, 2 * gap + 1)), np.uint8)
