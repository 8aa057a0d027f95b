"""Dark marks that no counted void explains, and what each looks like as numbers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import Verdicts
from bubblegrade.voids.lighting import Lighting
from bubblegrade.voids.lost import discs
from bubblegrade.voids.table import Voids

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
Columns = NDArray[np.float64]

HALO: Final = 1.25  # radii of a void that are its own
DARK: Final = 0.12  # darkness over its surroundings of a mark worth naming
LEAST_NOISE: Final = 5.0  # standard deviations of a pixel's darkness that a mark exceeds
SURROUNDINGS: Final = 1 / 8  # of the casting's size: shading wider than this is no mark
MOST_SHADE: Final = 0.3  # darkness that counts as shading at most
COARSE: Final = 4  # the shading is measured on a picture this many times smaller
LEAST_AREA_PX: Final = 7
AROUND_PX: Final = 2  # width of the seam around a mark that is compared with it
SAMPLES: Final = 8  # places on a candidate's ring that say to which mark it belongs
RING_SHARE: Final = 0.85  # of a candidate's radius: where its ring is dark
VIEW: Final = 9  # places along and across a mark at which it is looked at
VIEW_SPREADS: Final = 2.6  # half of the view, in the mark's spreads; a disc ends at 2, a bar at 1.7
LEAST_VIEW_PX: Final = 2.5  # half of the view at least
PIXEL: Final = 1 / 12  # second moment of a pixel's own square
GREY: Final = 2  # dimensions of a picture without colour


@dataclass(frozen=True, eq=False)
class Marks:
    """N dark marks of a photograph."""

    labels: NDArray[np.int32]  # (rows, cols): 1 to N, 0 for no mark
    x_px: Columns  # (N,) centre of the dark pixels
    y_px: Columns
    area_px: Columns
    length_px: Columns  # longest extent, from the second moments
    width_px: Columns  # twice the largest distance from a pixel to the mark's border
    mean: Columns  # darkness
    features: Floats  # (N, F) what the namer looks at

    def __len__(self) -> int:
        """Return the number of marks."""
        return len(self.x_px)

    def placed(self, corner: tuple[int, int], shape: tuple[int, ...]) -> Marks:
        """Return the marks of a part whose first pixel is at `corner`, (row, col), in the whole picture of `shape`."""
        top, left = corner
        rows, cols = self.labels.shape
        labels = np.zeros(shape[:2], np.int32)
        labels[top : top + rows, left : left + cols] = self.labels
        return replace(self, labels=labels, x_px=self.x_px + left, y_px=self.y_px + top)


@dataclass(frozen=True, eq=False)
class Scenery:
    """What surrounds the marks."""

    darkness: Image  # (rows, cols)
    codes: NDArray[np.uint8]  # (rows, cols) or (rows, cols, 3)
    judged: Mask  # (rows, cols)
    casting_px: float  # size of the casting, square root of its area
    lighting: Lighting
    noise: float


class _Pixels:
    """The pixels of N marks, and what can be summed over those of each."""

    def __init__(self, labels: NDArray[np.int32], count: int) -> None:
        self.rows, self.cols = _nonzero(labels)
        self.of = labels[self.rows, self.cols].astype(np.intp) - 1
        self.count = count
        self.area = np.bincount(self.of, minlength=count).astype(np.float64)

    def mean(self, values: NDArray[np.floating[Any]]) -> Columns:
        """Return the mean of (pixels,) values over each mark."""
        return np.asarray(np.bincount(self.of, values, minlength=self.count) / np.maximum(self.area, 1))

    def most(self, values: NDArray[np.floating[Any]]) -> Columns:
        """Return the largest of (pixels,) values in each mark."""
        return np.asarray(ndimage.maximum(values, self.of, np.arange(self.count)), np.float64)

    def hue(self, codes: NDArray[np.uint8]) -> Columns:
        """Return mean red less green and blue less green, (N, 2), in code values over full scale."""
        if codes.ndim == GREY:
            return np.zeros((self.count, 2))
        blue, green, red = codes[self.rows, self.cols].T.astype(np.float64) / 255.0
        return np.stack([self.mean(red - green), self.mean(blue - green)], axis=1)


@dataclass(frozen=True, eq=False)
class _Shape:
    """Size and lie of N marks."""

    x: Columns
    y: Columns
    long: Columns  # spread along the longest direction, px
    wide: Columns  # spread across it
    tilt_x: Columns  # the longest direction
    tilt_y: Columns
    thick: Columns  # twice the largest distance from the mark's border


def find_marks(scenery: Scenery, voids: Voids, fits: Fits, verdicts: Verdicts) -> Marks:
    """Return the dark marks that the counted `voids` leave unexplained.

    `fits` and `verdicts` are those of the candidates that were not counted: what the judge of voids says of a ring that
    lies on a mark is part of how the mark looks.
    """
    labels, count = _labelled(scenery, voids)
    if not count:
        return _no_marks(labels)
    pixels, seam = _Pixels(labels, count), _Pixels(_seam(labels), count)
    depth = _depth(labels > 0)[pixels.rows, pixels.cols]
    shape = _shape(pixels, 2.0 * pixels.most(depth))
    darkest = pixels.most(scenery.darkness[pixels.rows, pixels.cols])
    columns = [
        *_sizes(pixels, shape, scenery),
        *_shades(pixels, seam, scenery, darkest),
        *_forms(pixels, shape, depth),
        *_place(pixels, shape, scenery),
        *_hues(pixels, seam, scenery),
        *_company(pixels, shape, scenery, voids),
    ]
    rings = _rings(labels, count, fits, verdicts, shape.thick)
    features = np.concatenate([np.stack(columns, axis=1), rings, _views(scenery.darkness, shape, darkest)], axis=1)
    return Marks(
        labels=labels, x_px=shape.x, y_px=shape.y, area_px=pixels.area, length_px=4 * shape.long, width_px=shape.thick,
        mean=pixels.mean(scenery.darkness[pixels.rows, pixels.cols]), features=features.astype(np.float32),
    )  # fmt: skip


def _shape(pixels: _Pixels, thick: Columns) -> _Shape:
    """Return size and lie from the first and second moments."""
    x, y = pixels.mean(pixels.cols.astype(np.float64)), pixels.mean(pixels.rows.astype(np.float64))
    dx, dy = pixels.cols - x[pixels.of], pixels.rows - y[pixels.of]
    xx, yy, xy = pixels.mean(dx * dx) + PIXEL, pixels.mean(dy * dy) + PIXEL, pixels.mean(dx * dy)
    half, turn = (xx + yy) / 2, np.hypot((xx - yy) / 2, xy)
    angle = 0.5 * np.arctan2(2 * xy, xx - yy)
    wide = np.sqrt(np.maximum(half - turn, PIXEL))
    return _Shape(x, y, np.sqrt(half + turn), wide, np.cos(angle), np.sin(angle), thick)


def _sizes(pixels: _Pixels, shape: _Shape, scenery: Scenery) -> list[Columns]:
    """Return sizes over each other, over the casting's and over the blur, as logarithms."""
    size, area = scenery.casting_px, pixels.area
    return [
        np.log(area), np.log(shape.thick), np.log(area / shape.thick**2), np.log(shape.long / shape.wide),
        np.log(area / (shape.long * shape.wide)), np.log(area / size**2), np.log(shape.thick / size),
        np.log(shape.long / size), np.log(shape.thick / scenery.lighting.blur_px),
    ]  # fmt: skip


