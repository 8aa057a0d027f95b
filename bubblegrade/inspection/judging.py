"""A graded photograph of a piece held against its maker's limits.

Zones that depend on which way the piece lies are tried in every way that cannot be ruled out; where the verdict depends
on it, the piece is to be looked at again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.fitness.outlined import doubts
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.borders import border_of
from bubblegrade.inspection.finds import POINTS, Finds, Ruler, finds_of
from bubblegrade.inspection.frame import Frame, Lie, lie_of
from bubblegrade.inspection.limits import Limits, Zone
from bubblegrade.inspection.rules import RULES, Look, hidden
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.shapes import AroundHardware, Everywhere, Placed, inside, needs_length
from bubblegrade.inspection.verdicts import Fault, Judgement, Verdict, ZoneSummary, worst, wrong
from bubblegrade.units import count_of

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

NEAREST_PX: Final = 1.0  # of a find to the mark of the mould that it is


def judge(casting: Casting, seen: Seen, limits: Limits, *, mould_px: Floats | None = None) -> Judgement:
    """Return what a graded photograph is to the limits.

    Parameters
    ----------
    casting
        Graded, with an outline.
    seen
        What `seen.seen` says of it.
    limits
        The maker's; with a scale if any of them is in millimetres.
    mould_px
        (N, 3) x, y and diameter of finds that are the mould's and no voids; None for none.
    """
    lie = lie_of(casting.outline_px, seen.hardware_px, limits.head, limits.belly)
    found = finds_of(casting, seen, limits.unsure)
    in_resin, loops = _in_resin(found, casting.outline_px, lie.body_px)
    finds, marks = _without(in_resin, mould_px)
    breaks = seen.fitting_breaks_px if limits.unsure != "ignore" else seen.breaks_px[:0]
    held = _Held(casting, seen, Ruler.of(casting), finds, breaks, lie.circle)
    placed = any(isinstance(zone.shape, Placed) for zone in limits.zones)
    frames: Sequence[Frame | None] = (lie.frames if placed else lie.frames[:1]) or (None,)
    ways = [_one_way(held, limits, frame) for frame in frames]
    verdicts = {verdict for verdict, *_ in ways}
    chosen = max(range(len(ways)), key=lambda i: (ways[i][0] is worst(verdicts), -i))
    verdict, faults, zones, outside = ways[chosen]
    general = _general(casting, lie, limits)
    if len(verdicts) > 1:
        general.append(_either(lie, verdicts))
    if len(verdicts) > 1 or casting.unfit:
        verdict, faults = Verdict.AGAIN, tuple(_doubted(fault) for fault in faults)
    elif len(ways) > 1 and faults:
        outside = (
            *outside,
            f"{_untold(lie)} cannot be told: the verdict is the same either way, its reasons may not be",
        )
    faults = (*general, *faults)
    return Judgement(
        verdict=worst([verdict, *(fault.verdict for fault in faults)]),
        faults=tuple(sorted(faults, key=lambda fault: fault.verdict is not Verdict.FAIL)),
        zones=zones,
        frame=frames[chosen],
        lie=lie,
        seen=seen,
        finds=in_resin,
        remarks=(*outside, *loops, *marks, *doubts(casting.fitness)),
    )


@dataclass(frozen=True, eq=False)
class _Held:
    """What every zone of a photograph shares."""

    casting: Casting
    seen: Seen
    ruler: Ruler
    finds: Finds
    breaks_px: Floats  # (N, 3) of the dark rim that are held against the limits
    circle: Frame  # for what can be placed on a piece without a length

    @cached_property
    def free(self) -> Mask:
        """Which of the piece's squares are no hardware, (N,)."""
        return np.asarray(~self.seen.solid.take(self.seen.squares))

    @cached_property
    def judged(self) -> Mask:
        """Which of them are judged."""
        return np.asarray(self.seen.judged.take(self.seen.squares) & self.free)

    @cached_property
    def unseen(self) -> Floats:
        """Diameter of the largest void that may lie unseen at each of them, in px."""
        return self.seen.unseen.take(self.seen.squares)

    @cached_property
    def points(self) -> Floats:
        """Points of the finds' silhouettes, (finds * POINTS, 2) x, y in px."""
        return self.finds.discs_px.reshape(-1, 2)


@dataclass(frozen=True, eq=False)
class _Placed:
    """Where squares, points of finds and breaks of the rim lie along and across."""

    squares: Floats  # (N, 2), as the others
    points: Floats
    breaks: Floats

    @classmethod
    def of(cls, held: _Held, frame: Frame | None) -> _Placed:
        """Return the places in one way in which the piece may lie."""
        all_px = (held.seen.squares_px, held.points, held.breaks_px[:, :2])
        return cls(*((frame or held.circle).fractions(one) for one in all_px))


def _one_way(
    held: _Held, limits: Limits, frame: Frame | None
) -> tuple[Verdict, tuple[Fault, ...], tuple[ZoneSummary, ...], tuple[str, ...]]:
    """Return verdict, faults, zones and remarks for one way in which the piece may lie."""
    faults: list[Fault] = []
    looks = []
    outside = np.ones(len(held.finds), bool)
    placed = _Placed.of(held, frame)
    for zone in limits.zones:
        if frame is None and needs_length(zone.shape):
            continue
        if isinstance(zone.shape, AroundHardware) and not held.seen.solid.any():
            reason = "no hardware was found: look whether there is any, or leave the zone out"
            faults.append(wrong(Verdict.AGAIN, zone.name, "hardware", reason))
            continue
        look = _look(held, zone, placed)
        outside &= ~look.reaching
        looks.append(look)
        faults += [fault for rule in RULES for fault in rule(look)]
    lost = int(outside.sum())
    remarks = [f"in no zone: {lost} of {count_of(len(outside), 'find')}, held against nothing"] if lost else []
    return (
        worst(fault.verdict for fault in faults),
        tuple(faults),
        tuple(look.summary for look in looks),
        (*remarks, *hidden(looks)),
    )


