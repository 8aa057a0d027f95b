"""Where a graded casting's voids lie, from the lines around its judged area."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from bubblegrade.casting.outline import find_outline
from bubblegrade.drawn.pictures import Scene, bare_light
from bubblegrade.grading.pattern import Pattern
from bubblegrade.grading.pattern_casting import casting_pattern, clustered, judged_ground, speaks_for
from bubblegrade.grading.pattern_record import Suspect
from bubblegrade.grading_run import Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

SHAPE = (1000, 1200)


def disc(radius_px: float) -> NDArray[np.float64]:
    """Return a closed line around a disc in the middle of the photograph, as the outline's cells have it."""
    step = math.ceil(max(SHAPE) / 400)
    mask = np.zeros((SHAPE[0] // step, SHAPE[1] // step), np.uint8)
    cv2.circle(mask, (SHAPE[1] // step // 2, SHAPE[0] // step // 2), round(radius_px / step), 1, -1)
    (line,), _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    return (line[:, 0, :] + 0.5) * step - 0.5


def scattered(count: int, radius_px: float, seed: int) -> NDArray[np.float64]:
    """Return points at random in a disc in the middle of the photograph."""
    random = np.random.default_rng(seed)
    away, angle = radius_px * np.sqrt(random.random(count)), random.uniform(0.0, 2.0 * math.pi, count)
    return np.column_stack([600.0 + away * np.cos(angle), 500.0 + away * np.sin(angle)])


def pattern(causes: tuple[str, ...] = (), *, known: bool = True) -> Pattern:
    """Return a pattern that speaks for these causes."""
    found = casting_pattern(
        [disc(300.0)], SHAPE, scattered(30 if known else 3, 300.0, 1), np.full(30 if known else 3, 5.0), seed=1
    )
    suspects = tuple(Suspect(cause, "", "pairs", 3.0, 0.01, ()) for cause in causes)  # type: ignore[arg-type]
    return Pattern(found.answers, suspects, found.voids, found.left_out)


def test_the_ground_has_the_area_that_was_judged() -> None:
    radius = 90.0
    y, x = np.indices((300, 400))
    codes = np.full((300, 400), 200, np.uint8)
    away = np.hypot(x - 200, y - 150)
    codes[(away < radius) & (away > radius - 3)] = 90
    codes[away <= radius - 3] = 190
    casting = grade(Photo("a.png", codes, "0" * 64), Request(), Settings())
    ground = judged_ground(casting.judged_px, casting.shape_px)
    assert ground.area_px == pytest.approx(casting.judged_area_px, rel=0.05)


def test_an_outline_comes_back_cell_by_cell() -> None:
    light = bare_light(Scene(width_px=900, height_px=700, casting_px=250.0)).astype(np.float32)
    y, x = np.indices(light.shape)
    light[np.hypot(x - 449.5, y - 349.5) < 250.0] *= 0.6
    outline = find_outline(light)
    assert outline is not None
    lines, _ = cv2.findContours(outline.judged.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    borders = [(line[:, 0, :] + 0.5) * outline.step_px - 0.5 for line in lines]
    ground = judged_ground(borders, (700, 900))
    assert ground.judged.shape == outline.judged.shape
    assert (ground.judged == outline.judged).all()


def test_voids_that_keep_clear_of_the_wall_raise_no_alarm() -> None:
    # the strip that the edge's shade takes is a tenth of the radius
    alarms = sum(
        bool(casting_pattern([disc(400.0)], SHAPE, scattered(150, 360.0, seed), np.full(150, 8.0), seed=seed).suspects)
        for seed in range(20)
    )
    assert alarms <= 3  # of 20 at 5 %: more come by chance in 16 of 1000


def test_a_cluster_is_found() -> None:
    crowd = np.random.default_rng(3).normal((700.0, 450.0), 15.0, (25, 2))
    points = np.concatenate([scattered(80, 380.0, 2), crowd])
    found = casting_pattern([disc(400.0)], SHAPE, points, np.full(len(points), 6.0), seed=1)
    assert found.suspects[0].cause == "moisture"


def test_nothing_found_is_no_pattern() -> None:
    assert not casting_pattern([disc(400.0)], SHAPE, np.empty((0, 2)), np.empty(0), seed=1).known
    assert not casting_pattern([], SHAPE, np.empty((0, 2)), np.empty(0), seed=1).known


def test_one_alarm_in_many_castings_is_chance_and_several_are_not() -> None:
    calm, alarmed = pattern(), pattern(("moisture",))
    assert clustered([*[calm] * 14, alarmed]) is False
    assert clustered([*[calm] * 12, *[alarmed] * 3]) is True  # 3 of 15 at 5 %: 0.036
    assert clustered([alarmed]) is True
    assert clustered([pattern(known=False)]) is None
    assert not speaks_for("foam", [alarmed])
