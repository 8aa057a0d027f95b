"""The finds of a piece that count against its limits, each with how far its diameter may be off."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.grading.estimate import NORMAL_95
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.limits import Length, Unsure
from bubblegrade.inspection.seen import Seen
from bubblegrade.voids.kinds import DRAWN_OUT
from bubblegrade.voids.table import Voids, stacked

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

UNSURE_ERR: Final = 0.15  # of the diameter of a find without an uncertainty: its dark area is known, its rim is not
RIM_ITSELF: Final = 1.15  # a find no wider than this over the width of the dark around it
SAME: Final = 1.5  # a disc found twice is up to so many times as wide as its twin
CROWD: Final = 2  # counted voids in a ring: their own borders make it up, as in half of 108 where there was no void
POINTS: Final = 64  # in a disc by which its share within a zone is told
GOLDEN: Final = math.pi * (3.0 - math.sqrt(5.0))


@dataclass(frozen=True, eq=False)
class Finds:
    """N finds that count, or may count, as voids; lengths in px."""

    x_px: Floats
    y_px: Floats
    diameter_px: Floats
    diameter_err_px: Floats
    sure: Mask  # False for finds that may be no voids

    def __len__(self) -> int:
        """Return the number of finds."""
        return len(self.x_px)

    def __getitem__(self, rows: Mask | NDArray[np.intp]) -> Finds:
        """Return the chosen rows as a table of their own."""
        return Finds(**{each.name: getattr(self, each.name)[rows] for each in fields(self)})

    @property
    def places_px(self) -> Floats:
        """Centres, (N, 2) x, y."""
        return np.stack([self.x_px, self.y_px], axis=1)

    @property
    def discs_px(self) -> Floats:
        """Points spread evenly over each silhouette, the last of them around its border, (N, POINTS, 2)."""
        return discs_px(self.x_px, self.y_px, self.diameter_px)

    @property
    def areas_px(self) -> Floats:
        """Areas of the silhouettes."""
        return np.asarray(np.pi / 4 * self.diameter_px**2)


def discs_px(x_px: Floats, y_px: Floats, diameter_px: Floats) -> Floats:
    """Return points spread evenly over each of N silhouettes, the last of them around its border, (N, POINTS, 2)."""
    step = np.arange(POINTS)
    spiral = np.sqrt((step + 0.5) / POINTS) * np.exp(1j * GOLDEN * step)
    reach = diameter_px[:, None] / 2 * spiral
    return np.stack([x_px[:, None] + reach.real, y_px[:, None] + reach.imag], axis=2)


def finds_of(casting: Casting, seen: Seen, unsure: Unsure) -> Finds:
    """Return the voids, and as the maker wants them the unsure finds.

    To these belong broken rings, what bulges from the rim and what is dark beside it or hardware.
    """
    voids, rings = casting.voids, seen.rings_px
    rings = rings[~_within(rings, np.stack([voids.x_px, voids.y_px, voids.diameter_px], axis=1))]
    rings = rings[_holding(rings, voids) < CROWD]
    flakes = casting.set_aside[casting.set_aside.kind == "flake"]
    bulges = seen.bulges_px[~_within(seen.bulges_px, np.stack([flakes.x_px, flakes.y_px, flakes.diameter_px], axis=1))]
    x, y, diameter = np.concatenate([bulges, rings, seen.beside_px]).T
    aside = casting.set_aside[casting.set_aside.kind == "unsure"]
    arcs = _within(np.stack([aside.x_px, aside.y_px, aside.diameter_px], axis=1), rings)
    doubtful = stacked([aside[~_unjudged(aside, seen) & ~arcs], Voids.of(x_px=x, y_px=y, diameter_px=diameter)])
    table = casting.voids if unsure == "ignore" else stacked([casting.voids, doubtful])
    sure = np.ones(len(table), bool)
    if unsure == "look again":
        sure[len(casting.voids) :] = False
    return Finds(table.x_px, table.y_px, table.diameter_px, _errs(table), sure)


def _within(some: Floats, others: Floats) -> Mask:
    """Say which of some discs, (N, 3) x, y and diameter, are no larger than one of the others that holds their middle.

    A disc found twice is never the same to the px: it is within its twin where it is up to SAME times as wide.
    """
    away = np.hypot(some[:, None, 0] - others[:, 0], some[:, None, 1] - others[:, 1])
    smaller = some[:, None, 2] <= SAME * others[:, 2]
    return np.asarray((smaller & (away <= others[:, 2] / 2)).any(axis=1))


def _holding(rings: Floats, voids: Voids) -> NDArray[np.intp]:
    """Return how many counted voids have their middles in each ring, (N, 3) x, y and diameter."""
    away = np.hypot(rings[:, None, 0] - voids.x_px, rings[:, None, 1] - voids.y_px)
    return np.asarray(np.count_nonzero(away <= rings[:, None, 2] / 2, axis=1))


def _unjudged(table: Voids, seen: Seen) -> Mask:
    """Say which marks are but the drawn-out dark where nothing can be judged: what may lie there is told elsewhere."""
    wide = seen.at(seen.unseen, np.stack([table.x_px, table.y_px], axis=1)) / 2
    return np.asarray(
        (table.reason == DRAWN_OUT) & (wide > 0) & (table.diameter_px <= RIM_ITSELF * wide + 2 * seen.step_px)
    )


def _errs(table: Voids) -> Floats:
    errs = table.diameter_err_px
    return np.where(np.isfinite(errs), errs, UNSURE_ERR * table.diameter_px)


@dataclass(frozen=True)
class Ruler:
    """From px to the unit of a limit, with the scale's uncertainty."""

    mm_per_px: float = math.nan
    mm_per_px_err: float = 0.0

    @classmethod
    def of(cls, casting: Casting) -> Ruler:
        """Return the ruler of a casting's voids."""
        scale = casting.void_scale
        return cls() if scale is None else cls(scale.mm_per_px, scale.mm_per_px_err)

    def read(self, value_px: Floats, limit: Length) -> Floats:
        """Return lengths in px in the limit's unit."""
        return value_px if limit.unit == "px" else value_px * self.mm_per_px

    def bounds(self, value_px: Floats, err_px: Floats, limit: Length) -> tuple[Floats, Floats]:
        """Return the limits of the 95 % intervals of lengths, in the limit's unit, not below 0."""
        factor, off = (1.0, 0.0) if limit.unit == "px" else (self.mm_per_px, self.mm_per_px_err / self.mm_per_px)
        reach = NORMAL_95 * factor * np.hypot(err_px, np.where(np.isfinite(value_px), value_px, 0.0) * off)
        value = factor * value_px
        return np.maximum(value - reach, 0.0), value + reach

    def around_px(self, limit: Length, err_px: float) -> tuple[float, float]:
        """Return the limits of the 95 % interval of a limit as a distance in px that is measured to `err_px`."""
        value = limit.px(self.mm_per_px)
        low, high = self.bounds(np.array(value), np.array(err_px), limit)
        return float(low) * value / limit.value, float(high) * value / limit.value
