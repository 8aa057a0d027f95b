"""Pieces of one mould: what repeats is taken out, and said."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.grading_run import Casting
from bubblegrade.inspection.inspected import Inspected, mould_told
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.limits import Limits
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.verdicts import Verdict

MARK = (180.0, 85.0, 20.0, 0.1)
ALL = '[zones.piece]\nshape = "all"\n'

Maker = Callable[..., tuple[Limits, list[Inspected]]]


@pytest.fixture(name="lot")
def _lot(piece: Callable[..., Casting], seen_piece: Callable[..., Seen], limits: Callable[[str], Limits]) -> Maker:
    """Return a function that inspects five pieces with voids of their own, all but the last with the mark."""

    def make(text: str) -> tuple[Limits, list[Inspected]]:
        held, rng = limits(text), np.random.default_rng(1)
        castings = [
            piece(*([MARK] if i < 4 else []), (*rng.uniform((90.0, 75.0), (160.0, 95.0)), 9.0, 0.1)) for i in range(5)
        ]
        return held, [
            Inspected(casting, f"p{i}", "", judge(casting, seen_piece(), held)) for i, casting in enumerate(castings)
        ]

    return make


def test_a_mark_of_the_mould_is_no_void_but_the_piece_is_looked_at(lot: Maker) -> None:
    limits, before = lot(f'{ALL}largest = "0.8mm"')
    assert [one.judgement.verdict.value for one in before] == ["fail"] * 4 + ["pass"]
    marks, after = mould_told(before, limits)
    assert [mark.pieces for mark in marks] == [("p0", "p1", "p2", "p3")]
    assert [one.judgement.verdict.value for one in after] == ["look again"] * 4 + ["pass"]
    assert after[0].judgement.faults[0].line.startswith("marks of the mould, without which the piece would pass")
    assert after[4] is before[4]


def test_a_piece_with_more_than_marks_of_the_mould_is_said_to_be_looked_at_again(lot: Maker) -> None:
    _, after = mould_told(*reversed(lot(f'{ALL}largest = "0.45mm"')))
    lines = [fault.line for fault in after[0].judgement.faults]
    assert any("without which the piece would be looked at again: look at them" in line for line in lines)


def test_a_mark_within_the_limits_is_left_out_and_said(lot: Maker) -> None:
    limits, before = lot(f'{ALL}largest = "2mm"')
    _, after = mould_told(before, limits)
    assert {one.judgement.verdict for one in after} == {Verdict.PASS}
    assert after[0].judgement.zones[0].count == 1
    assert after[0].judgement.remarks[0].startswith("the mould's, at places that repeat")


def test_pieces_whose_head_is_not_told_are_not_compared(lot: Maker) -> None:
    limits, before = lot(f'head = ["up"]\n{ALL}largest = "0.8mm"')
    marks, after = mould_told(before, limits)
    assert marks == ()
    assert after == tuple(before)
