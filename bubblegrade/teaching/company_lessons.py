"""Lessons in company: the verdicts, on each picture, of judges who had not been taught it.

A judge is surer of what it was taught than it will be of a maker's photographs, and a network that corrects verdicts
must learn on such as it will meet: each picture is judged by a judge that the others taught.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.teaching.lessons import Lesson
from bubblegrade.voids.company import company_of
from bubblegrade.voids.features import Looks
from bubblegrade.voids.judging import Judge, Verdicts

PARTS: Final = 3  # of the pictures: each is judged by what the others taught
ROUNDS: Final = 40  # of weighing anew; the slope stands still long before


@dataclass(frozen=True, eq=False)
class CompanyCourse:
    """What N candidates look like in company, how likely each seemed alone, and what it is."""

    looks: NDArray[np.float32]  # (N, columns)
    likely: NDArray[np.float32]  # (N,) that it is a void, as a judge said who had not been taught it
    is_void: NDArray[np.int8]  # (N,) 1 yes, 0 no, -1 teaches nothing


def company_course(lessons: Sequence[Lesson], taught: Callable[[Sequence[Lesson]], Judge]) -> CompanyCourse:
    """Return the lessons in company, with the judges that `taught` makes of some of the lessons."""
    said = judged_by_others(lessons, taught)
    return CompanyCourse(
        looks=np.concatenate([company_of(a.fits, a.numbers, b) for a, b in zip(lessons, said, strict=True)]),
        likely=np.concatenate([one.likely for one in said]),
        is_void=np.concatenate([lesson.is_void for lesson in lessons]),
    )


def judged_by_others(lessons: Sequence[Lesson], taught: Callable[[Sequence[Lesson]], Judge]) -> list[Verdicts]:
    """Return the verdicts on each lesson of a judge that `taught` makes of other lessons."""
    judges = [taught([lesson for i, lesson in enumerate(lessons) if i % PARTS != part]) for part in range(PARTS)]
    return [judges[i % PARTS](Looks(a.numbers, a.rays.astype(np.float32))) for i, a in enumerate(lessons)]


def ratio_factor(lessons: Sequence[Lesson], said: Sequence[Verdicts]) -> float:
    """Return by which factor the logarithms of true over fitted diameters exceed those that were said.

    The slope of a line through nought, with Student's t of 4 degrees as when the judge is taught; a picture weighs by
    the root of its voids. `said` are verdicts of judges who had not been taught the picture.
    """
    rows = [np.isfinite(a.log_ratio) & (a.is_void == 1) for a in lessons]
    true, told, err = (
        np.concatenate([column[mine].astype(np.float64) for column, mine in zip(columns, rows, strict=True)])
        for columns in ([a.log_ratio for a in lessons], [b.log_ratio for b in said], [b.log_ratio_err for b in said])
    )
    weight = np.concatenate([np.full(mine.sum(), mine.sum() ** -0.5) for mine in rows if mine.any()]) / err**2
    slope = 1.0
    for _ in range(ROUNDS):
        held = weight / (1 + ((true - slope * told) / err) ** 2 / 4)
        slope = float((held * told * true).sum() / (held * told**2).sum())
    return slope
