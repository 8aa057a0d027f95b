"""Lessons in company: every picture is judged by a judge that had not been taught it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np
import pytest

from bubblegrade.teaching.company_lessons import company_course, ratio_factor
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


def test_what_is_said_too_little_of_sizes_is_found_though_some_are_far_off() -> None:
    lesson = judge_lesson(drawn_picture(3))
    said = learned_judge()(Looks(lesson.numbers, lesson.rays.astype(np.float32)))
    rng = np.random.default_rng(6)
    true = 1.2 * said.log_ratio + 0.3 * said.log_ratio_err * rng.standard_normal(len(said.log_ratio))
    true[::9] += 20 * said.log_ratio_err[::9]
    known = replace(lesson, log_ratio=true.astype(np.float32), is_void=np.ones_like(lesson.is_void))
    assert ratio_factor([known, known], [said, said]) == pytest.approx(1.2, abs=0.03)
