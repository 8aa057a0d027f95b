"""Dark marks that no counted void explains: where they are, and what the namer is told of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.quantiles import quantile
from bubblegrade.threads import both, each, runs
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import Verdicts
from bubblegrade.voids.lost import discs
from bubblegrade.voids.mark_looks import (
    COARSE,
    Columns,
    Image,
    Mask,
    Pixels,
    Places,
    Scenery,
    looks_of,
    nonzero,
    shape_of,
)
from bubblegrade.voids.scattered import Labels, depths_of, nearest_of, parts_of
from bubblegrade.voids.table import Voids

Floats = NDArray[np.float32]

HALO: Final = 1.25  # radii of a void that are its own
DARK: Final = 0.12  # darkness over its surroundings of a mark worth naming
LEAST_NOISE: Final = 5.0  # standard deviations of a pixel's darkness that a mark exceeds
SURROUNDINGS: Final = 1 / 8  # of the casting's size: shading wider than this is no mark
MOST_SHADE: Final = 0.3  # darkness that counts as shading at most
STRIP_PX: Final = 192  # lines worked on at once: they stay in the cache
LEAST_AREA_PX: Final = 7
LEAST_BODY_PX: Final = 40  # area of a body that may be a mark by itself
BODY_QUANTILE, BODY_SHARE = 0.9, 0.6  # darkness of a mark's darkest part, and the share of it from which on it is body
SAMPLES: Final = 8  # places on a candidate's ring that say to which mark it belongs
RING_SHARE: Final = 0.85  # of a candidate's radius: where its ring is dark


@dataclass(frozen=True, eq=False)
class Marks:
    """N dark marks of a photograph."""

    under: Labels  # (rows, cols): 1 to N, 0 for no mark
    pixels: Pixels  # theirs
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

    @cached_property
    def labels(self) -> NDArray[np.int32]:
        """The marks' numbers as a whole picture."""
        return self.under.drawn()

    def placed(self, corner: tuple[int, int], shape: tuple[int, ...]) -> Marks:
        """Return the marks of a part whose first pixel is at `corner`, (row, col), in the whole picture of `shape`."""
        top, left = corner
        pixels = Pixels(self.pixels.rows + top, self.pixels.cols + left, self.pixels.of, len(self))
        under = pixels.labels((shape[0], shape[1]))
        return replace(self, under=under, pixels=pixels, x_px=self.x_px + left, y_px=self.y_px + top)


def find_marks(scenery: Scenery, voids: Voids, fits: Fits, verdicts: Verdicts) -> Marks:
    """Return the dark marks that the counted `voids` leave unexplained.

    `fits` and `verdicts` are those of the candidates that were not counted: what the judge of voids says of a ring that
    lies on a mark is part of how the mark looks.
    """
    rows, cols = _dark(scenery, voids)
    depth, parts = _depths_and_parts(scenery.darkness.shape, rows, cols)
    pixels, large = _large(rows, cols, parts)
    if not pixels.count:
        return _no_marks(pixels, scenery.darkness.shape)
    depth, seen = depth[large], scenery.darkness[pixels.rows, pixels.cols]
    pixels = _parted(pixels, seen)
    labels = pixels.labels(scenery.darkness.shape)
    shape = shape_of(pixels, 2.0 * pixels.most(depth))
    rings = _rings(labels, pixels.count, fits, verdicts, shape.thick)
    numbers, views = looks_of(pixels, shape, depth, scenery, voids)
    features = np.concatenate([numbers, rings, views], axis=1)
    return Marks(
        under=labels, pixels=pixels, x_px=shape.x, y_px=shape.y, area_px=pixels.area, length_px=4 * shape.long,
        width_px=shape.thick, mean=pixels.mean(seen),
        features=features.astype(np.float32),
    )  # fmt: skip


def _depths_and_parts(shape: tuple[int, ...], rows: Places, cols: Places) -> tuple[Floats, Places]:
    """Return how deep each dark pixel of a picture of `shape` lies among the dark ones, and the part it belongs to."""
    dark = np.zeros(shape, np.uint8)
    dark[rows, cols] = 1
    return both(lambda: depths_of(dark, rows, cols), lambda: parts_of(rows, cols))


def _dark(scenery: Scenery, voids: Voids) -> tuple[Places, Places]:
    """Return rows and columns of the pixels that are darker than around and that no counted void explains."""
    shade, least = _shade(scenery), max(DARK, LEAST_NOISE * scenery.noise)
    own = discs(scenery.darkness.shape, voids, HALO)
    faintest = least + float(shade.min())

    def dark(lines: slice) -> tuple[Places, Places]:
        part = scenery.darkness[lines]
        maybe = np.greater(part, faintest)
        maybe &= scenery.judged[lines]
        maybe &= ~own[lines]
        rows, cols = nonzero(maybe)
        kept = part[rows, cols] - _between(shade, rows + lines.start, cols) > least
        return rows[kept] + lines.start, cols[kept]

    rows, cols = zip(*each(dark, runs(len(own), STRIP_PX)), strict=True)
    return np.concatenate(rows), np.concatenate(cols)


