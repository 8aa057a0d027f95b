"""The ground that voids may lie on: the judged area, its hardware, and how much of it lies nearer to what."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_fill_holes

from bubblegrade.distances import distances

Mask = NDArray[np.bool_]
Floats = NDArray[np.floating[Any]]

ROUGH_SIDE: Final = 100  # cells along the longer side of the rough picture that broad counts are taken from
LEVELS: Final = 4000  # steps in which distances are told apart: finer than the cells of any coarse picture
FINE: Final = 5  # parts of a rough cell's side, when a disc is drawn


@dataclass(frozen=True, eq=False)
class Ground:
    """Where voids could have been found: a coarse picture, each cell of which covers `step_px` px of the photograph."""

    judged: Mask  # (rows, cols) cells
    step_px: float
    hardware: Mask | None = None  # (rows, cols): dark bodies, in or beside the judged area, that hide what is behind
    thickness: Floats | None = None  # (rows, cols), any unit: random voids are as many as there is resin; None: even
    pour_px: tuple[float, float] | None = None  # x, y where the resin was poured in
    up: tuple[float, float] | None = None  # x, y of the direction that was up while the resin set

    def __post_init__(self) -> None:
        for name in ("hardware", "thickness"):
            cells = getattr(self, name)
            if cells is not None and cells.shape != self.judged.shape:
                raise AssertionError(f"{name} of {cells.shape} cells does not fit a judged area of {self.judged.shape}")
        if self.up is not None and not math.hypot(*self.up) > 0.0:
            raise AssertionError(f"up has no length: {self.up}")

    @cached_property
    def open(self) -> Mask:
        """The cells in which the centre of a void can be found, (rows, cols)."""
        return self.judged if self.hardware is None else self.judged & ~self.hardware

    @cached_property
    def share(self) -> Floats:
        """The share of random voids that each cell is expected to hold, (rows, cols); sums to 1."""
        resin = self.open.astype(np.float64)
        if self.thickness is not None:
            resin *= np.clip(np.nan_to_num(self.thickness), 0.0, None)
        return np.asarray(resin / max(float(resin.sum()), np.finfo(float).tiny))

    @cached_property
    def heights(self) -> Floats:
        """The running sum of `share`, (rows x cols,), from which random cells are drawn."""
        return np.cumsum(self.share.ravel())

    @property
    def area_px(self) -> float:
        """Area of the open cells in px of the photograph."""
        return float(self.open.sum()) * self.step_px**2

    @property
    def side_px(self) -> float:
        """Side of a square of that area, the length that others are measured by."""
        return math.sqrt(self.area_px)

    @cached_property
    def middles_px(self) -> tuple[Floats, Floats]:
        """X of each column and y of each row, (cols,) and (rows,), of the cells' centres."""
        rows, cols = self.judged.shape
        return (np.arange(cols) + 0.5) * self.step_px - 0.5, (np.arange(rows) + 0.5) * self.step_px - 0.5

    @cached_property
    def from_wall_px(self) -> Floats | None:
        """Distance to the judged area's outer border, (rows, cols); None where the frame alone bounds it."""
        solid = self.judged if self.hardware is None else self.judged | self.hardware
        return _distance_px(~binary_fill_holes(solid), self.step_px)

    @cached_property
    def from_hardware_px(self) -> Floats | None:
        """Distance to the nearest hardware, (rows, cols); None where there is none."""
        return None if self.hardware is None else _distance_px(self.hardware, self.step_px)

    def along_px(self, direction: tuple[float, float]) -> Floats:
        """Return how far each cell lies along a direction x, y of any length, (rows, cols)."""
        x, y = self.middles_px
        length = math.hypot(*direction)
        return np.asarray(x[np.newaxis] * (direction[0] / length) + y[:, np.newaxis] * (direction[1] / length))

    def nearer_share(self, distance: Floats) -> Floats:
        """Return for each cell the share of random voids in cells of at most its distance, (rows, cols).

        Distances are told apart in LEVELS steps.
        """
        low, high = float(distance.min()), float(distance.max())
        level = np.rint((distance - low) * (LEVELS / max(high - low, np.finfo(float).tiny))).astype(np.intp)
        held = np.bincount(level.ravel(), weights=self.share.ravel(), minlength=LEVELS + 1)
        return np.asarray(np.cumsum(held)[level])

    def disc_share(self, radius_px: float) -> Floats:
        """Return the share of random voids in a disc about each cell, (rows, cols), from the rough picture."""
        factor = self._rough_factor
        cell = self.step_px * factor
        held = cv2.filter2D(self._rough, cv2.CV_64F, _disc(radius_px / cell), borderType=cv2.BORDER_CONSTANT)
        grown = np.repeat(np.repeat(held, factor, axis=0), factor, axis=1)
        rows, cols = self.judged.shape
        return np.asarray(grown[:rows, :cols])

    def cells(self, points_px: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Return the row and column of each point's cell, (...) each of points (..., 2); held at the frame."""
        rows, cols = self.judged.shape
        at = np.floor((points_px + 0.5) / self.step_px).astype(np.intp)
        return np.clip(at[..., 1], 0, rows - 1), np.clip(at[..., 0], 0, cols - 1)

    def holds(self, points_px: Floats) -> Mask:
        """Say for each point of (..., 2) whether it lies in an open cell."""
        rows, cols = self.judged.shape
        inside = np.all((points_px + 0.5 >= 0.0) & (points_px + 0.5 < np.array([cols, rows]) * self.step_px), axis=-1)
        return np.asarray(inside & self.open[self.cells(points_px)])

    @property
    def _rough_factor(self) -> int:
        longer: int = max(self.judged.shape)
        return max(1, math.ceil(longer / ROUGH_SIDE))

    @cached_property
    def _rough(self) -> Floats:
        """The shares summed over squares of cells."""
        factor = self._rough_factor
        rows, cols = (-(-side // factor) for side in self.share.shape)
        padded = np.zeros((rows * factor, cols * factor))
        padded[: self.share.shape[0], : self.share.shape[1]] = self.share
        return np.asarray(padded.reshape(rows, factor, cols, factor).sum(axis=(1, 3)))


def _distance_px(target: Mask, step_px: float) -> Floats | None:
    """Return the distance of each cell to the nearest cell of `target`, or None where there is none."""
    if not target.any():
        return None
    return np.asarray(distances(~target) * step_px)


def _disc(radius: float) -> Floats:
    """Return how much of each cell a disc of this radius (cells) about the middle one covers, (odd, odd)."""
    reach = math.ceil(radius + 0.5)
    line = (np.arange((2 * reach + 1) * FINE) + 0.5) / FINE - reach - 0.5
    inside = np.hypot(line[:, np.newaxis], line) <= radius
    drawn = inside.reshape(2 * reach + 1, FINE, 2 * reach + 1, FINE).mean(axis=(1, 3))
    return np.asarray(drawn * (math.pi * radius**2 / max(float(drawn.sum()), 1.0 / FINE**2)))
