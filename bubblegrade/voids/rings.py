"""What a void's ring looks like to a camera: the darkness of optics.py, blurred."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import i0e

from bubblegrade import optics

Floats = NDArray[np.float32]
Places = NDArray[np.float64]

BLURS: Final = np.geomspace(0.02, 1.3, 18)  # standard deviation of the blur over the void's radius
LOG_STEP: Final = float(np.log(BLURS[1] / BLURS[0]))
REACH: Final = 2.2  # radii from the centre up to which a ring is held; beyond it is 0
STEPS_A_RADIUS: Final = 100
FAINTEST: Final = 1e-9  # darkness: less is 0, since numbers near the least that can be held slow every sum
SOURCE: Final = (np.arange(250) + 0.5) / 250  # radii at which the sharp ring is evaluated
DISC_RADIUS: Final = 2.0  # of an even disc over the standard deviation of its spread along one direction
SOFT_EDGE: Final = np.linspace(0.7, 1.3, 13)  # radii of the discs over their middle's: pixels and lens soften the edge
PLACES: Final = np.arange(round(REACH * STEPS_A_RADIUS) + 1) / STEPS_A_RADIUS


class Spread(Enum):
    """How a blur spreads a point."""

    GAUSSIAN = "gaussian"
    DISC = "disc"  # an aperture's, out of focus


@dataclass(frozen=True, eq=False)
class Spots:
    """Places in a table of rings, whatever its light."""

    cell: NDArray[np.intp]  # (N, M) of the flat table: of the blur below and the place before
    part: Floats  # (N, M) of the way from there to the next place
    beyond: Floats  # (N, 1) ln(blur) over the blur below

    @classmethod
    def of(cls, blur: Floats, rho: Floats) -> Spots:
        """Return those of N rings, `blur` (N,) and `rho` (N, M) as in `RingTable.at`."""
        low, beyond = _rows(blur)
        cell, part = _columns(rho)
        return cls(cell + low[:, None] * len(PLACES), part, beyond)


def _rows(blur: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Return the blurs below some, (N,), and ln(blur) over them, (N, 1)."""
    row = np.clip(np.log(blur / BLURS[0]) / LOG_STEP, 0, len(BLURS) - 1.001)
    low = row.astype(np.intp)
    return low, ((row - low) * LOG_STEP).astype(np.float32)[:, None]


def _columns(rho: Floats) -> tuple[NDArray[np.intp], Floats]:
    """Return the places before some, and the part of the way from there to the next."""
    part = np.clip(rho * np.float32(STEPS_A_RADIUS), 0, np.float32(len(PLACES) - 1.001))
    cell = part.astype(np.intp)
    part -= np.trunc(part)
    return cell, part


@dataclass(frozen=True, eq=False)
class RingTable:
    """Darkness by blur and distance from the centre, for one light."""

    theta: float  # half-angle of the light inside the resin, radians
    wall: float  # light through the side walls over the direct light
    values: Floats  # (blurs, places)
    mean_darkness: float  # of the sharp ring over the silhouette; blur spreads it but keeps the sum
    slopes: Floats  # (blurs - 1, places) by ln(blur), between neighbouring blurs

    def at(self, blur: Floats, rho: Floats) -> tuple[Floats, Floats, Floats]:
        """Return darkness and its slopes.

        Parameters
        ----------
        blur
            (N,) standard deviation of the blur over the radius.
        rho
            (N, M) distances from the centre over the radius.

        Returns
        -------
        darkness, its derivative by rho, and by ln(blur); each (N, M).
        """
        low, beyond = _rows(blur)
        steep = self.slopes[low]
        mixed = steep * beyond
        mixed += self.values[low]
        cell, place = _columns(rho)
        cell += (np.arange(len(blur)) * len(PLACES))[:, None]
        here, there = mixed.ravel().take(cell, mode="clip"), mixed.ravel()[1:].take(cell, mode="clip")
        there -= here
        place *= there
        place += here
        there *= np.float32(STEPS_A_RADIUS)
        return place, there, steep.ravel().take(cell, mode="clip")

    def darkness(self, spots: Spots) -> Floats:
        """Return the darkness that `at` returns, (N, M), of places that are asked for in many lights."""
        here, there = (
            self.slopes.ravel().take(cell) * spots.beyond + self.values.ravel().take(cell)
            for cell in (spots.cell, spots.cell + 1)
        )
        there -= here
        there *= spots.part
        there += here
        return np.asarray(there)


@lru_cache(maxsize=128)  # those that are tried for a photograph's light serve the next one too
def ring_table(
    theta: float, wall: float, *, index: float = optics.USUAL_INDEX, spread: Spread = Spread.GAUSSIAN
) -> RingTable:
    """Return the blurred rings for a light of half-angle `theta` (radians) and `wall` (share of the direct light)."""
    sharp = optics.darkness(SOURCE, theta, wall=wall, index=index).astype(np.float32)
    mean = float(np.sum(sharp * SOURCE) / np.sum(SOURCE))
    values = _spreading(spread) @ sharp
    values[values < FAINTEST] = 0.0
    slopes = (np.diff(values, axis=0) / LOG_STEP).astype(np.float32)
    return RingTable(theta=theta, wall=wall, values=values, mean_darkness=mean, slopes=slopes)


@lru_cache(maxsize=len(Spread))
def _spreading(spread: Spread) -> Floats:
    """Return (blurs, places, source radii): how a thin circle of source radius b is spread by a blur."""
    by = {Spread.GAUSSIAN: _by_gaussian, Spread.DISC: _by_soft_disc}[spread]
    return np.asarray(by(BLURS[:, None, None], PLACES[None, :, None], SOURCE[None, None, :]) / len(SOURCE), np.float32)


def _by_gaussian(blur: Places, rho: Places, b: Places) -> Places:
    """Return the density at `rho` of a circle of radius `b`.

    A Gaussian of standard deviation s turns the circle b db into
    (b / s^2) exp(-(rho^2 + b^2) / 2 s^2) I0(rho b / s^2) db.
    """
    bell = np.exp(-((rho - b) ** 2) / (2 * blur**2)) * i0e(rho * b / blur**2)
    return np.asarray(bell * b / blur**2)


def _by_soft_disc(blur: Places, rho: Places, b: Places) -> Places:
    """Return the same for a disc whose radius is DISC_RADIUS blurs, its edge somewhat soft.

    A disc of radius r turns the circle b db into 2 b acos((rho^2 + b^2 - r^2) / 2 rho b) / (pi r^2) db: that part of
    it lies within r.
    """
    rho = np.maximum(rho, 0.25 / STEPS_A_RADIUS)
    arcs = [
        np.arccos(np.clip((rho**2 + b**2 - r**2) / (2 * rho * b), -1.0, 1.0)) / r**2
        for r in DISC_RADIUS * SOFT_EDGE[:, None, None, None] * blur
    ]
    return np.asarray(np.mean(arcs, axis=0) * 2 * b / np.pi)
