"""Which voids of a piece come again in a later photograph, and which are new or gone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.grading.record import Casting
from bubblegrade.voids.again import Turn, begun_turn, find_turn, match_pairs, middle_of
from bubblegrade.voids.table import Voids

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]
Areas = Sequence[Sequence[tuple[float, float]]]  # corners of each, x and y in px

NEAR_SHARE: Final = 0.004  # of the casting's size: how near a void must come again
SAME_PLACE: Final = 0.3  # of its diameter: so near comes the middle of a void again, however far it grew
WELL_OVER: Final = 1.25  # of the smallest countable size: below it a void may be missed or found by chance


def turn_between(earlier: Casting, later: Casting) -> Turn | None:
    """Return how the piece lies in the later photograph, also from another distance; None if it does not."""
    begun = begun_turn((earlier.outline_px, later.outline_px), (earlier.shape_px, later.shape_px))
    return find_turn(
        earlier.voids, later.voids, begun=begun, middle=middle_of(earlier.outline_px, earlier.shape_px),
        size_px=math.sqrt(earlier.judged_area_px),
    )  # fmt: skip


def come_again(earlier: Casting, later: Casting, turn: Turn, left_out: tuple[Areas, Areas]) -> tuple[Rows, Rows, Rows]:
    """Return the pairs of voids, (n, 2) rows of the earlier and the later ones, then the rows gone and the rows new.

    `left_out` are areas of either photograph of which a person said that no void counts there.
    """
    zoom = abs(turn.scale_turn)
    near = NEAR_SHARE * math.sqrt(earlier.judged_area_px) * zoom
    pairs = match_pairs(_rescaled(earlier.voids, zoom), later.voids, _unscaled(turn), near_px=near)
    gone, new = _unmatched(earlier, later, turn, pairs, left_out)
    return _with_far_grown((earlier.voids, later.voids), turn, pairs, gone, new)


def _rescaled(voids: Voids, zoom: float) -> Voids:
    """Return voids as a photograph `zoom` times as large shows them."""
    return replace(
        voids, x_px=zoom * voids.x_px, y_px=zoom * voids.y_px, diameter_px=zoom * voids.diameter_px,
        diameter_err_px=zoom * voids.diameter_err_px,
    )  # fmt: skip


def _unscaled(turn: Turn) -> Turn:
    """Return the turn for voids that are rescaled already."""
    return replace(turn, scale_turn=turn.scale_turn / abs(turn.scale_turn))


def _unmatched(
    earlier: Casting, later: Casting, turn: Turn, pairs: Rows, left_out: tuple[Areas, Areas]
) -> tuple[Rows, Rows]:
    """Return the earlier voids that are gone and the later ones that are new.

    Only those count that lie where the other photograph is judged too, and well over its smallest countable size.
    """
    zoom = abs(turn.scale_turn)
    there = turn.places(earlier.voids.x_px, earlier.voids.y_px)
    back = (later.voids.x_px + 1j * later.voids.y_px - turn.shift) / turn.scale_turn
    gone = ~np.isin(np.arange(len(earlier.voids)), pairs[:, 0])
    gone &= _shown(later, there, left_out[1]) & (zoom * earlier.voids.diameter_px > WELL_OVER * later.sizes_px.smallest)
    new = ~np.isin(np.arange(len(later.voids)), pairs[:, 1])
    new &= _shown(earlier, np.stack([back.real, back.imag], axis=1), left_out[0])
    new &= later.voids.diameter_px / zoom > WELL_OVER * earlier.sizes_px.smallest
    return np.flatnonzero(gone), np.flatnonzero(new)


def _with_far_grown(
    voids: tuple[Voids, Voids], turn: Turn, pairs: Rows, gone: Rows, new: Rows
) -> tuple[Rows, Rows, Rows]:
    """Return the pairs with voids that grew too far to be matched, and those that are gone and new without them.

    What is new where one is gone, its middle in the same place, is that one grown.
    """
    before, after = voids[0][gone], voids[1][new]
    there = turn.places(before.x_px, before.y_px)
    off = np.hypot(there[:, 0, None] - after.x_px, there[:, 1, None] - after.y_px)
    same = (off < SAME_PLACE * after.diameter_px) & (
        after.diameter_px > abs(turn.scale_turn * before.diameter_px[:, None])
    )
    same &= (same.sum(axis=0) == 1) & (same.sum(axis=1) == 1)[:, None]
    rows, cols = np.nonzero(same)
    grown = np.stack([gone[rows], new[cols]], axis=1)
    return np.concatenate([pairs, grown]), np.delete(gone, rows), np.delete(new, cols)


def _shown(casting: Casting, places: Floats, left_out: Areas) -> NDArray[np.bool_]:
    """Say which places lie within a casting's judged borders, counting holes as outside, and in no area left out."""
    within = np.zeros(len(places), bool)
    for border in casting.judged_px:
        within ^= _inside(border, places)
    for corners in left_out:
        within &= ~_inside(np.array(corners, np.float64), places)
    return within


def _inside(border: Floats, places: Floats) -> NDArray[np.bool_]:
    """Say which places lie within a closed line."""
    x0, y0 = border.T
    x1, y1 = np.roll(border, -1, axis=0).T
    x, y = places[:, 0, None], places[:, 1, None]
    over = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = x < (x1 - x0) * (y - y0) / (y1 - y0) + x0
    return np.asarray((over & crossing).sum(axis=1) % 2 == 1)
