"""History: which steps hold, and which one undo and redo would take."""

from __future__ import annotations

from collections.abc import Sequence

from bubblegrade.corrected.changes import Redone, Step, Undone


def holding(steps: Sequence[Step]) -> tuple[Step, ...]:
    """Return the changes that hold after all `steps`, in their order.

    >>> from bubblegrade.corrected.changes import Removed
    >>> [step.number for step in holding([Step(1, "Ann", Removed("v0")), Step(2, "Ann", Undone(1))])]
    []
    """
    off = _off(steps)
    return tuple(step for step in steps if not isinstance(step.did, Undone | Redone) and step.number not in off)


def to_undo(steps: Sequence[Step]) -> int | None:
    """Return the number of the latest change that holds; None where none does."""
    held = holding(steps)
    return held[-1].number if held else None


def to_redo(steps: Sequence[Step]) -> int | None:
    """Return the number of the change that was undone last; None once something else was changed since."""
    last = max((place for place, step in enumerate(steps) if not isinstance(step.did, Undone | Redone)), default=-1)
    undone: list[int] = []
    for step in steps[last + 1 :]:
        if isinstance(step.did, Undone):
            undone.append(step.did.of)
        elif undone:
            undone.pop()
    return undone[-1] if undone else None


def _off(steps: Sequence[Step]) -> set[int]:
    """Return the numbers of the changes that do not hold."""
    off: set[int] = set()
    for step in steps:
        if isinstance(step.did, Undone):
            off.add(step.did.of)
        elif isinstance(step.did, Redone):
            off.discard(step.did.of)
    return off
