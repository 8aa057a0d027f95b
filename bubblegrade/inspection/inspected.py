"""An inspected photograph, and what its places say of the mould."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bubblegrade.grading_run import Casting
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.limits import Limits
from bubblegrade.inspection.mould import MouldMark, SidePlaces, at_mark, mould_marks
from bubblegrade.inspection.verdicts import Judgement, Verdict, worst, wrong


@dataclass(frozen=True, eq=False)
class Inspected:
    """A photograph, the piece that it shows and the judgement on it."""

    casting: Casting
    piece: str
    side: str  # empty where none is named
    judgement: Judgement


def mould_told(inspected: Sequence[Inspected], limits: Limits) -> tuple[tuple[MouldMark, ...], tuple[Inspected, ...]]:
    """Return the marks of the mould, and every photograph judged with its own of them taken out.

    Only photographs whose head and belly are told are compared. Where a piece would have got a worse verdict with a
    mark, it has to be looked at: it is the mould's and no void, but it is there.
    """
    marks = mould_marks([_places(one) for one in inspected if len(one.judgement.lie.frames) == 1])
    if not marks:
        return (), tuple(inspected)
    return marks, tuple(_without_marks(one, marks, limits) for one in inspected)


def _places(one: Inspected) -> SidePlaces:
    """Return the finds of a photograph in its piece's own frame."""
    frame = one.judgement.lie.frames[0]
    finds = one.judgement.finds
    along, across = frame.fractions(finds.places_px).T
    return SidePlaces(
        piece=one.piece,
        side=one.side or ("mirrored" if frame.mirrored else ""),
        along=along,
        across=across,
        diameter=finds.diameter_px / frame.length_px,
        width=frame.width_px / frame.length_px,
    )


def _without_marks(one: Inspected, marks: Sequence[MouldMark], limits: Limits) -> Inspected:
    """Return a photograph judged without the finds that are the mould's."""
    if len(one.judgement.lie.frames) != 1:
        return one
    places, finds = _places(one), one.judgement.finds
    own = np.zeros(len(finds), bool)
    for mark in marks:
        if mark.side == places.side:
            own |= at_mark(mark, places.along, places.across, places.diameter, places.width)
    if not own.any():
        return one
    mould_px = np.stack([finds.x_px[own], finds.y_px[own], finds.diameter_px[own]], axis=1)
    after = judge(one.casting, one.judgement.seen, limits, mould_px=mould_px)
    before = one.judgement.verdict
    if after.verdict is not before and worst([after.verdict, before]) is before:
        otherwise = "be looked at again" if after.verdict is Verdict.AGAIN else str(after.verdict)
        reason = f"marks of the mould, without which the piece would {otherwise}: look at them, and at the mould"
        doubt = replace(
            wrong(Verdict.AGAIN, "", "mould", reason), places_px=mould_px[:, :2], diameters_px=mould_px[:, 2]
        )
        after = replace(after, verdict=worst([after.verdict, Verdict.AGAIN]), faults=(*after.faults, doubt))
    return replace(one, judgement=after)