def _within(zone: Zone, places: Floats, from_solid_px: Callable[[], Floats], ruler: Ruler) -> Mask:
    """Say for (N, 2) places along and across, so far from hardware, whether each lies in a zone."""
    if isinstance(zone.shape, Everywhere):
        return np.ones(len(places), bool)
    if isinstance(zone.shape, AroundHardware):
        return np.asarray(from_solid_px() <= zone.shape.margin.px(ruler.mm_per_px))
    return zone.shape.holds(places)


def _look(held: _Held, zone: Zone, placed: _Placed) -> Look:
    """Return a zone with the finds that reach into it."""
    seen, finds = held.seen, held.finds
    step_area = float(seen.step_px**2)
    taken = _within(zone, placed.squares, lambda: seen.from_solid.take(seen.squares), held.ruler)
    in_grid = taken & held.free
    points_in = _within(zone, placed.points, lambda: seen.at(seen.from_solid, held.points), held.ruler)
    shares = points_in.reshape(len(finds), POINTS).mean(axis=1)
    reaching = shares > 0
    inside = finds[reaching]
    area = float(np.count_nonzero(held.judged & in_grid)) * step_area
    covered = inside.areas_px * shares[reaching]
    errs = 2 * covered * inside.diameter_err_px / inside.diameter_px
    sure = inside.diameter_px[inside.sure]
    summary = ZoneSummary(
        zone=zone.name,
        count=len(sure),
        largest_px=float(sure.max()) if len(sure) else math.nan,
        cover_share=float(covered[inside.sure].sum()) / area if area else math.nan,
        cover_err=float(errs.sum()) / area if area else math.nan,  # light and index are off for all alike
        area_px=float(np.count_nonzero(in_grid)) * step_area,
        judged_px=area,
        unseen_px=float(held.unseen[in_grid].max(initial=0.0)),
        border_px=border_of(taken, seen),
    )
    possible = float(covered.sum()) / area if area else math.nan
    broken = _within(zone, placed.breaks, lambda: seen.at(seen.from_solid, held.breaks_px[:, :2]), held.ruler)
    breaks = held.breaks_px[broken]
    return Look(zone, inside, finds, reaching, summary, possible, breaks, held.casting, seen, held.ruler)


def _general(casting: Casting, lie: Lie, limits: Limits) -> list[Fault]:
    """Return what keeps the whole photograph from being judged."""
    faults = [wrong(Verdict.AGAIN, "", "unfit", f"unfit photograph, {reason}") for reason in casting.unfit]
    lost = [zone.name for zone in limits.zones if needs_length(zone.shape)]
    if lost and not lie.frames:
        reason = (
            f"the piece is too round to tell its length, by which {', '.join(lost)} would be placed: use zones over "
            "all of it, or ovals with middle = [0.5, 0.5] and both halves alike"
        )
        faults.append(wrong(Verdict.AGAIN, "", "frame", reason))
    return faults


def _either(lie: Lie, verdicts: set[Verdict]) -> Fault:
    """Return the doubt that which way the piece lies cannot be told and matters."""
    reason = (
        f"{_untold(lie)} cannot be told, and the verdict hangs on it ({' or '.join(sorted(verdicts))}): say in the "
        "limits where it lies"
    )
    return wrong(Verdict.AGAIN, "", "frame", reason)


def _untold(lie: Lie) -> str:
    """Return what of a piece's lie is not told, in words."""
    return " and ".join(f"the {word}" for word, by in (("head", lie.head_by), ("belly", lie.belly_by)) if not by)


def _doubted(fault: Fault) -> Fault:
    """Return a fault that is none for certain: the photograph is unfit, or it hangs on which way the piece lies."""
    return replace(fault, verdict=Verdict.AGAIN)


def _in_resin(finds: Finds, outline_px: Floats, body_px: Floats) -> tuple[Finds, tuple[str, ...]]:
    """Return the finds that lie in no loop of wire, and a remark on those that do: an opening looks like a void."""
    if body_px is outline_px:
        return finds, ()
    in_loop = inside(finds.places_px, outline_px) & ~inside(finds.places_px, body_px)
    if not in_loop.any():
        return finds, ()
    lost = count_of(int(in_loop.sum()), "find")
    return finds[~in_loop], (f"in loops or ends of wire at the outline, held against nothing: {lost}",)


def _without(finds: Finds, mould_px: Floats | None) -> tuple[Finds, tuple[str, ...]]:
    """Return the finds that are not the mould's marks, and a remark on those that are."""
    if mould_px is None or not len(mould_px):
        return finds, ()
    away = np.hypot(finds.x_px[:, None] - mould_px[:, 0], finds.y_px[:, None] - mould_px[:, 1])
    own = np.asarray((away <= NEAREST_PX).any(axis=1))
    if not own.any():
        return finds, ()
    return finds[~own], (f"the mould's, at places that repeat from piece to piece: {count_of(int(own.sum()), 'mark')}",)
