"""Drawn lures of known faults: a lure-shaped body with voids, hardware and glitter, turned, mirrored and resized.

    drawn = draw_lure(Lure(voids=((0.5, 0.5, 20.0),), turned_degrees=30.0))
    drawn.picture       (rows, cols, 3) uint8, as a camera would save it
    drawn.diameter_px   the truth

Places on a lure are fractions: `along` its length from the head to the tail, `across` its width from the back to the
belly. The head is the thick end and the belly the round side, as the outline is lopsided both ways.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.drawn.pictures import RIM_LIGHT, RIM_PX, Drawn, Scene, bare_light, light_table, photographed, put_void

Floats = NDArray[np.float64]
Mark = tuple[float, float, float]  # along, across, diameter in px at size 1

LENGTH_PX: Final = 360.0  # of a lure at size 1
BACK_PX, BELLY_PX = 46.0, 74.0  # of the body's reach from its chord to either side at size 1
WIDTH_PX: Final = BACK_PX + BELLY_PX
MARGIN_PX: Final = 64.0  # of bare light around the lure at size 1
OUTLINE_POINTS: Final = 240
DARK: Final = 0.03  # of the light: what hardware and flakes let through
FINE: Final = 8  # parts of a pixel's side over which an edge is averaged
EYE_PLACE: Final = (0.13, 0.36)
EYE_PX: Final = 22.0
WIRE_PX: Final = 7.0
FLAKE_CORNERS: Final = (3, 6)  # least and most


@dataclass(frozen=True)
class Lure:
    """A lure on a light and what is in it; lengths in px at size 1."""

    voids: tuple[Mark, ...] = ()
    eye: bool = True
    wire: tuple[float, float, float, float] | None = None  # along, across of both ends
    flakes: int = 0
    flake_px: float = 9.0
    turned_degrees: float = 0.0  # clockwise on the screen
    mirrored: bool = False
    size: float = 1.0
    blur_px: float = 0.7
    seed: int = 0  # of the noise and of the flakes


def draw_lure(lure: Lure) -> Drawn:
    """Draw a lure; the same lure gives the same bytes.

    >>> draw_lure(Lure(size=0.5)).picture.shape
    (156, 244, 3)
    """
    rows, cols = _frame(lure)
    scene = Scene(width_px=cols, height_px=rows, blur_px=lure.blur_px, seed=lure.seed)
    body = _cover(_placed(_body(), lure, (rows, cols)), (rows, cols))
    inner = _cover(_placed(_body(), lure, (rows, cols)), (rows, cols), inset=RIM_PX)
    light = bare_light(scene) * (1 - (body - inner) * (1 - RIM_LIGHT) - inner * (1 - scene.clear))
    for solid in (*_hardware(lure), *_flakes(lure)):
        light *= 1 - (1 - DARK) * _cover(_placed(solid, lure, (rows, cols)), (rows, cols))
    marks = np.array(lure.voids, np.float64).reshape(-1, 3)
    places = _placed(_from_fractions(marks[:, :2]), lure, (rows, cols))
    diameters = marks[:, 2] * lure.size
    table = light_table(scene)
    for (x, y), diameter in zip(places, diameters, strict=True):
        put_void(light, table, float(x), float(y), float(diameter))
    return Drawn(photographed(light, scene), places[:, 0], places[:, 1], diameters)


def outline_of(lure: Lure) -> Floats:
    """Return the true outline in the picture, (N, 2) x, y in px."""
    return _placed(_body(), lure, _frame(lure))


def _frame(lure: Lure) -> tuple[int, int]:
    """Return rows and columns of a picture that shows the lure with its margin."""
    turn = math.radians(lure.turned_degrees)
    along, across = LENGTH_PX * lure.size, WIDTH_PX * lure.size
    cols = abs(along * math.cos(turn)) + abs(across * math.sin(turn)) + 2 * MARGIN_PX * lure.size
    rows = abs(along * math.sin(turn)) + abs(across * math.cos(turn)) + 2 * MARGIN_PX * lure.size
    return 4 * math.ceil(rows / 4 + 8), 4 * math.ceil(cols / 4)


def _body() -> Floats:
    """Return the outline around the middle of its length and width, the head left and the belly below."""
    along = (1 - np.cos(np.linspace(0, math.pi, OUTLINE_POINTS // 2))) / 2
    girth = np.sqrt(along) * np.maximum(1 - along**1.6, 0.0) ** 0.75
    girth /= girth.max()
    back = np.stack([along, (BACK_PX - BACK_PX * girth) / WIDTH_PX], axis=1)
    belly = np.stack([along, (BACK_PX + BELLY_PX * girth) / WIDTH_PX], axis=1)
    return _from_fractions(np.concatenate([back, belly[-2:0:-1]]))


def _from_fractions(places: Floats) -> Floats:
    """Return places along and across as px from the middle of length and width, at size 1."""
    return np.asarray((places - 0.5) * [LENGTH_PX, WIDTH_PX])


def _placed(points: Floats, lure: Lure, shape: tuple[int, int]) -> Floats:
    """Return points at size 1 where the picture shows them, mirrored first, then turned."""
    turn = math.radians(lure.turned_degrees)
    x, y = (points * [-1.0 if lure.mirrored else 1.0, 1.0] * lure.size).T
    rows, cols = shape
    return np.stack(
        [
            x * math.cos(turn) - y * math.sin(turn) + (cols - 1) / 2,
            x * math.sin(turn) + y * math.cos(turn) + (rows - 1) / 2,
        ],
        axis=1,
    )


def _hardware(lure: Lure) -> list[Floats]:
    """Return the eye and the wire as polygons at size 1."""
    around = np.linspace(0, 2 * math.pi, 40, endpoint=False)
    solids = []
    if lure.eye:
        circle = EYE_PX / 2 * np.stack([np.cos(around), np.sin(around)], axis=1)
        solids.append(circle + _from_fractions(np.array([EYE_PLACE])))
    if lure.wire is not None:
        one, other = _from_fractions(np.array(lure.wire).reshape(2, 2))
        normal = np.array([one[1] - other[1], other[0] - one[0]])
        half = WIRE_PX / 2 * normal / np.hypot(*normal)
        solids.append(np.array([one + half, other + half, other - half, one - half]))
    return solids


def _flakes(lure: Lure) -> list[Floats]:
    """Return flakes as polygons with straight edges, well inside the body, at size 1."""
    rng = np.random.default_rng([lure.seed, 1])
    flakes = []
    for _ in range(lure.flakes):
        corners = rng.integers(*FLAKE_CORNERS, endpoint=True)
        angle = np.sort(
            rng.uniform(0, 2 * math.pi) + 2 * math.pi * (np.arange(corners) + rng.uniform(0, 0.4)) / corners
        )
        ring = lure.flake_px / 2 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
        flakes.append(ring + _from_fractions(np.array([[rng.uniform(0.25, 0.75), rng.uniform(0.2, 0.75)]])))
    return flakes


def _cover(polygon: Floats, shape: tuple[int, int], *, inset: float = 0.0) -> Floats:
    """Return the share of each pixel that a polygon covers, kept `inset` px away from its border, (rows, cols)."""
    rows, cols = shape
    fine = np.zeros((rows * FINE, cols * FINE), np.uint8)
    corners = np.round((polygon + 0.5) * FINE - 0.5).astype(np.int32)
    cv2.fillPoly(fine, [corners], 1)
    if inset:
        cv2.polylines(fine, [corners], isClosed=True, color=0, thickness=round(2 * inset * FINE))
    return np.asarray(fine.reshape(rows, FINE, cols, FINE).mean((1, 3)))
