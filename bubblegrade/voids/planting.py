"""The smallest countable size, measured: voids of known size are planted into the photograph and looked for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from scipy.special import bdtr

from bubblegrade.voids.rings import RingTable
from bubblegrade.voids.table import Voids

Image = NDArray[np.float32]
Floats = NDArray[np.float64]

SIZES_PX: Final = np.geomspace(4.0, 14.0, 9)  # diameters planted
EACH: Final = 25  # voids of each size
FOUND_SHARE: Final = 0.9  # a size is countable if this share is found
SURELY: Final = 0.01  # chance of so few found among enough: less, and they are lost however well smaller ones are found
BORDER: Final = 1.5  # diameters kept between a planted void and the border of the judged area
APART: Final = 2.5  # diameters kept between planted voids
MOST_TRIES: Final = 40
REACH: Final = 2.0  # radii up to which a planted void's blurred ring is drawn


@dataclass(frozen=True, eq=False)
class Planted:
    """What became of planted voids."""

    diameter_px: Floats  # sizes planted
    planted: NDArray[np.int64]  # how many of each
    found: NDArray[np.int64]  # how many of them were found
    limit_px: float  # smallest size of which FOUND_SHARE is found; NaN if none is


def plant(
    light: Image, x: Floats, y: Floats, diameter: Floats, table: RingTable, *, blur_px: float, depth: float
) -> Image:
    """Return `light`, (rows, cols), with voids at x, y (px) of these diameters (px): each takes depth x ring of it."""
    planted = light.copy()
    rows, cols = light.shape
    for cx, cy, d in zip(x, y, diameter, strict=True):
        reach = REACH * d / 2 + 2 * blur_px
        left, right = max(int(cx - reach), 0), min(int(cx + reach) + 2, cols)
        top, bottom = max(int(cy - reach), 0), min(int(cy + reach) + 2, rows)
        across, down = np.meshgrid(np.arange(left, right) - cx, np.arange(top, bottom) - cy)
        rho = (np.hypot(across, down) / (d / 2)).astype(np.float32)
        ring, _, _ = table.at(np.array([blur_px / (d / 2)], np.float32), rho.reshape(1, -1))
        planted[top:bottom, left:right] *= np.clip(1 - depth * ring.reshape(rho.shape), 0, None)
    return planted


def plantable(
    judged: NDArray[np.bool_], voids: Voids, *, seed: int, sizes_px: Floats = SIZES_PX, each: int = EACH
) -> tuple[Floats, Floats, Floats]:
    """Return x, y and diameter of voids to plant: `each` of `sizes_px` at random in the judged area, none at another.

    Voids of the photograph may lie beside or under them, as they do for the real ones. Where there is no room for all,
    every size has about as many.
    """
    rng = np.random.default_rng(seed)
    rows, cols = np.nonzero(judged)
    diameter = np.tile(np.sort(sizes_px)[::-1], each)
    placed: list[tuple[float, float, float]] = []
    for d in diameter if len(rows) else ():
        for _ in range(MOST_TRIES):
            i = int(rng.integers(len(rows)))
            spot = (cols[i] + rng.uniform(-0.5, 0.5), rows[i] + rng.uniform(-0.5, 0.5), float(d))
            if _free(spot, placed, judged) and not _under(spot, voids):
                placed.append(spot)
                break
    table = np.array(placed).reshape(-1, 3)
    return table[:, 0], table[:, 1], table[:, 2]


def measured_limit(
    light: Image,
    spots: tuple[Floats, Floats, Floats],
    find: Callable[[Image], Voids],
    table: RingTable,
    *,
    blur_px: float,
    depth: float,
) -> Planted:
    """Return how many of the planted voids `find` finds in `light`, by size."""
    x, y, diameter = spots
    found = find(plant(light, x, y, diameter, table, blur_px=blur_px, depth=depth))
    hit = np.zeros(len(x), bool)
    if len(found) and len(x):
        distance, nearest = cKDTree(np.stack([found.x_px, found.y_px], axis=1)).query(np.stack([x, y], axis=1))
        ratio = found.diameter_px[nearest] / diameter
        hit = (distance <= np.maximum(2.0, 0.3 * diameter)) & (ratio > 0.5) & (ratio < 2.0)  # noqa: PLR2004
    sizes = np.unique(diameter)
    number = np.array([(diameter == size).sum() for size in sizes], np.int64)
    count = np.array([hit[diameter == size].sum() for size in sizes], np.int64)
    return Planted(sizes, number, count, _limit(sizes, number, count))


def _limit(sizes: Floats, planted: NDArray[np.int64], found: NDArray[np.int64]) -> float:
    """Return the size from which on FOUND_SHARE is found, between the sizes planted; NaN if that is at none."""
    from scipy.optimize import isotonic_regression  # noqa: PLC0415  it takes a tenth of a second; few plant

    if not len(sizes):
        return float("nan")
    share = isotonic_regression(found / planted, weights=planted).x  # larger voids are found as often at least
    surely_short = bdtr(found, planted, FOUND_SHARE) < SURELY
    short = np.flatnonzero((share < FOUND_SHARE) | surely_short)
    if not len(short):
        return float(sizes[0])
    first = int(short[-1]) + 1
    if first == len(sizes):
        return float("nan")
    low, high = share[first - 1], share[first]
    part = (FOUND_SHARE - low) / (high - low)
    return float(np.exp(np.log(sizes[first - 1]) + part * np.log(sizes[first] / sizes[first - 1])))


def _free(
    spot: tuple[float, float, float], placed: list[tuple[float, float, float]], judged: NDArray[np.bool_]
) -> bool:
    """Say whether a spot is clear of the border and of what is planted already."""
    x, y, d = spot
    reach = int(BORDER * d)
    col, row = round(x), round(y)
    window = judged[max(row - reach, 0) : row + reach + 1, max(col - reach, 0) : col + reach + 1]
    if window.size < (2 * reach + 1) ** 2 or not window.all():
        return False
    return all((x - px) ** 2 + (y - py) ** 2 > (APART * max(d, pd)) ** 2 for px, py, pd in placed)


def _under(spot: tuple[float, float, float], voids: Voids) -> bool:
    """Say whether a spot lies so near a void of the photograph that a find there would be that one."""
    x, y, d = spot
    off = np.hypot(voids.x_px - x, voids.y_px - y)
    return bool((off < 0.5 * np.maximum(d, voids.diameter_px)).any())
