"""The casting's outline: what is judged and what is not.

The outline is the closed line that holds out longest. Seen from the frame's border, everything that can be reached
without crossing a brightness step of more than t lies outside. As t grows, voids and dust outside are swallowed early,
and the casting last, at the weakest spot of its edge. The step t over which the enclosed area keeps still for longest
(in ratio) therefore belongs to the casting, whatever its shape, tint and light.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

COARSE_SIDE_PX: Final = 400  # the outline is looked for in a picture of about this size
LIT_SHARE: Final = 0.3  # of the 90th percentile of light: less is not lit
STEPS: Final = np.geomspace(0.0015, 0.5, 36)  # brightness steps tried, natural log per coarse px
SAME_AREA: Final = 0.93  # an enclosed area that keeps this share keeps still
LEAST_RUN: Final = 4  # of STEPS: a ratio of 1.7 in the step; less is no outline
LEAST_SHARE, MOST_SHARE = 0.015, 0.95  # of the lit area that a casting covers
RIPPLE_PX: Final = 9  # coarse px: a change of light wider than this is not an edge
DARK: Final = 0.6  # of the casting's clear light: darker is a border or hardware
INNER_SHARE: Final = 0.4  # of the casting that bright parts away from the outline must cover to be the judged ones
PART_SHARE: Final = 0.01  # of the casting: a smaller bright part is the core of a void or a gleam
STUB_SHARE: Final = 0.012  # of the casting's size: gaps and whiskers of this width are closed and cut


@dataclass(frozen=True, eq=False)
class Outline:
    """Where the casting is."""

    casting: Mask  # (rows, cols) of the coarse picture
    judged: Mask  # the part of it that is judged
    step_px: int  # pixels of the photograph per coarse pixel
    shape_px: tuple[int, int]  # rows, cols of the photograph
    cut_by_frame: bool

    @property
    def area_px(self) -> float:
        """Area of the casting in px of the photograph."""
        return float(self.casting.sum()) * self.step_px**2

    @property
    def judged_area_px(self) -> float:
        """Judged area in px of the photograph."""
        return float(self.judged.sum()) * self.step_px**2

    def full(self, mask: Mask) -> Mask:
        """Return a coarse mask at the size of the photograph."""
        rows, cols = self.shape_px
        grown = np.kron(mask, np.ones((self.step_px, self.step_px), bool)) if self.step_px > 1 else mask
        pad = ((0, max(rows - grown.shape[0], 0)), (0, max(cols - grown.shape[1], 0)))
        return np.asarray(np.pad(grown, pad, mode="edge")[:rows, :cols])

    def holds(self, mask: Mask, x_px: NDArray[np.float64], y_px: NDArray[np.float64]) -> Mask:
        """Say for each point whether it lies in the coarse `mask`."""
        cols = np.clip((x_px + 0.5) / self.step_px, 0, mask.shape[1] - 1).astype(np.intp)
        rows = np.clip((y_px + 0.5) / self.step_px, 0, mask.shape[0] - 1).astype(np.intp)
        return np.asarray(mask[rows, cols])


def coarse_picture(light: Image) -> tuple[Image, int]:
    """Return the picture averaged over squares so that its longer side is about COARSE_SIDE_PX, and the square's side."""
    step = max(1, int(np.ceil(max(light.shape) / COARSE_SIDE_PX)))
    rows, cols = light.shape[0] // step, light.shape[1] // step
    small = cv2.resize(light[: rows * step, : cols * step], (cols, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32), step


def lit_field(coarse: Image) -> Mask:
    """Return the lit part of the frame, with everything it encloses; (rows, cols) of the coarse picture."""
    lit = _largest(coarse > LIT_SHARE * np.percentile(coarse, 90))
    return _filled(lit)


def find_outline(light: Image) -> Outline | None:
    """Return the casting's outline in a picture of linear light, (rows, cols); None where no line holds out."""
    coarse, step = coarse_picture(light)
    field = lit_field(coarse)
    casting = _enclosed(coarse, field)
    if casting is None:
        return None
    edge = casting.copy()
    edge[1:-1, 1:-1] = False
    return Outline(
        casting=casting,
        judged=_judged(coarse, casting),
        step_px=step,
        shape_px=(light.shape[0], light.shape[1]),
        cut_by_frame=bool(edge.any()),
    )


def whole_field(light: Image) -> Outline:
    """Return the lit part of the frame as the judged area, for `--whole`."""
    coarse, step = coarse_picture(light)
    field = lit_field(coarse)
    return Outline(
        casting=field, judged=field, step_px=step, shape_px=(light.shape[0], light.shape[1]), cut_by_frame=False
    )


def _enclosed(coarse: Image, field: Mask) -> Mask | None:
    """Return what is enclosed over the longest run of steps, or None."""
    edges = _edges(coarse)
    depth = cv2.distanceTransform(np.pad(field, 1).astype(np.uint8), cv2.DIST_L2, 3)[1:-1, 1:-1]
    at_frame = bool(field[0].any() or field[-1].any() or field[:, 0].any() or field[:, -1].any())
    start = 2 if at_frame else 4  # keep clear of the edge of a small light
    seeds = (depth > start) & (depth <= start + 4)
    inner = depth > start
    enclosed = [_largest(inner & ~_reached((edges < step) & inner | seeds, seeds)) for step in STEPS]
    shares = np.array([mask.sum() for mask in enclosed]) / max(int(field.sum()), 1)
    first, last = _stillest(shares)
    return _without_whiskers(_filled(enclosed[(first + last) // 2])) if last - first >= LEAST_RUN else None


def _edges(coarse: Image) -> Image:
    """Return the brightness step across each pixel, natural log per px, with broad slopes of the light taken off."""
    bright = np.log(cv2.GaussianBlur(coarse, (0, 0), 1.0) + 0.02)
    across = cv2.Scharr(bright, cv2.CV_32F, 1, 0) / 32
    down = cv2.Scharr(bright, cv2.CV_32F, 0, 1) / 32
    steps = cv2.magnitude(across, down)
    return np.asarray(steps - cv2.morphologyEx(steps, cv2.MORPH_OPEN, np.ones((RIPPLE_PX, RIPPLE_PX), np.uint8)))


def _reached(passable: Mask, seeds: Mask) -> Mask:
    """Return all of `passable` that hangs together with `seeds`."""
    _, labels = cv2.connectedComponents(passable.astype(np.uint8), connectivity=4)
    hit = np.zeros(labels.max() + 1, bool)
    hit[labels[seeds & passable]] = True
    return np.asarray(hit[labels] & passable)


def _stillest(shares: NDArray[np.float64]) -> tuple[int, int]:
    """Return the first and last step of the longest run over which the enclosed share keeps still."""
    best = (0, 0)
    for first, share in enumerate(shares):
        if not LEAST_SHARE < share < MOST_SHARE:
            continue
        moved = np.flatnonzero(shares[first:] < share * SAME_AREA)
        last = first + int(moved[0]) - 1 if len(moved) else len(shares) - 1
        if last - first > best[1] - best[0]:
            best = (first, last)
    return best


def _largest(mask: Mask) -> Mask:
    """Return the largest connected part of `mask`."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    return np.asarray(labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))) if count > 1 else mask


def _filled(mask: Mask) -> Mask:
    """Return `mask` with the holes that it encloses."""
    _, labels = cv2.connectedComponents(np.pad(~mask, 1, constant_values=True).astype(np.uint8), connectivity=4)
    return np.asarray((labels != labels[0, 0])[1:-1, 1:-1])


def _judged(coarse: Image, casting: Mask) -> Mask:
    """Return the part of the casting that can be judged.

    A curved flank and the edge of a tapered cup's bottom draw a dark line inside the outline. Bright parts that reach
    the outline then lie over the wall or beyond the flank, where everything is seen distorted or twice; the bright parts
    away from it are the ones to judge.
    """
    level = np.median(coarse[casting])
    bright = casting & (coarse > DARK * level)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(bright.astype(np.uint8), connectivity=4)
    rim = casting & ~cv2.erode(casting.astype(np.uint8), np.ones((5, 5), np.uint8), borderValue=0).astype(bool)
    touching = np.zeros(count, bool)
    touching[labels[rim]] = True
    touching[0] = True
    area = stats[:, cv2.CC_STAT_AREA]
    area = np.where(touching | (area < PART_SHARE * casting.sum()), 0, area)
    if area.sum() < INNER_SHARE * casting.sum():
        return casting
    gap, disc = _stub(casting)
    inner = np.isin(labels, np.flatnonzero(area))
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
