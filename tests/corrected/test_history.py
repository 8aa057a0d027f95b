"""Undo and redo: which changes hold, whatever was taken back and forth."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.corrected.changes import Redone, Removed, Step, Undone
from bubblegrade.corrected.history import holding, to_redo, to_undo


def played(acts: list[str]) -> tuple[list[Step], list[int], list[int]]:
    """Return the steps of some acts, and two stacks as a plain editor keeps them: done and undone."""
    steps: list[Step] = []
    done: list[int] = []
    undone: list[int] = []
    for act in acts:
        number = len(steps) + 1
        if act == "undo" and done:
            undone.append(done.pop())
            steps.append(Step(number, "Ann", Undone(undone[-1])))
        elif act == "redo" and undone:
            done.append(undone.pop())
            steps.append(Step(number, "Ann", Redone(done[-1])))
        elif act == "change":
            done.append(number)
            undone.clear()
            steps.append(Step(number, "Ann", Removed(f"v{number}")))
    return steps, done, undone


@given(st.lists(st.sampled_from(["change", "undo", "redo"]), max_size=30))
def test_the_steps_give_what_two_stacks_would(acts: list[str]) -> None:
    steps, done, undone = played(acts)
    assert sorted(step.number for step in holding(steps)) == sorted(done)
    assert to_undo(steps) == (max(done) if done else None)
    assert to_redo(steps) == (undone[-1] if undone else None)


def test_nothing_done_leaves_nothing_to_take_back() -> None:
    assert holding(()) == ()
    assert to_undo(()) is None
    assert to_redo(()) is None
