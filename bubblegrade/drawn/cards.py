"""Photographs of a printed sheet of known place: a pinhole camera with a distorting lens over black shapes on white.

    sheet = paint(black_shapes(layout, film=False), half_mm=(60.0, 60.0))
    codes = photograph(sheet, Shot(tilt_degrees=20.0, k1=-0.1))

The camera looks down on a sheet that lies flat. What it shows where is known exactly, from `Shot.seen_px`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.drawn.pictures import SRGB_STRAIGHT

Floats = NDArray[np.float64]

FINE: Final = 4  # samples along a pixel's side
PAINT_PX_PER_MM: Final = 20  # of the sheet: a marker's cells come out whole
BLACK, WHITE = 0.03, 0.45  # what ink and paper let through of the light behind
STRAIGHT: Final = 12  # steps of undoing the distortion


@dataclass(frozen=True)
class Sheet:
    """What a sheet lets through, painted around its middle."""

    light: NDArray[np.float32]  # linear, 0 to 1
    half_mm: tuple[float, float]


@dataclass(frozen=True)
class Shot:
    """How a sheet is photographed."""

    shape_px: tuple[int, int] = (800, 1000)
    focal_px: float = 900.0
    mm_per_px: float = 0.15  # straight below, without distortion
    tilt_degrees: float = 0.0
    tilt_towards_degrees: float = 0.0
    turn_degrees: float = 0.0  # of the sheet
    aside_mm: tuple[float, float] = (0.0, 0.0)  # of the sheet's middle from the camera's axis
    print_factor: float = 1.0  # how much larger than drawn the sheet was printed
    k1: float = 0.0
    k2: float = 0.0
    uneven: float = 0.0  # how much darker the light is on one side, as a share
    blur_px: float = 0.6
    noise: float = 1.5  # codes of 255
    jpeg: int = 92  # quality; 0 for none
    seed: int = 0

    @property
    def height_mm(self) -> float:
        """Return the distance from the lens to the sheet along the camera's axis."""
        return self.focal_px * self.mm_per_px

    def seen_px(self, places_mm: Floats) -> Floats:
        """Return where (n, 2) places of the sheet as drawn are seen, (n, 2) px."""
        space = self.rays(places_mm)
        flat = space[:, :2] / space[:, 2:]
        r2 = np.sum(flat**2, axis=1, keepdims=True)
        return np.asarray(self._centre() + self.focal_px * flat * (1.0 + self.k1 * r2 + self.k2 * r2**2))

    def rays(self, places_mm: Floats) -> Floats:
        """Return the way from the lens to (n, 2) places of the sheet as drawn, (n, 3) mm, the third along its axis."""
        turn, shift = self._pose()
        return np.asarray((places_mm * self.print_factor) @ turn[:, :2].T + shift)

    def true_mm_per_px(self, place_mm: Floats) -> float:
        """Return the scale at a place of the sheet as drawn, the geometric mean over directions, in true mm."""
        step = 1e-3 / self.print_factor
        around = np.asarray(place_mm) + step * np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
        seen = self.seen_px(around)
        return float(2e-3 * abs(np.linalg.det(seen[[0, 2]] - seen[[1, 3]])) ** -0.5)

    def places_mm(self, points_px: Floats) -> Floats:
        """Return the places of the sheet as drawn that are seen at (n, 2) points."""
        far = (points_px - self._centre()) / self.focal_px
        flat = far.copy()
        for _ in range(STRAIGHT):
            r2 = np.sum(flat**2, axis=1, keepdims=True)
            flat = far / (1.0 + self.k1 * r2 + self.k2 * r2**2)
        turn, shift = self._pose()
        back = np.linalg.inv(np.column_stack((turn[:, :2], shift)))
        lifted = flat @ back[:, :2].T + back[:, 2]
        return np.asarray(lifted[:, :2] / lifted[:, 2:] / self.print_factor)

    def _centre(self) -> Floats:
        return (np.array(self.shape_px[::-1]) - 1) / 2

    def _pose(self) -> tuple[Floats, Floats]:
        """Return the sheet's turn and place before the camera."""
        towards, tilt, turn = (
            math.radians(angle) for angle in (self.tilt_towards_degrees, self.tilt_degrees, self.turn_degrees)
        )
        lean, _ = cv2.Rodrigues(tilt * np.array([math.cos(towards), math.sin(towards), 0.0]))
        spin, _ = cv2.Rodrigues(np.array([0.0, 0.0, turn]))
        return np.asarray(lean @ spin), np.array([*self.aside_mm, self.height_mm])


