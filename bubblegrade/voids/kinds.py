"""What is dark and no void: flake, fibre, pit, scratch, hardware, unsure; each with its reason."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.quantiles import median
from bubblegrade.voids.marks import Marks, mark_under
from bubblegrade.voids.naming import MARK_KINDS
from bubblegrade.voids.scattered import depth_of, depths_of
from bubblegrade.voids.table import Voids, stacked

Floats = NDArray[np.float32]
Places = NDArray[np.intp]
Mask = NDArray[np.bool_]
BorderOf = Callable[[Floats, Floats], Floats]  # distance from the border of what is judged, px, of (N,) x and y

SURE: Final = 0.5  # probability from which a mark has a name, and
DISMISSED: Final = 0.7  # from which a compact one is nothing: of those less likely nothing one in seven lies on a void
WIRE_LENGTH: Final = 0.6  # of the casting's size: a wire through it is longer,
WIRE_DARK: Final = 0.7  # and darker,
WELL_WITHIN: Final = 1.5  # and half of it so many widths from the border: its dark lines had up to 0.8, wires 2.2 up
WIRE_PX: Final = 6.0  # least width of hardware: a thinner line may be a scratch, or a piece of the dark border
WIRE_SURE: Final = 0.9  # all of 57 in 1,088 traced photographs that the namer was less sure of were wires
TINY: Final = 1e-6  # likelihood of all other kinds of what is surely hardware
MOST_SURE: Final = 1e-6  # short of 1: no name is surer
NAMED_ODDS: Final = (
    0.7  # times the root of the namer's odds are those of a name that is right (tests/benchmarks/README.md)
)
COMPACT_AREA_PX: Final = 20  # of a mark without a name, a disc of 5 px; a smaller one may be a void too small to count
UNNAMED: Final = "dark, but neither a clear ring nor a clear mark"
DRAWN_OUT: Final = "dark and drawn out, no clear mark: what lies in it cannot be told"
SLENDER: Final = 0.5  # thickness over the diameter of a disc as large: what is less holds no void of that diameter
BODY_NECK: Final = 1 / 3  # of the greatest depth: what is nowhere thinner between two cores holds them together
BODY_RIM: Final = 0.6  # of the greatest depth: how far a body reaches beyond its core, which is its deeper half
BODY_REST: Final = 0.25  # of a mark: a larger rest beside the bodies has a row of its own

_KIND: Final = {"speck": "fibre", "void": "unsure"}  # dust is listed with the fibres
_LOOKS: Final[dict[str, Callable[[float, float, float], str]]] = {
    "flake": lambda _, __, dark: f"flat and opaque ({100 * dark:.0f} % dark), no bright core",
    "fibre": lambda long, thick, _: f"{long:.0f} px long, {thick:.0f} px thick",
    "speck": lambda _, __, dark: f"compact speck of dust ({100 * dark:.0f} % dark)",
    "pit": lambda _, __, ___: "dent in the surface: shaded unevenly, dark on one side",
    "scratch": lambda long, _, __: f"groove in the surface, {long:.0f} px long",
    "hardware": lambda _, thick, __: f"solid, up to {thick:.0f} px thick",
}


def with_wires(marks: Marks, likely: Floats, border_of: BorderOf, casting_px: float) -> Floats:
    """Return how likely each kind of N marks is, `likely`, with dark bars through the casting as hardware.

    A wire from end to end, straight or with a hanger that branches from it, is a mark such as the namer has seen few
    of. A casting's dark border is as long, even closed to a ring around the middle, but lies at the border: `border_of`
    tells for (N,) x and y how far each place is from it, px. Fibres that cross are thick in few places only. What is
    finer than wire and most likely hardware is the likeliest of the rest. `casting_px` is the root of the casting's
    area.
    """
    hardware = np.array([kind == "hardware" for kind in MARK_KINDS])
    fine = (marks.width_px < WIRE_PX) & hardware[likely.argmax(axis=1)]
    rest = np.where(hardware, np.float32(0), likely)
    rest /= np.maximum(rest.sum(axis=1, keepdims=True), np.float32(TINY))
    likely = np.where(fine[:, None], rest, likely)
    bars = (marks.length_px > WIRE_LENGTH * casting_px) & (marks.mean > WIRE_DARK) & (marks.width_px > WIRE_PX)
    bars &= likely[:, hardware].sum(axis=1) < WIRE_SURE
    for i in np.flatnonzero(bars):
        mask, rows, cols, left, top = _alone(marks, i)
        away = border_of((cols + left).astype(np.float32), (rows + top).astype(np.float32))
        usual_px = 4 * (median(depths_of(mask, rows, cols)) - 0.5)  # depths count from the pixel beside a bar
        bars[i] = usual_px > WIRE_PX and median(away) > WELL_WITHIN * marks.width_px[i]
    wire = np.where(hardware, WIRE_SURE, (1 - WIRE_SURE) / (len(MARK_KINDS) - 1)).astype(np.float32)
    return np.where(bars[:, None], wire, likely)


def set_aside(marks: Marks, likely: Floats, doubtful: Voids) -> tuple[Voids, Mask]:
    """Return all that is no counted void, and the pixels of the dark marks among it.

    Parameters
    ----------
    marks
        The N dark marks.
    likely
        (N, len(MARK_KINDS)) how likely each kind is.
    doubtful
        Finds that look half like a void; those that lie on a named mark are that mark, but for a pit: what may be a
        dent or a void is unsure.
    """
    best, sure = _named(likely)
    named = sure & ~np.isin(best, ("void", "nothing"))
    diameter = np.sqrt(4 * marks.area_px / np.pi)
    slender = marks.width_px < SLENDER * diameter
    dismissed = (best == "nothing") & (likely.max(axis=1, initial=0.0) >= np.where(slender, SURE, DISMISSED))
    open_ = ~named & ~dismissed & (marks.area_px >= COMPACT_AREA_PX)
    under = mark_under(marks.under, doubtful.x_px, doubtful.y_px, doubtful.diameter_px / 2)
    named[under[(under > 0) & np.append(False, best == "pit")[under]] - 1] = False
    doubtful = doubtful[~np.append(False, named)[under]]
    under = mark_under(marks.under, doubtful.x_px, doubtful.y_px, doubtful.diameter_px / 2)
    open_[under[under > 0] - 1] = False
    solid = named & (best == "hardware")
    drawn_out = open_ & slender
    listed = np.flatnonzero((named | open_) & ~solid & ~drawn_out)
    table = Voids.of(
        x_px=marks.x_px[listed],
        y_px=marks.y_px[listed],
        diameter_px=diameter[listed],
        contrast=marks.mean[listed],
        kind=[_KIND.get(best[i], best[i]) if named[i] else "unsure" for i in listed],
        reason=[_reason(marks, int(i), best[i], float(likely[i].max())) if named[i] else UNNAMED for i in listed],
    )
    bodies = [_bodies(marks, int(i), float(likely[i].max())) for i in np.flatnonzero(solid)]
    bodies += [_thickest(marks, int(i)) for i in np.flatnonzero(drawn_out)]
    aside = np.zeros(marks.under.shape, bool)
    aside[marks.pixels.rows, marks.pixels.cols] = (named | open_)[marks.pixels.of]
    return stacked([doubtful, table, *bodies]), aside


def solid_of(marks: Marks, likely: Floats) -> Mask:
    """Return the pixels of hardware; `likely` as for `set_aside`."""
    best, sure = _named(likely)
    mine = np.append(sure & (best == "hardware"), False)[marks.pixels.of]
    solid = np.zeros(marks.under.shape, bool)
    solid[marks.pixels.rows[mine], marks.pixels.cols[mine]] = True
    return solid


def right_name(likely: float) -> float:
    """Return how often a name is right that the namer holds so `likely`, measured among the kinds that it was taught.

    >>> round(right_name(0.9), 2)
    0.68
    """
    odds = NAMED_ODDS * math.sqrt(likely / max(1.0 - likely, MOST_SURE))
    return odds / (1.0 + odds)


def _named(likely: Floats) -> tuple[NDArray[np.str_], Mask]:
    """Return the likeliest kind of each mark, and whether it is sure."""
    best = np.array([MARK_KINDS[i] for i in likely.argmax(axis=1)], dtype=np.str_)
    return best, likely.max(axis=1) >= SURE if len(likely) else np.zeros(0, bool)


def _thickest(marks: Marks, i: int) -> Voids:
    """Return the largest disc within a mark that is drawn out: no larger void can lie there."""
    mask, rows, cols, left, top = _alone(marks, i)
    depth = depths_of(mask, rows, cols)
    deepest = int(depth.argmax())
    return Voids.of(
        x_px=[cols[deepest] + left], y_px=[rows[deepest] + top], diameter_px=[2 * depth[deepest]],
        contrast=marks.mean[i : i + 1], kind=["unsure"], reason=[DRAWN_OUT],
    )  # fmt: skip


def _alone(marks: Marks, i: int | np.intp) -> tuple[NDArray[np.uint8], Places, Places, int, int]:
    """Return a mark by itself in the rectangle around it, its rows and columns there, and that rectangle's x and y."""
    mine = marks.pixels.of_mark(i)
    rows, cols = marks.pixels.rows[mine], marks.pixels.cols[mine]
    top, left = int(rows.min()) - 1, int(cols.min()) - 1
    mask = np.zeros((int(rows.max()) - top + 2, int(cols.max()) - left + 2), np.uint8)
    mask[rows - top, cols - left] = 1
    return mask, rows - top, cols - left, left, top


