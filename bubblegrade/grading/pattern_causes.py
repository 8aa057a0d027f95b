"""From answers to suspects: which cause each finding speaks for, and which findings are the same voids seen twice."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bubblegrade.grading.pattern_record import Answer, Cause, Question, Suspect

SAME_VOIDS: Final = 0.5  # share of a finding's voids that a stronger one has too: then it is no finding of its own
FAVOUR: Final = 1.25  # a finding that has a shape or a place outranks one that may be any, if nearly as strong

# What each cause looks like is common practice among casters.
SENTENCES: Final[dict[Cause, str]] = {
    "moisture": "Voids crowd together in clusters: suspect moisture in the resin, the mould or the air.",
    "air from the pour": "Voids stand in a line: suspect air trapped on its way to the pour point.",
    "inserts not wetted": "Voids wreathe the hardware: suspect inserts that were not wetted before the pour.",
    "foam": "Voids crowd along one side: if it was up, suspect foam that rose and was not cleared.",
    "air at the wall": "Voids lie along the wall: suspect air held at the mould's wall.",
}
CAUSES: Final[dict[Question, Cause]] = {
    "line": "air from the pour",
    "wreath": "inserts not wetted",
    "top": "foam",
    "side": "foam",
    "wall": "air at the wall",
    "clusters": "moisture",
    "pairs": "moisture",
    "nearest": "moisture",
}


def suspects(answers: Sequence[Answer]) -> tuple[Suspect, ...]:
    """Return the causes that the answers speak for, the strongest first.

    A line also makes a cluster, and a crust may make a line. A finding most of whose voids belong to a stronger one
    speaks for nothing of its own; nor do pairs and near neighbours, which have no place, where anything has one.
    """
    found = sorted((answer for answer in answers if answer.found), key=_weight, reverse=True)
    seen: set[int] = set()
    own: list[Answer] = []
    for answer in found:
        voids = {void for place in answer.places for void in place.voids}
        if len(voids & seen) < SAME_VOIDS * len(voids):
            own.append(answer)
            seen |= voids
    return tuple(_suspect(answer) for answer in own or found[:1])


def _weight(answer: Answer) -> float:
    """Return a finding's strength for the ranking: whatever else it is, it is also a cluster, and fills some side."""
    return answer.strength * (1.0 if answer.question in ("clusters", "side") else FAVOUR)


def _suspect(answer: Answer) -> Suspect:
    cause = CAUSES[answer.question]
    return Suspect(
        cause=cause,
        sentence=SENTENCES[cause],
        question=answer.question,
        strength=answer.strength,
        p_corrected=answer.p_corrected,
        voids=tuple(sorted({void for place in answer.places for void in place.voids})),
    )