def _shades(pixels: _Pixels, seam: _Pixels, scenery: Scenery, darkest: Columns) -> list[Columns]:
    """Return how dark each mark is, how evenly, and against its seam."""
    dark = scenery.darkness[pixels.rows, pixels.cols].astype(np.float64)
    mean, around = pixels.mean(dark), seam.mean(scenery.darkness[seam.rows, seam.cols].astype(np.float64))
    levels = [pixels.mean((dark > level).astype(np.float64)) for level in (darkest[pixels.of] / 2, 0.5, 0.8)]
    spread = np.sqrt(np.maximum(pixels.mean(dark**2) - mean**2, 0))
    return [mean, darkest, spread, mean - around, around, *levels]


def _forms(pixels: _Pixels, shape: _Shape, depth: Floats) -> list[Columns]:
    """Return how evenly thick, how bent and how filled each mark is."""
    dx, dy = pixels.cols - shape.x[pixels.of], pixels.rows - shape.y[pixels.of]
    along = dx * shape.tilt_x[pixels.of] + dy * shape.tilt_y[pixels.of]
    across = dy * shape.tilt_x[pixels.of] - dx * shape.tilt_y[pixels.of]
    bend = pixels.mean((along / (4 * shape.long[pixels.of])) ** 2 * (across / (4 * shape.wide[pixels.of])) ** 2)
    return [
        pixels.mean(depth.astype(np.float64)) / shape.thick, bend,
        pixels.mean(np.abs(along)) / shape.long, pixels.mean(np.abs(across)) / shape.wide,
    ]  # fmt: skip


