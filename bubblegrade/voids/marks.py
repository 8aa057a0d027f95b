"""Dark marks that no counted void explains: where they are, and what the namer is told of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage

from bubblegrade.casting.transmittance import stretched
from bubblegrade.threads import each, runs
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import Verdicts
from bubblegrade.voids.lost import discs
from bubblegrade.voids.mark_looks import (
    COARSE,
    STRIP_PX,
    Columns,
    Image,
    Mask,
    Pixels,
    Places,
    Scenery,
    depth_of,
    looks_of,
    nonzero,
    shape_of,
)
from bubblegrade.voids.table import Voids

Floats = NDArray[np.float32]

HALO: Final = 1.25  # radii of a void that are its own
DARK: Final = 0.12  # darkness over its surroundings of a mark worth naming
LEAST_NOISE: Final = 5.0  # standard deviations of a pixel's darkness that a mark exceeds
SURROUNDINGS: Final = 1 / 8  # of the casting's size: shading wider than this is no mark
MOST_SHADE: Final = 0.3  # darkness that counts as shading at most
LEAST_AREA_PX: Final = 7
LEAST_BODY_PX: Final = 40  # area of a body that may be a mark by itself
BODY_PERCENTILE, BODY_SHARE = 90, 0.6  # darkness of a mark's darkest part, and the share of it from which on it is body
SAMPLES: Final = 8  # places on a candidate's ring that say to which mark it belongs
RING_SHARE: Final = 0.85  # of a candidate's radius: where its ring is dark


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


def find_marks(scenery: Scenery, voids: Voids, fits: Fits, verdicts: Verdicts) -> Marks:
    """Return the dark marks that the counted `voids` leave unexplained.

    `fits` and `verdicts` are those of the candidates that were not counted: what the judge of voids says of a ring that
    lies on a mark is part of how the mark looks.
    """
    dark = _dark(scenery, voids)
    rows, cols = nonzero(dark)
    depth = depth_of(dark)[rows, cols]
    labels, count = _labelled(dark, rows, cols)
    if not count:
        return _no_marks(labels)
    count = _parted(labels, scenery.darkness, count)
    of = labels[rows, cols].astype(np.intp) - 1
    of_mark = of >= 0
    pixels, depth = Pixels(rows[of_mark], cols[of_mark], of[of_mark], count), depth[of_mark]
    shape = shape_of(pixels, 2.0 * pixels.most(depth))
    rings = _rings(labels, count, fits, verdicts, shape.thick)
    numbers, views = looks_of(labels, pixels, shape, depth, scenery, voids)
    features = np.concatenate([numbers, rings, views], axis=1)
    return Marks(
        labels=labels, x_px=shape.x, y_px=shape.y, area_px=pixels.area, length_px=4 * shape.long, width_px=shape.thick,
        mean=pixels.mean(scenery.darkness[pixels.rows, pixels.cols]), features=features.astype(np.float32),
    )  # fmt: skip


def _dark(scenery: Scenery, voids: Voids) -> Mask:
    """Return where it is darker than around and no counted void explains it, (rows, cols)."""
    shade, least = _shade(scenery), max(DARK, LEAST_NOISE * scenery.noise)
    own = discs(scenery.darkness.shape, voids, HALO)
    step = len(own) / len(shade)
    dark = np.empty(own.shape, bool)

    def fill(lines: slice) -> None:
        np.greater(scenery.darkness[lines] - stretched(shade, step, lines), least, out=dark[lines])
        dark[lines] &= scenery.judged[lines] & ~own[lines]

    each(fill, runs(len(dark), STRIP_PX))
    return dark


def _labelled(dark: Mask, rows: Places, cols: Places) -> tuple[NDArray[np.int32], int]:
    """Return the marks numbered from 1, (rows, cols), and their count.

    `rows` and `cols` are those of the pixels of `dark`; what is too small is no mark.
    """
    count, labels = cv2.connectedComponents(dark.view(np.uint8), connectivity=8)
    of = labels[rows, cols]
    large = np.bincount(of, minlength=count) >= LEAST_AREA_PX
    labels[rows, cols] = np.where(large, np.cumsum(large), 0)[of]
    return np.asarray(labels, np.int32), int(large.sum())


def _parted(labels: NDArray[np.int32], darkness: Image, count: int) -> int:
    """Give each body of a mark that only faint shading holds together a number of its own; return the new count.

    A flake in the haze around a ballast is a mark by itself; the haze goes to what is nearest. `labels`, (rows,
    cols) from 1 to `count`, is changed.
    """
    for number, box in enumerate(ndimage.find_objects(labels), start=1):
        part, seen = labels[box], darkness[box]
        mine = part == number
        if mine.sum() < 2 * LEAST_BODY_PX:
            continue
        body = mine & (seen > BODY_SHARE * np.percentile(seen[mine], BODY_PERCENTILE))
        found, bodies, about, _ = cv2.connectedComponentsWithStats(body.view(np.uint8), connectivity=8)
        large = np.flatnonzero(about[1:, cv2.CC_STAT_AREA] >= LEAST_BODY_PX) + 1
        if len(large) < 2:  # noqa: PLR2004
            continue
        seeds = np.where(np.isin(bodies, large), bodies, 0)
        _, nearest = cv2.distanceTransformWithLabels(
            (seeds == 0).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
        )
        owner = np.zeros(nearest.max() + 1, np.int32)
        owner[nearest[seeds > 0]] = seeds[seeds > 0]
        new = np.zeros(found, np.int32)
        new[large] = [number, *range(count + 1, count + len(large))]
        part[mine] = new[owner[nearest]][mine]
        count += len(large) - 1
    return count


def _shade(scenery: Scenery) -> Image:
    """Return the wide shading under the marks, (rows / COARSE, cols)."""
    rows, cols = scenery.darkness.shape
    small = cv2.resize(scenery.darkness, (-(-cols // COARSE), -(-rows // COARSE)), interpolation=cv2.INTER_AREA)
    side = 2 * int(SURROUNDINGS * scenery.casting_px / 2 / COARSE) + 1
    shade = cv2.blur(np.minimum(small, MOST_SHADE), (side, side))
    return np.asarray(cv2.resize(shade, (cols, len(shade)), interpolation=cv2.INTER_LINEAR), np.float32)


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
