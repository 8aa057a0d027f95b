"""What a dark mark looks like, as numbers: size, shade, form, place, hue, company, and a small view along it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.enlarged import Enlarged
from bubblegrade.threads import each, runs
from bubblegrade.voids.lighting import Lighting
from bubblegrade.voids.scattered import Labels, depth_of
from bubblegrade.voids.table import Voids

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
Columns = NDArray[np.float64]
Places = NDArray[np.intp]

COARSE: Final = 4  # shading and distances to the border are measured on pictures this many times smaller
AROUND_PX: Final = 2  # width of the seam around a mark that is compared with it
VIEW: Final = 9  # places along and across a mark at which it is looked at
VIEW_SPREADS: Final = 2.6  # half of the view, in the mark's spreads; a disc ends at 2, a bar at 1.7
LEAST_VIEW_PX: Final = 2.5  # half of the view at least
STRIP_PX: Final = 256  # rows in which seams are looked for at once
PIXEL: Final = 1 / 12  # second moment of a pixel's own square
NONE: Final = np.empty(0, np.intp)
GREY: Final = 2  # dimensions of a picture without colour


@dataclass(frozen=True, eq=False)
class Scenery:
    """What surrounds the marks."""

    darkness: Image  # (rows, cols)
    codes: NDArray[np.uint8]  # (rows, cols) or (rows, cols, 3)
    judged: Mask | Enlarged  # (rows, cols)
    casting_px: float  # size of the casting, square root of its area
    lighting: Lighting
    noise: float


class Pixels:
    """The pixels of N marks, and what can be summed over those of each."""

    def __init__(self, rows: Places, cols: Places, of: Places, count: int) -> None:
        self.rows, self.cols, self.of, self.count = rows, cols, of, count
        self.area = np.bincount(self.of, minlength=count).astype(np.float64)

    @cached_property
    def _by_mark(self) -> tuple[Places, Places]:
        """The pixels mark by mark, and where each mark begins among them."""
        return np.argsort(self.of, kind="stable"), np.append(0, np.cumsum(self.area)).astype(np.intp)

    def of_mark(self, i: int | np.intp) -> Places:
        """Return the pixels of one mark."""
        order, first = self._by_mark
        return order[first[i] : first[i + 1]]

    def labels(self, shape: tuple[int, ...]) -> Labels:
        """Return the marks' numbers from 1 as a picture of a shape."""
        return Labels((shape[0], shape[1]), self.rows, self.cols, self.of + 1)

    def mean(self, values: NDArray[np.floating[Any]]) -> Columns:
        """Return the mean of (pixels,) values over each mark."""
        return np.asarray(np.bincount(self.of, values, minlength=self.count) / np.maximum(self.area, 1))

    def most(self, values: NDArray[np.floating[Any]]) -> Columns:
        """Return the largest of (pixels,) values in each mark; all have pixels."""
        order, first = self._by_mark
        return np.maximum.reduceat(values[order], first[:-1]).astype(np.float64)

    def hue(self, codes: NDArray[np.uint8]) -> Columns:
        """Return mean red less green and blue less green, (N, 2), in code values over full scale."""
        if codes.ndim == GREY:
            return np.zeros((self.count, 2))
        blue, green, red = codes[self.rows, self.cols].T.astype(np.float64) / 255.0
        return np.stack([self.mean(red - green), self.mean(blue - green)], axis=1)


@dataclass(frozen=True, eq=False)
class Shape:
    """Size and lie of N marks."""

    x: Columns
    y: Columns
    long: Columns  # spread along the longest direction, px
    wide: Columns  # spread across it
    tilt_x: Columns  # the longest direction
    tilt_y: Columns
    thick: Columns  # twice the largest distance from the mark's border