def _bodies(marks: Marks, i: int, sure: float) -> Voids:
    """Return the thick parts of a piece of hardware, and what joins them, as rows of their own.

    A wire that runs through eye and ballast makes one dark mark of all three. A line that is about half as thick as the
    thickest place is one body, however often it is a little thinner.
    """
    mask, _, _, left, top = _alone(marks, i)
    depth = depth_of(mask)
    core = depth > depth.max() / 2
    of = cv2.connectedComponents((depth > BODY_NECK * depth.max()).astype(np.uint8))[1][core]
    core_y, core_x = np.nonzero(core)
    bodies = [of == k for k in np.unique(of)]
    reach = cv2.distanceTransform((~core).astype(np.uint8), cv2.DIST_L2, 3)
    between = (mask > 0) & (reach > BODY_RIM * depth.max())
    x, y = (np.array([at[body].mean() for body in bodies]) for at in (core_x + left, core_y + top))
    diameter = np.array([2 * depth[core][body].max() for body in bodies])
    if between.sum() > BODY_REST * marks.area_px[i]:
        thin_y, thin_x = np.nonzero(between)
        x, y = np.append(x, thin_x.mean() + left), np.append(y, thin_y.mean() + top)
        diameter = np.append(diameter, np.sqrt(4 * between.sum() / np.pi))
    elif len(bodies) == 1:
        x, y, diameter = marks.x_px[i : i + 1], marks.y_px[i : i + 1], np.sqrt(4 * marks.area_px[i : i + 1] / np.pi)
    each = len(x)
    return Voids.of(
        x_px=x, y_px=y, diameter_px=diameter, contrast=np.full(each, marks.mean[i]), kind=np.full(each, "hardware"),
        reason=np.full(each, _reason(marks, i, "hardware", sure)),
    )  # fmt: skip


def _reason(marks: Marks, i: int, best: str, sure: float) -> str:
    looks = _LOOKS[best](marks.length_px[i], marks.width_px[i], marks.mean[i])
    return f"{looks}; {100 * right_name(sure):.0f} % sure"
