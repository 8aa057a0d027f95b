"""Populations: sizes of voids as castings hold them, and castings that hold them."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.drawn.pictures import Scene

Floats = NDArray[np.float64]

EDGE_PX: Final = 6.0  # resin between a void and the casting's rim
TRIES: Final = 2000  # places tried for one void


def population(
    count: int, median_mm: float, gsd: float, *, pressure_ratio: float = 1.0, rng: np.random.Generator
) -> Floats:
    """Return the diameters (mm) of `count` voids, lognormal when poured, then squeezed by Boyle's law.

    `gsd` is the geometric standard deviation; `pressure_ratio` the absolute pressure at which the resin set over the
    one at which it was poured. Eight times the pressure halves every diameter:

    >>> population(2, 0.6, 1.0, pressure_ratio=8.0, rng=np.random.default_rng(0)).round(6).tolist()
    [0.3, 0.3]
    """
    poured = median_mm * np.exp(rng.normal(size=count) * np.log(gsd))
    return np.asarray(poured * pressure_ratio ** (-1 / 3))


def cup(
    diameter_mm: ArrayLike, *, mm_per_px: float, gap_px: float = 3.0, rng: np.random.Generator, **scene: Any
) -> Scene:
    """Return a round casting with voids of these diameters (mm) at random places.

    No two silhouettes come nearer than `gap_px`; a negative gap lets them overlap. A void that finds no place is left
    out. `scene` holds further fields of the Scene.
    """
    bare = Scene(**scene)
    diameters = np.sort(np.asarray(diameter_mm, np.float64).ravel())[::-1] / mm_per_px  # the large ones find room first
    middle = np.array([bare.width_px - 1, bare.height_px - 1]) / 2
    places: list[tuple[float, float, float]] = []
    for diameter in diameters:
        spot = _spot(np.array(places).reshape(-1, 3), diameter, bare.casting_px, gap_px, rng)
        if spot is not None:
            places.append((*spot, diameter))
    x, y, kept = np.array(places).reshape(-1, 3).T
    return Scene(**{**scene, "x_px": x + middle[0], "y_px": y + middle[1], "diameter_px": kept})


def _spot(
    taken: Floats, diameter: float, casting_px: float, gap_px: float, rng: np.random.Generator
) -> tuple[float, float] | None:
    """Return a place, from the casting's middle, clear of the rim and of `taken` (x, y, diameter), or None."""
    room = casting_px - EDGE_PX - diameter / 2
    if room <= 0:
        return None
    for _ in range(TRIES):
        away, angle = room * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
        x, y = float(away * np.cos(angle)), float(away * np.sin(angle))
        if np.all(np.hypot(taken[:, 0] - x, taken[:, 1] - y) >= (taken[:, 2] + diameter) / 2 + gap_px):
            return x, y
    return None
