"""Lessons: what each candidate of a picture of known truth really is."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.teaching import lessons
from bubblegrade.teaching.lessons import (
    Lesson,
    Picture,
    drawn_picture,
    judge_lesson,
    sieve_lesson,
    traced_picture,
)
from bubblegrade.teaching.pictures import each_picture
from bubblegrade.voids.judging import OTHER_KINDS

SPECK = (250.0, 250.0)  # of dust, x and y


def saved(folder: Path, *, casting_px: float = 210.0, hidden: float = 0.0) -> Path:
    """Save a drawn cup of 16 voids and a round speck of dust, and its truth as the tracer tells it."""
    x, y = grid([160, 220, 280, 340], [160, 220, 280, 340])
    diameter = np.linspace(9, 30, 16)
    scene = Scene(width_px=500, height_px=500, casting_px=casting_px, x_px=x, y_px=y, diameter_px=diameter, theta=0.5)
    picture = draw(scene).picture
    cv2.circle(picture, (round(SPECK[0]), round(SPECK[1])), 5, (70, 70, 70), -1, cv2.LINE_AA)
    voids = [
        {"x": a, "y": b, "d_px": d, "visible": 1.0, "hidden": hidden, "lit": 1.0, "stretch": 1.0}
        for a, b, d in zip(x.tolist(), y.tolist(), diameter.tolist(), strict=True)
    ]
    clutter = [{"kind": "dust", "x": SPECK[0], "y": SPECK[1], "size_px": 12.0}]
    told = {"spec": {"n": 1.5, "body": "cup"}, "voids": voids, "clutter": clutter}
    assert cv2.imwrite(str(folder / "cup.png"), picture)
    (folder / "cup.json").write_text(json.dumps(told))
    return folder / "cup.png"


def pictured(photo: Path, seed: int = 1) -> Picture:
    """Return a saved photograph that shows a casting."""
    picture = traced_picture(photo, seed)
    assert picture is not None
    return picture


@pytest.fixture(scope="module")
def traced(tmp_path_factory: pytest.TempPathFactory) -> Lesson:
    """Return the lesson of the saved cup."""
    return judge_lesson(pictured(saved(tmp_path_factory.mktemp("traced"))))


def test_a_drawn_lesson_has_voids_and_others_and_sizes_near_the_truth() -> None:
    lesson = judge_lesson(drawn_picture(1))
    right = lesson.is_void == 1
    assert right.sum() > 5
    assert (lesson.is_void == 0).any()
    assert np.median(lesson.log_ratio[right]) == pytest.approx(0.0, abs=0.1)
    assert np.isnan(lesson.log_ratio[~right]).all()
    assert (lesson.other == -1).all()
    assert len(lesson.numbers) == len(lesson.rays) == len(right)


def test_smudges_are_told_as_specks_and_leave_every_void_where_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lessons, "PROCESSED", 0.0)
    seed = next(seed for seed in range(40) if drawn_picture(seed, altered=True).truth.clutter)
    clean, dirty = drawn_picture(seed), drawn_picture(seed, altered=True)
    assert {kind for kind, *_ in dirty.truth.clutter} == {"speck"}
    if len(dirty.truth.x_px):
        np.testing.assert_array_equal(dirty.truth.x_px, clean.truth.x_px)
    assert dirty.codes.astype(float).mean() < clean.codes.astype(float).mean() + 1


def test_what_a_phone_makes_of_a_picture_leaves_its_truth(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lessons, "PROCESSED", 1.0)
    monkeypatch.setattr(lessons, "SMUDGED", 0.0)
    monkeypatch.setattr(lessons, "BARE", 0.0)
    plain, phone = drawn_picture(3), drawn_picture(3, altered=True)
    np.testing.assert_array_equal(phone.truth.diameter_px, plain.truth.diameter_px)
    assert phone.codes.shape == plain.codes.shape
    assert (phone.codes != plain.codes).any()


def test_the_same_seed_draws_the_same_lesson() -> None:
    one, other = (judge_lesson(drawn_picture(3)) for _ in range(2))
    np.testing.assert_array_equal(one.numbers, other.numbers)
    np.testing.assert_array_equal(one.rays, other.rays)
    np.testing.assert_array_equal(one.is_void, other.is_void)


def test_every_void_of_a_traced_photograph_has_a_candidate_of_its_size(traced: Lesson) -> None:
    right = traced.is_void == 1
    assert right.sum() >= 16
    assert np.median(traced.log_ratio[right]) == pytest.approx(0.0, abs=0.03)
    assert traced.body == "cup"


def test_what_lies_on_clutter_is_told_as_such_and_is_no_void(traced: Lesson) -> None:
    on = traced.other == OTHER_KINDS.index("fibre")
    assert on.any()
    assert (traced.is_void[on] == 0).all()


def test_hidden_voids_teach_nothing(tmp_path: Path) -> None:
    lesson = judge_lesson(pictured(saved(tmp_path, hidden=0.9), 0))
    assert (lesson.is_void != 1).all()
    assert (lesson.is_void == -1).sum() >= 16


def test_a_photograph_without_a_casting_teaches_nothing(tmp_path: Path) -> None:
    photo = saved(tmp_path, casting_px=0.0)
    assert traced_picture(photo, 0) is None
    assert each_picture(judge_lesson, [photo.parent], 0, processes=1) == []


def test_the_sieve_is_shown_more_candidates_than_the_judge_and_every_void_among_them(tmp_path: Path) -> None:
    picture = pictured(saved(tmp_path))
    shown = sieve_lesson(picture)
    assert len(shown.looks) == len(shown.is_void) > len(judge_lesson(picture).is_void)
    assert (shown.is_void == 1).sum() >= 16


def test_lessons_wait_for_no_library_that_only_training_needs() -> None:
    code = "import sys, bubblegrade.teaching.lessons; sys.exit('torch' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