def _place(pixels: _Pixels, shape: _Shape, scenery: Scenery) -> list[Columns]:
    """Return how far each mark is from the border of the judged area."""
    coarse = COARSE * _depth(np.pad(scenery.judged[::COARSE, ::COARSE], 1))[1:-1, 1:-1]
    within = coarse[pixels.rows // COARSE, pixels.cols // COARSE]
    farthest, nearest = pixels.most(within), -pixels.most(-within)
    return [np.log1p(nearest), np.log(farthest / scenery.casting_px + 1e-3), np.log1p(farthest / shape.thick)]


def _hues(pixels: _Pixels, seam: _Pixels, scenery: Scenery) -> list[Columns]:
    """Return each mark's hue against that of its seam."""
    hue = pixels.hue(scenery.codes) - seam.hue(scenery.codes)
    return [*hue.T, *np.abs(hue).T]


def _company(pixels: _Pixels, shape: _Shape, scenery: Scenery, voids: Voids) -> list[Columns]:
    """Return each mark's size among the photograph's marks, and what the photograph is like."""
    size = scenery.casting_px
    each = [np.log(a / np.median(a)) for a in (pixels.area, shape.thick, shape.long)]
    photograph = [
        np.log1p(pixels.count), np.log(np.median(voids.diameter_px) / size) if len(voids) else 0.0, len(voids) > 0,
        np.log1p(len(voids)), scenery.noise, np.log(scenery.lighting.blur_px), np.log(size),
    ]  # fmt: skip
    return [*each, *(np.full(pixels.count, value, np.float64) for value in photograph)]


def _labelled(scenery: Scenery, voids: Voids) -> tuple[NDArray[np.int32], int]:
    """Return the marks numbered from 1, (rows, cols), and their count."""
    darkness = scenery.darkness
    dark = (darkness - _shade(scenery) > max(DARK, LEAST_NOISE * scenery.noise)) & scenery.judged
    dark &= ~discs(darkness.shape, voids, HALO)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark.astype(np.uint8), connectivity=8)
    large = stats[:, cv2.CC_STAT_AREA] >= LEAST_AREA_PX
    large[0] = False
    number = np.zeros(count, np.int32)
    number[large] = np.arange(1, int(large.sum()) + 1)
    rows, cols = _nonzero(dark)
    numbered = np.zeros(labels.shape, np.int32)
    numbered[rows, cols] = number[labels[rows, cols]]
    return numbered, int(large.sum())


def _shade(scenery: Scenery) -> Image:
    """Return the wide shading under the marks, (rows, cols)."""
    rows, cols = scenery.darkness.shape
    small = cv2.resize(scenery.darkness, (-(-cols // COARSE), -(-rows // COARSE)), interpolation=cv2.INTER_AREA)
    side = 2 * int(SURROUNDINGS * scenery.casting_px / 2 / COARSE) + 1
    shade = cv2.blur(np.minimum(small, MOST_SHADE), (side, side))
    return np.asarray(cv2.resize(shade, (cols, rows), interpolation=cv2.INTER_LINEAR), np.float32)


def _nonzero(mask: NDArray[Any]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of the pixels of a mask that are not 0, as `numpy.nonzero` does, only faster."""
    found = cv2.findNonZero((mask != 0).astype(np.uint8))
    if found is None:
        return np.empty(0, np.intp), np.empty(0, np.intp)
    cols, rows = found.reshape(-1, 2).T.astype(np.intp)
    return rows, cols


def _depth(mask: Mask) -> Image:
    """Return how far, in px, each pixel of a mask is from what is not of it."""
    return np.asarray(cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 3), np.float32)


def _seam(labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return the seam around each mark, numbered like the marks."""
    side = 2 * AROUND_PX + 1
    around = cv2.dilate(labels.astype(np.float32), np.ones((side, side), np.uint8)).astype(np.int32)
    around[labels > 0] = 0
    return around


def _views(darkness: Image, shape: _Shape, darkest: Columns) -> Columns:
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


def _no_marks(labels: NDArray[np.int32]) -> Marks:
    nothing = np.empty(0)
    return Marks(
        labels=labels, x_px=nothing, y_px=nothing, area_px=nothing, length_px=nothing, width_px=nothing, mean=nothing,
        features=np.empty((0, 0), np.float32),
    )  # fmt: skip


def mark_under(labels: NDArray[np.int32], x: ArrayLike, y: ArrayLike, radius: ArrayLike) -> NDArray[np.int32]:
    """Return for each of N circles the mark under most of it, or 0; places and radii in px."""
    angle = np.arange(SAMPLES) * 2 * np.pi / SAMPLES
    reach = RING_SHARE * np.asarray(radius)[:, None]
    at_x = np.rint(np.asarray(x)[:, None] + reach * np.cos(angle)).astype(np.intp)
    at_y = np.rint(np.asarray(y)[:, None] + reach * np.sin(angle)).astype(np.intp)
    rows, cols = labels.shape
    hit = np.sort(labels[np.clip(at_y, 0, rows - 1), np.clip(at_x, 0, cols - 1)], axis=1)
    return np.asarray(hit[:, SAMPLES // 2])


def _rings(labels: NDArray[np.int32], count: int, fits: Fits, verdicts: Verdicts, thick: Columns) -> Columns:
    """Return what the judge says of the likeliest ring on each mark, (N, 3 + other kinds)."""
    said = np.zeros((count, 3 + verdicts.other.shape[1]))
    under = mark_under(labels, fits.x_px, fits.y_px, fits.radius_px)
    on = np.flatnonzero(under > 0)
    on = on[np.argsort(verdicts.likely[on], kind="stable")]  # the likeliest is written last
    of = under[on] - 1
    said[of, 0] = verdicts.likely[on]
    said[of, 1] = 1.0
    said[of, 2] = np.log(2 * fits.radius_px[on] / thick[of])
    said[of, 3:] = verdicts.other[on]
    return said