def looks_of(pixels: Pixels, shape: Shape, depth: Floats, scenery: Scenery, voids: Voids) -> tuple[Columns, Columns]:
    """Return numbers, (N, F), and the views along N marks, (N, VIEW * VIEW).

    Parameters
    ----------
    pixels, shape
        Of these marks.
    depth
        (pixels,) distance of each from the border of its mark.
    scenery, voids
        What surrounds them.
    """
    seam = Pixels(*_seam(pixels, scenery.darkness.shape), pixels.count)
    darkest = pixels.most(scenery.darkness[pixels.rows, pixels.cols])
    columns = [
        *_sizes(pixels, shape, scenery),
        *_shades(pixels, seam, scenery, darkest),
        *_forms(pixels, shape, depth),
        *_place(pixels, shape, scenery),
        *_hues(pixels, seam, scenery),
        *_company(pixels, shape, scenery, voids),
    ]
    return np.stack(columns, axis=1), _views(scenery.darkness, shape, darkest)


def shape_of(pixels: Pixels, thick: Columns) -> Shape:
    """Return size and lie from the first and second moments."""
    x, y = pixels.mean(pixels.cols.astype(np.float64)), pixels.mean(pixels.rows.astype(np.float64))
    dx, dy = pixels.cols - x[pixels.of], pixels.rows - y[pixels.of]
    xx, yy, xy = pixels.mean(dx * dx) + PIXEL, pixels.mean(dy * dy) + PIXEL, pixels.mean(dx * dy)
    half, turn = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    wide = np.sqrt(np.maximum(half - turn, PIXEL))
    return Shape(x, y, np.sqrt(half + turn), wide, np.cos(angle), np.sin(angle), thick)


def _sizes(pixels: Pixels, shape: Shape, scenery: Scenery) -> list[Columns]:
    """Return sizes over each other, over the casting's and over the blur, as logarithms."""
    size, area = scenery.casting_px, pixels.area
    return [
        np.log(area), np.log(shape.thick), np.log(area / shape.thick**2), np.log(shape.long / shape.wide),
        np.log(area / (shape.long * shape.wide)), np.log(area / size**2), np.log(shape.thick / size),
        np.log(shape.long / size), np.log(shape.thick / scenery.lighting.blur_px),
    ]  # fmt: skip


def _shades(pixels: Pixels, seam: Pixels, scenery: Scenery, darkest: Columns) -> list[Columns]:
    """Return how dark each mark is, how evenly, and against its seam."""
    dark = scenery.darkness[pixels.rows, pixels.cols].astype(np.float64)
    mean, around = pixels.mean(dark), seam.mean(scenery.darkness[seam.rows, seam.cols].astype(np.float64))
    levels = [pixels.mean((dark > level).astype(np.float64)) for level in (darkest[pixels.of] / 2, 0.5, 0.8)]
    spread = np.sqrt(np.maximum(pixels.mean(dark**2) - mean**2, 0))
    return [mean, darkest, spread, mean - around, around, *levels]


def _forms(pixels: Pixels, shape: Shape, depth: Floats) -> list[Columns]:
    """Return how evenly thick, how bent and how filled each mark is."""
    dx, dy = pixels.cols - shape.x[pixels.of], pixels.rows - shape.y[pixels.of]
    along = dx * shape.tilt_x[pixels.of] + dy * shape.tilt_y[pixels.of]
    across = dy * shape.tilt_x[pixels.of] - dx * shape.tilt_y[pixels.of]
    bend = pixels.mean((along / (4 * shape.long[pixels.of])) ** 2 * (across / (4 * shape.wide[pixels.of])) ** 2)
    return [
        pixels.mean(depth.astype(np.float64)) / shape.thick, bend,
        pixels.mean(np.abs(along)) / shape.long, pixels.mean(np.abs(across)) / shape.wide,
    ]  # fmt: skip


