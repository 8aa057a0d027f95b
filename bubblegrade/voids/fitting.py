"""Centre and diameter to a fraction of a pixel: the blurred ring of optics.py fitted to each candidate.

All candidates are fitted at once. Darkness is sampled around each on a polar grid, on the pyramid's level on which the
radius is about ten px; the ring's centre, radius, blur, depth and level then move to meet the samples by robust
Gauss-Newton steps, in which samples that belong to something else (another void, a wire) lose their weight.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.threads import each, runs
from bubblegrade.voids.levels import level_blur_px, level_of
from bubblegrade.voids.rings import RingTable

Image = NDArray[np.float32]
Floats = NDArray[np.float32]

TOGETHER: Final = 384  # candidates fitted at once: threads seldom wait for each other, and samples stay in the cache
NEAR_PX: Final = 32  # candidates of so many lines come one after the other: what they sample is in the cache
MAD: Final = 1.4826  # standard deviation over median absolute deviation
GIVE_UP: Final = 4.0  # residuals beyond this many robust standard deviations have no weight
MOST_STEP: Final = 0.15  # of the radius, a step
BLUR_DOUBT: Final = 0.35  # standard deviation of ln(blur) about the photograph's
DEPTH_RANGE, LEVEL_RANGE = (0.05, 2.0), (-0.15, 0.3)
PARAMETERS: Final = 6  # of a fit: x, y, radius, ln(blur), depth, level
RIDGE: Final = np.array([1e-4, 1e-4, 1e-4, 1e-6, 1e-6, 1e-6])  # of the trace, added to the diagonal
ROWS: Final = 8  # a slope by each parameter, the residual, and ones: matrices multiply fastest in multiples of four


@dataclass(frozen=True)
class Grid:
    """A polar grid around a candidate, in radii."""

    angles: int
    radii: int
    inner: float = 0.08
    outer: float = 1.45

    @cached_property
    def rho(self) -> Floats:
        """Distances from the centre over the radius, (radii,)."""
        return np.linspace(self.inner, self.outer, self.radii, dtype=np.float32)

    @cached_property
    def directions(self) -> Floats:
        """Angles in radians, (angles,)."""
        return np.asarray(np.arange(self.angles) * 2 * np.pi / self.angles, np.float32)

    @cached_property
    def places(self) -> tuple[Floats, Floats]:
        """Right and down of the centre over the radius, (radii x angles,) each."""
        turned = self.directions.astype(np.float64)
        right, down = (np.outer(self.rho, part).ravel() for part in (np.cos(turned), np.sin(turned)))
        return right.astype(np.float32), down.astype(np.float32)


@dataclass(frozen=True)
class Pace:
    """How far a fit goes."""

    grid: Grid
    steps: int
    most_moved: float  # of the radius at the start, each way: the centre
    most_grown: float  # ratio to the radius at the start, either way


COARSE: Final = Pace(Grid(angles=12, radii=10), steps=2, most_moved=0.6, most_grown=1.6)
CLOSER: Final = Pace(Grid(angles=16, radii=12), steps=3, most_moved=0.4, most_grown=1.4)
FINE: Final = Pace(Grid(angles=24, radii=18), steps=4, most_moved=0.25, most_grown=1.6)


@dataclass(frozen=True, eq=False)
class Fits:
    """Fitted rings; all of length N, lengths in px of the photograph."""

    x_px: Floats
    y_px: Floats
    radius_px: Floats
    radius_err_px: Floats  # one standard uncertainty from noise and pixel grid alone
    blur_px: Floats  # standard deviation
    depth: Floats  # the ring's darkness over that of optics.py
    level: Floats  # darkness around the void
    explained: Floats  # share of the samples' variance
    agreeing: Floats  # share of the samples that the ring explains
    seen: Floats  # share of the circumference that voted

    def __len__(self) -> int:
        """Return the number of fits."""
        return len(self.x_px)

    def __getitem__(self, rows: Any) -> Fits:
        """Return the chosen rows."""
        return Fits(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})


@dataclass(frozen=True, eq=False)
class Samples:
    """Darkness on polar grids around N centres; (N, radii x angles)."""

    right: Floats  # offset from the centre, px
    down: Floats
    darkness: Floats
    pixel: Floats  # (N,) side of a pixel of the level used


def sample(pyramid: list[Image], x: Floats, y: Floats, radius: Floats, grid: Grid) -> Samples:
    """Return darkness around centres `x`, `y` (N,) on `grid`, whose unit is `radius` (N,)."""
    right, down = (radius[:, None] * part for part in grid.places)
    level = level_of(radius, len(pyramid))
    share = (0.5**level).astype(np.float32)
    at_x = right * share[:, None] + ((x + np.float32(0.5)) * share - np.float32(0.5))[:, None]
    at_y = down * share[:, None] + ((y + np.float32(0.5)) * share - np.float32(0.5))[:, None]
    darkness = np.empty_like(right)
    for one in np.unique(level).astype(int):
        rows = np.flatnonzero(level == one)
        darkness[rows] = cv2.remap(
            pyramid[one], at_x[rows], at_y[rows], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
    return Samples(right=right, down=down, darkness=darkness, pixel=np.float32(1) / share)


def fit_rings(pyramid: list[Image], start: Fits, table: RingTable, *, blur_px: float, noise: float, pace: Pace) -> Fits:
    """Return `start` moved to meet the photograph.

    Parameters
    ----------
    pyramid
        Darkness at halving sizes.
    start
        Where to begin: centre, radius and `seen` are used.
    table
        The ring for the photograph's light.
    blur_px
        Standard deviation of the photograph's blur.
    noise
        Standard deviation of a pixel's darkness.
    pace
        Where to sample, and how far to go.
    """

    def fitted(rows: slice) -> Fits:
        return _fit_some(pyramid, start[order[rows]], table, blur_px=blur_px, noise=noise, pace=pace)

    if not len(start):
        return start
    order = np.argsort(start.y_px // NEAR_PX, kind="stable")
    return joined(each(fitted, runs(len(start), TOGETHER)))[np.argsort(order, kind="stable")]


def joined(parts: list[Fits]) -> Fits:
    """Return the fits of all `parts`, one under the other."""
    return Fits(**{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(Fits)})


def _fit_some(pyramid: list[Image], start: Fits, table: RingTable, *, blur_px: float, noise: float, pace: Pace) -> Fits:
    """Return a few fits moved to meet the photograph."""
    samples = sample(pyramid, start.x_px, start.y_px, start.radius_px, pace.grid)
    blur = np.hypot(np.float32(blur_px), level_blur_px(samples.pixel)).astype(np.float32)
    state = _State(start.radius_px, blur, np.repeat(pace.grid.rho, pace.grid.angles))
    for _ in range(pace.steps):
        state.step(samples, table, noise=noise, usual_blur=blur, start=start.radius_px, pace=pace)
    return state.finished(samples, start, reach=pace.grid.outer)


class _State:
    """The moving parts of a fit."""

    def __init__(self, radius: Floats, blur: Floats, area: Floats) -> None:
        self.x, self.y = np.zeros_like(radius), np.zeros_like(radius)
        self.radius, self.blur = radius, blur
        self.area, self.mean_area = area, float(area.mean())
        self.robust = np.repeat(area[None, :], len(radius), axis=0)
        self.rows = np.ones((ROWS, len(radius), len(area)), np.float32)
        self.residual = np.empty_like(self.robust)

    def step(
        self, samples: Samples, table: RingTable, *, noise: float, usual_blur: Floats, start: Floats, pace: Pace
    ) -> None:
        """Move one Gauss-Newton step."""
        by_x, by_y, by_radius, by_log_blur, by_depth, by_level, left, _ = self.rows
        right = np.subtract(samples.right, self.x[:, None], out=by_x)
        down = np.subtract(samples.down, self.y[:, None], out=by_y)
        # Not cv2.magnitude: its last digit depends on where in memory the numbers lie.
        away = right * right
        away += down * down
        np.sqrt(away, out=away)
        away += np.float32(1e-6)
        rho: Floats = np.divide(away, self.radius[:, None])
        ring, by_rho, by_blur = table.at(self.blur / self.radius, rho)
        self.depth, self.level = _depth_and_level(ring, samples.darkness, self.robust)
        np.multiply(ring, self.depth[:, None], out=self.residual)
        self.residual += self.level[:, None]
        np.subtract(samples.darkness, self.residual, out=self.residual)
        self.scatter = np.maximum(np.float32(MAD) * row_medians(np.abs(self.residual)), np.float32(0.7 * noise))
        self._weigh()
        # Every slope, and the residual, is weighed by the root: their products are then weighed as they should be.
        root = np.sqrt(self.robust, out=by_level)
        np.multiply(ring, root, out=by_depth)
        np.multiply(self.residual, root, out=left)
        inward = np.multiply(by_rho, (-self.depth / self.radius)[:, None], out=by_rho)
        inward *= root
        np.multiply(inward, rho, out=by_radius)
        inward /= away
        right *= inward
        down *= inward
        np.multiply(by_blur, self.depth[:, None], out=by_log_blur)
        by_log_blur *= root
        by_radius -= np.divide(by_log_blur, self.radius[:, None], out=by_blur)
        sums = (self.rows[:PARAMETERS].transpose(1, 0, 2) @ self.rows.transpose(1, 2, 0)).astype(np.float64)
        self.normal, pull = sums[..., :PARAMETERS], sums[..., PARAMETERS]
        self._ridge(pull, usual_blur)
        self._move(np.linalg.solve(self.normal, pull[..., None])[..., 0].astype(np.float32), start, pace)

    def _weigh(self) -> None:
        """Weigh each sample by its area and Tukey's biweight of its residual, never quite 0."""
        weight = np.multiply(self.residual, (1 / (GIVE_UP * self.scatter))[:, None], out=self.robust)
        weight *= weight
        np.subtract(1, weight, out=weight)
        np.maximum(weight, 0, out=weight)
        weight *= weight
        weight += np.float32(1e-4)
        weight *= self.area

    def _move(self, by: Floats, start: Floats, pace: Pace) -> None:
        """Move by (N, PARAMETERS) steps, none of them too far; depth and level follow of themselves."""
        most, far = MOST_STEP * self.radius, pace.most_moved * start
        low, high = start / np.float32(pace.most_grown), start * np.float32(pace.most_grown)
        self.x = np.clip(self.x + np.clip(by[:, 0], -most, most), -far, far)
        self.y = np.clip(self.y + np.clip(by[:, 1], -most, most), -far, far)
        self.radius = np.clip(self.radius + np.clip(by[:, 2], -most, most), low, high)
        self.blur = self.blur * np.exp(np.clip(by[:, 3], -0.3, 0.3))

    def _ridge(self, pull: NDArray[np.float64], usual_blur: Floats) -> None:
        """Hold the blur near the photograph's, and keep every system solvable."""
        held = (self.scatter / BLUR_DOUBT) ** 2 * self.mean_area
        self.normal[:, 3, 3] += held
        pull[:, 3] -= held * np.log(self.blur / usual_blur)
        diagonal = np.einsum("nii->ni", self.normal)
        diagonal += diagonal.sum(axis=1, keepdims=True) * RIDGE + 1e-9

    def finished(self, samples: Samples, start: Fits, *, reach: float) -> Fits:
        """Return the fits, sampled out to `reach` radii of their start, with how well they explain the samples."""
        capped = np.minimum(self.residual**2, (GIVE_UP * self.scatter[:, None]) ** 2)
        total = self.robust.sum(axis=1, keepdims=True)
        spread = samples.darkness - _sums(samples.darkness, self.robust)[:, None] / total
        explained = 1 - (capped @ self.area) / np.maximum((spread * spread) @ self.area, 1e-6)
        agreeing = (np.abs(self.residual) < np.maximum(3 * self.scatter[:, None], 0.1)).mean(axis=1)
        return Fits(
            x_px=start.x_px + self.x,
            y_px=start.y_px + self.y,
            radius_px=self.radius,
            radius_err_px=self._radius_err(reach * start.radius_px / samples.pixel),
            blur_px=self.blur,
            depth=self.depth,
            level=self.level,
            explained=explained.astype(np.float32),
            agreeing=agreeing.astype(np.float32),
            seen=start.seen,
        )

    def _radius_err(self, reach: Floats) -> Floats:
        """Return the radius's standard uncertainty where samples lie out to `reach` pixels from the centre.

        Samples closer together than pixels tell the same thing twice.
        """
        repeated = np.maximum(len(self.area) / (np.pi * reach**2), 1.0)
        inverse = np.linalg.solve(self.normal, np.eye(PARAMETERS)[None, :, 2:3])[:, 2, 0]
        return np.asarray(self.scatter * np.sqrt(np.maximum(inverse, 0) * self.mean_area * repeated), np.float32)


def _depth_and_level(ring: Floats, darkness: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Return the depth and level, (N,), of the best line darkness = depth x ring + level."""
    ones = np.ones(ring.shape[1], np.float32)
    total, weighed = weight @ ones, weight * ring
    ring_mean = weighed @ ones / total
    dark_mean = _sums(weight, darkness) / total
    spread = _sums(weighed, ring) / total - ring_mean**2
    together = _sums(weighed, darkness) / total - ring_mean * dark_mean
    depth = np.clip(together / np.maximum(spread, 1e-6), *DEPTH_RANGE)
    return depth, np.clip(dark_mean - depth * ring_mean, *LEVEL_RANGE)


def _sums(one: Floats, other: Floats) -> Floats:
    """Return the sum of the products of two (N, M) arrays over each row, (N,)."""
    return np.asarray((one[:, None] @ other[:, :, None])[:, 0, 0])


def row_medians(values: Floats) -> Floats:
    """Return the median of each row of (N, M) values, M even; reorders them."""
    half = values.shape[1] // 2
    values.partition(half, axis=1)  # one place is found four times as fast as two
    return np.asarray((values[:, :half].max(axis=1) + values[:, half]) / 2)