def _between(small: Image, rows: Places, cols: Places) -> Floats:
    """Return some places of a picture made COARSE times as tall, linear between the middles of its rows."""
    place = np.clip((rows + 0.5) / COARSE - 0.5, 0, len(small) - 1)
    low = place.astype(np.intp)
    here, below = small[low, cols], small[np.minimum(low + 1, len(small) - 1), cols]
    return np.asarray(here + (below - here) * (place - low).astype(np.float32))


def _large(rows: Places, cols: Places, parts: NDArray[Any]) -> tuple[Pixels, Mask]:
    """Return the pixels of the parts that are large enough for a mark, and which of all they are."""
    large = np.bincount(parts) >= LEAST_AREA_PX
    kept = large[parts]
    of = np.cumsum(large)[parts[kept]] - 1
    return Pixels(rows[kept], cols[kept], of, int(large.sum())), kept


def _parted(pixels: Pixels, seen: Floats) -> Pixels:
    """Return marks of which each body that only faint shading holds together is one by itself.

    A flake in the haze around a ballast is a mark by itself; the haze goes to what is nearest. `seen` is the pixels'
    darkness.
    """
    core = np.zeros(len(seen), bool)
    for i in np.flatnonzero(pixels.area >= 2 * LEAST_BODY_PX):
        mine = pixels.of_mark(i)
        core[mine] = seen[mine] > BODY_SHARE * quantile(seen[mine], BODY_QUANTILE)
    body = np.full(len(seen), -1)
    body[core] = parts_of(pixels.rows[core], pixels.cols[core])
    area = np.bincount(body[core])
    body[core] = np.where(area[body[core]] >= LEAST_BODY_PX, body[core], -1)
    of, count = pixels.of.copy(), pixels.count
    owner = np.full(len(area), -1)
    owner[body[body >= 0]] = pixels.of[body >= 0]
    bodies = np.bincount(owner[owner >= 0], minlength=count)
    for i in np.flatnonzero(bodies > 1):
        mine = pixels.of_mark(i)
        its = nearest_of(pixels.rows[mine], pixels.cols[mine], body[mine])
        number = np.unique(its, return_inverse=True)[1]
        of[mine[number > 0]] = count - 1 + number[number > 0]
        count += int(number.max())
    return Pixels(pixels.rows, pixels.cols, of, count)


def _shade(scenery: Scenery) -> Image:
    """Return the wide shading under the marks, (rows / COARSE, cols)."""
    rows, cols = (-(-size // COARSE) for size in scenery.darkness.shape)
    whole = scenery.darkness[tuple(slice(size // COARSE * COARSE) for size in scenery.darkness.shape)]
    small = cv2.resize(whole, (whole.shape[1] // COARSE, len(whole) // COARSE), interpolation=cv2.INTER_AREA)
    small = np.pad(np.minimum(small, MOST_SHADE), ((0, rows - len(small)), (0, cols - small.shape[1])), mode="edge")
    side = 2 * int(SURROUNDINGS * scenery.casting_px / 2 / COARSE) + 1
    shade = cv2.resize(cv2.blur(small, (side, side)), (cols * COARSE, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(shade[:, : scenery.darkness.shape[1]], np.float32)


def _no_marks(pixels: Pixels, shape: tuple[int, int]) -> Marks:
    nothing = np.empty(0)
    return Marks(
        under=pixels.labels(shape), pixels=pixels, x_px=nothing, y_px=nothing, area_px=nothing, length_px=nothing,
        width_px=nothing, mean=nothing, features=np.empty((0, 0), np.float32),
    )  # fmt: skip


def mark_under(labels: Labels | NDArray[np.int32], x: ArrayLike, y: ArrayLike, radius: ArrayLike) -> NDArray[Any]:
    """Return for each of N circles the mark under most of it, or 0; places and radii in px."""
    angle = np.arange(SAMPLES) * 2 * np.pi / SAMPLES
    reach = RING_SHARE * np.asarray(radius)[:, None]
    at_x = np.rint(np.asarray(x)[:, None] + reach * np.cos(angle)).astype(np.intp)
    at_y = np.rint(np.asarray(y)[:, None] + reach * np.sin(angle)).astype(np.intp)
    rows, cols = labels.shape
    hit = np.sort(labels[np.clip(at_y, 0, rows - 1), np.clip(at_x, 0, cols - 1)], axis=1)
    return np.asarray(hit[:, SAMPLES // 2])


def _rings(labels: Labels, count: int, fits: Fits, verdicts: Verdicts, thick: Columns) -> Columns:
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
