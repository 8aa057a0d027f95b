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
from bubblegrade.voids.judging import Judge

PARTS: Final = 3  # of the pictures: each is judged by what the others taught


@dataclass(frozen=True, eq=False)
class CompanyCourse:
    """What N candidates look like in company, how likely each seemed alone, and what it is."""

    looks: NDArray[np.float32]  # (N, columns)
    likely: NDArray[np.float32]  # (N,) that it is a void, as a judge said who had not been taught it
    is_void: NDArray[np.int8]  # (N,) 1 yes, 0 no, -1 teaches nothing


def company_course(lessons: Sequence[Lesson], taught: Callable[[Sequence[Lesson]], Judge]) -> CompanyCourse:
    """Return the lessons in company, with the judges that `taught` makes of some of the lessons."""
    judges = [taught([lesson for i, lesson in enumerate(lessons) if i % PARTS != part]) for part in range(PARTS)]
    said = [judges[i % PARTS](Looks(a.numbers, a.rays.astype(np.float32))) for i, a in enumerate(lessons)]
    return CompanyCourse(
        looks=np.concatenate([company_of(a.fits, a.numbers, b) for a, b in zip(lessons, said, strict=True)]),
        likely=np.concatenate([one.likely for one in said]),
        is_void=np.concatenate([lesson.is_void for lesson in lessons]),
    )
