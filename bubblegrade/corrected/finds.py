"""Finds: all that was found in a casting, each with a name, its state and who has put it right."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.corrected.changes import HALF_PX, Added, LeftOut, Removed, Renamed, Resized, Step
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.shapes import inside
from bubblegrade.photo.scale import POINTING_PX
from bubblegrade.voids.table import Voids

BY_HAND_ERR_PX: Final = POINTING_PX * 2**0.5  # of a diameter between two points that a person sets
COLUMNS: Final = tuple(field.name for field in fields(Voids))


class State(StrEnum):
    """What becomes of a find."""

    COUNTED = "counted"
    SET_ASIDE = "set aside"
    LEFT_OUT = "left out"
    REMOVED = "removed"


@dataclass(frozen=True)
class Find:
    """One find; its columns are those of `Voids`."""

    name: str  # v and s with the row of the automatic tables, a with the number of the step that added it
    x_px: float
    y_px: float
    diameter_px: float
    diameter_err_px: float
    edge_width_px: float
    contrast: float
    judged: bool
    cut: bool
    kind: str
    reason: str
    who: str = ""  # who changed it last; empty where nobody did
    gone: bool = False
    outside: bool = False  # in an area that is not to be judged

    @property
    def state(self) -> State:
        """What becomes of it."""
        if self.gone:
            return State.REMOVED
        if self.outside:
            return State.LEFT_OUT
        return State.COUNTED if self.kind == "void" else State.SET_ASIDE


def automatic_finds(casting: Casting) -> tuple[Find, ...]:
    """Return what grading has found."""
    return (*_named("v", casting.voids), *_named("s", casting.set_aside))


def changed_finds(casting: Casting, steps: Sequence[Step]) -> tuple[Find, ...]:
    """Return what grading has found after the changes of `steps`, all of which hold.

    What is added on the bare light beside the casting is left out; in a part of the casting that could not be judged it
    counts, on the word of who saw it there.
    """
    found = {find.name: find for find in automatic_finds(casting)}
    for step in steps:
        match step.did:
            case Added() as new:
                found[f"a{step.number}"] = _added(new, step, casting)
            case Removed(name) if name in found:
                found[name] = replace(found[name], gone=True, who=step.who)
            case Resized(name, diameter) if name in found:
                found[name] = _resized(found[name], diameter, step.who, casting)
            case Renamed(name, kind) if name in found:
                found[name] = _renamed(found[name], kind, step.who)
    return _placed(tuple(found.values()), [step.did.corners for step in steps if isinstance(step.did, LeftOut)])


def voids_of(finds: Iterable[Find], state: State) -> Voids:
    """Return the finds of one state as a table."""
    chosen = [find for find in finds if find.state is state]
    return Voids.of(**{name: [getattr(find, name) for find in chosen] for name in COLUMNS})


def _named(letter: str, table: Voids) -> list[Find]:
    columns = {name: getattr(table, name).tolist() for name in COLUMNS}
    return [
        Find(f"{letter}{row}", **dict(zip(columns, cells, strict=True)))
        for row, cells in enumerate(zip(*columns.values(), strict=True))
    ]


def _added(new: Added, step: Step, casting: Casting) -> Find:
    unknown = float("nan")
    judged = _lies_in(casting.judged_px, new.x_px, new.y_px)
    beside = not judged and not _lies_in((casting.outline_px,), new.x_px, new.y_px)
    return Find(
        f"a{step.number}", new.x_px, new.y_px, new.diameter_px, BY_HAND_ERR_PX, unknown, unknown,
        judged=judged, cut=_is_cut(new.x_px, new.y_px, new.diameter_px, casting), kind=new.kind,
        reason=f"added by {step.who}", who=step.who, outside=beside,
    )  # fmt: skip


def _resized(find: Find, diameter_px: float, who: str, casting: Casting) -> Find:
    """Return a find of another diameter."""
    cut = _is_cut(find.x_px, find.y_px, diameter_px, casting)
    return replace(find, diameter_px=diameter_px, diameter_err_px=BY_HAND_ERR_PX, cut=cut, who=who)


def _lies_in(borders: Sequence[NDArray[np.float64]], x_px: float, y_px: float) -> bool:
    """Say whether a place lies in an area: within an odd number of its borders."""
    return sum(bool(inside(np.array([(x_px, y_px)]), border)[0]) for border in borders) % 2 == 1


def _is_cut(x_px: float, y_px: float, diameter_px: float, casting: Casting) -> bool:
    """Say whether the frame cuts a silhouette."""
    rows, cols = casting.shape_px
    nearest = min(x_px, y_px, cols - 1 - x_px, rows - 1 - y_px) + HALF_PX
    return nearest < diameter_px / 2


def _renamed(find: Find, kind: str, who: str) -> Find:
    """Return a find of another kind; the diameter of a mark that becomes a void was never fitted."""
    err = find.diameter_err_px if np.isfinite(find.diameter_err_px) else BY_HAND_ERR_PX
    return replace(find, kind=kind, who=who, diameter_err_px=err, reason=f"{find.kind} before, named by {who}")


def _placed(finds: tuple[Find, ...], areas: Sequence[tuple[tuple[float, float], ...]]) -> tuple[Find, ...]:
    """Return the finds, those whose centre lies in one of `areas` left out."""
    places = np.array([(find.x_px, find.y_px) for find in finds]).reshape(-1, 2)
    out = np.zeros(len(finds), bool)
    for corners in areas:
        out |= inside(places, np.array(corners))
    return tuple(replace(find, outside=True) if left else find for find, left in zip(finds, out, strict=True))