def _place(pixels: Pixels, shape: Shape, scenery: Scenery) -> list[Columns]:
    """Return how far each mark is from the border of the judged area."""
    coarse = COARSE * depth_of(np.pad(scenery.judged[::COARSE, ::COARSE], 1).view(np.uint8))[1:-1, 1:-1]
    within = coarse[pixels.rows // COARSE, pixels.cols // COARSE]
    farthest, nearest = pixels.most(within), -pixels.most(-within)
    return [np.log1p(nearest), np.log(farthest / scenery.casting_px + 1e-3), np.log1p(farthest / shape.thick)]


def _hues(pixels: Pixels, seam: Pixels, scenery: Scenery) -> list[Columns]:
    """Return each mark's hue against that of its seam."""
    hue = pixels.hue(scenery.codes) - seam.hue(scenery.codes)
    return [*hue.T, *np.abs(hue).T]


def _company(pixels: Pixels, shape: Shape, scenery: Scenery, voids: Voids) -> list[Columns]:
    """Return each mark's size among the photograph's marks, and what the photograph is like."""
    size = scenery.casting_px
    each = [np.log(a / np.median(a)) for a in (pixels.area, shape.thick, shape.long)]
    photograph = [
        np.log1p(pixels.count), np.log(np.median(voids.diameter_px) / size) if len(voids) else 0.0, len(voids) > 0,
        np.log1p(len(voids)), scenery.noise, np.log(scenery.lighting.blur_px), np.log(size),
    ]  # fmt: skip
    return [*each, *(np.full(pixels.count, value, np.float64) for value in photograph)]


def nonzero(mask: NDArray[Any]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of the pixels of a mask that are not 0, as `numpy.nonzero` does, only faster."""
    at = np.flatnonzero(mask)
    rows = at // mask.shape[1]
    return rows, at - rows * mask.shape[1]


def _seam(pixels: Pixels, size: tuple[int, ...]) -> tuple[Places, Places, Places]:
    """Return row, column and number from 0 of the pixels of the seams around marks, within a picture of some size."""
    square = np.ones((2 * AROUND_PX + 1,) * 2, np.uint8)
    order = np.argsort(pixels.rows, kind="stable")
    rows, cols, of = pixels.rows[order], pixels.cols[order], pixels.of[order]

    def seam(strip: slice) -> tuple[Places, Places, Places]:
        """Return the same of the strip's rows, from the marks in as many more as a seam is wide."""
        top = strip.start - AROUND_PX
        mine = np.s_[np.searchsorted(rows, top) : np.searchsorted(rows, strip.stop + AROUND_PX)]
        if mine.start == mine.stop:
            return NONE, NONE, NONE
        left = int(cols[mine].min()) - AROUND_PX
        part = np.zeros((strip.stop - top + AROUND_PX, int(cols[mine].max()) + AROUND_PX + 1 - left), np.float32)
        part[rows[mine] - top, cols[mine] - left] = of[mine] + 1
        around = cv2.dilate(part, square)
        around[part > 0] = 0
        around = around[AROUND_PX:-AROUND_PX, max(-left, 0) : size[1] - left]
        down, across = nonzero(around)
        return down + strip.start, across + max(left, 0), around[down, across].astype(np.intp) - 1

    parts = each(seam, runs(size[0], STRIP_PX))
    down, across, number = (np.concatenate(part) for part in zip(*parts, strict=True))
    return down, across, number


def _views(darkness: Image, shape: Shape, darkest: Columns) -> Columns:
    """Return the darkness of each mark on a grid that lies along it and spans it, (N, VIEW * VIEW)."""
    step = np.linspace(-VIEW_SPREADS, VIEW_SPREADS, VIEW)
    along, across = (a.ravel() for a in np.meshgrid(step, step))
    tilt_x, tilt_y = shape.tilt_x[:, None], shape.tilt_y[:, None]
    u = shape.long[:, None] * along
    v = np.maximum(shape.wide, LEAST_VIEW_PX / VIEW_SPREADS)[:, None] * across
    at_x = (shape.x[:, None] + u * tilt_x - v * tilt_y).astype(np.float32)
    at_y = (shape.y[:, None] + u * tilt_y + v * tilt_x).astype(np.float32)
    parts = [
        cv2.remap(
            darkness, at_x[i : i + 30_000], at_y[i : i + 30_000], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        for i in range(0, len(at_x), 30_000)
    ]
    return np.concatenate(parts).astype(np.float64) / darkest[:, None]