def paint(
    shapes: Sequence[Sequence[Floats]],
    *,
    half_mm: tuple[float, float],
    window_mm: float = 0.0,
    white: float = WHITE,
    hidden: Sequence[tuple[float, float, float, float]] = (),
) -> Sheet:
    """Return a sheet with black shapes, each of closed loops in mm around the middle.

    Parameters
    ----------
    shapes
        To be filled by the even-odd rule.
    half_mm
        Half the sheet's width and height; outside is the bare light.
    window_mm
        Side of the square in the middle that is cut out.
    white
        Share of the light that the sheet lets through.
    hidden
        Boxes (left, top, right, bottom) in mm that something lies on.
    """
    size = tuple(round(2 * half * PAINT_PX_PER_MM) for half in half_mm)
    light = np.full(size[::-1], white, np.float32)

    for loops in shapes:
        _ink(light, [np.rint((loop + half_mm) * PAINT_PX_PER_MM).astype(int) for loop in loops])
    for left, top, right, bottom, level in (
        (-window_mm / 2, -window_mm / 2, window_mm / 2, window_mm / 2, 1.0),
        *((*box, 0.2) for box in hidden),
    ):
        (x0, x1), (y0, y1) = (
            tuple(round((end + half) * PAINT_PX_PER_MM) for end in ends)
            for ends, half in (((left, right), half_mm[0]), ((top, bottom), half_mm[1]))
        )
        light[max(y0, 0) : max(y1, 0), max(x0, 0) : max(x1, 0)] = level
    return Sheet(light, half_mm)


def _ink(light: NDArray[np.float32], loops: list[NDArray[np.int_]]) -> None:
    """Blacken what lies inside loops of upright and level edges: an upright edge turns over all to its right."""
    corners = np.concatenate(loops)
    (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
    inside = np.zeros((bottom - top, right - left), bool)
    for loop in loops:
        for (x, y), (next_x, next_y) in zip(loop - (left, top), np.roll(loop, -1, axis=0) - (left, top), strict=True):
            if x == next_x:
                inside[min(y, next_y) : max(y, next_y), x:] ^= True
    light[top:bottom, left:right][inside] = BLACK


def photograph(sheet: Sheet, shot: Shot) -> NDArray[np.uint8]:
    """Return the photograph, (rows, cols, 3) uint8; the same shot gives the same bytes."""
    rows, cols = shot.shape_px
    light = np.empty((rows, cols), np.float32)
    for top in range(0, rows, 200):
        bottom = min(top + 200, rows)
        light[top:bottom] = _strip(sheet, shot, top, bottom)
    x, y = np.meshgrid(np.linspace(-0.5, 0.5, cols), np.linspace(-0.5, 0.5, rows))
    light *= 0.85 * (1.0 - shot.uneven * (0.5 + 0.6 * x + 0.4 * y)).astype(np.float32)
    if shot.blur_px:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), shot.blur_px), np.float32)
    codes = 255.0 * np.where(
        light <= SRGB_STRAIGHT, 12.92 * light, 1.055 * np.maximum(light, 1e-9) ** (1 / 2.4) - 0.055
    )
    draws = np.random.default_rng(shot.seed)
    codes += shot.noise * draws.standard_normal((rows, cols), np.float32)
    picture = cv2.cvtColor(np.clip(np.rint(codes), 0, 255).astype(np.uint8), cv2.COLOR_GRAY2BGR)
    if not shot.jpeg:
        return np.asarray(picture, np.uint8)
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, shot.jpeg])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def _strip(sheet: Sheet, shot: Shot, top: int, bottom: int) -> NDArray[np.float32]:
    """Return the light of some rows, averaged over each pixel's area."""
    cols = shot.shape_px[1]
    grid = np.stack(np.meshgrid(np.arange(-1.0, cols + 1), np.arange(top - 1.0, bottom + 1)), axis=-1)
    places = shot.places_mm(grid.reshape(-1, 2)).reshape(grid.shape)
    spots = ((places + sheet.half_mm) * PAINT_PX_PER_MM - 0.5).astype(np.float32)
    fine_spots = cv2.resize(spots, None, fx=FINE, fy=FINE, interpolation=cv2.INTER_LINEAR)[FINE:-FINE, FINE:-FINE]
    x, y = (np.ascontiguousarray(fine_spots[..., axis], np.float32) for axis in (0, 1))
    fine = cv2.remap(sheet.light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=1.0)
    return np.asarray(cv2.resize(fine, (cols, bottom - top), interpolation=cv2.INTER_AREA), np.float32)
