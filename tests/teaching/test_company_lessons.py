"""Lessons in company: every picture is judged by a judge that had not been taught it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np

from bubblegrade.teaching.company_lessons import company_course
from bubblegrade.teaching.lessons import Lesson, drawn_picture, judge_lesson
from bubblegrade.voids.features import Looks
from bubblegrade.voids.judging import Judge, Verdicts, learned_judge


def test_each_picture_is_judged_by_what_the_others_taught() -> None:
    lessons = [judge_lesson(drawn_picture(seed)) for seed in (1, 3, 4)]
    asked: list[tuple[set[int], int]] = []

    def taught(some: Sequence[Lesson]) -> Judge:
        known = {id(lesson) for lesson in some}

        def judge(looks: Looks) -> Verdicts:
            asked.append((known, len(looks)))
            return learned_judge()(looks)

        return cast("Judge", judge)

    made = company_course(lessons, taught)
    assert [rows for _, rows in asked] == [len(lesson.is_void) for lesson in lessons]
    for lesson, (known, _) in zip(lessons, asked, strict=True):
        assert id(lesson) not in known
        assert len(known) == 2
    assert len(made.looks) == len(made.likely) == len(made.is_void) == sum(rows for _, rows in asked)
    np.testing.assert_array_equal(made.is_void, np.concatenate([lesson.is_void for lesson in lessons]))
