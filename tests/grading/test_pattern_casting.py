"""Where a graded casting's voids lie, from the lines around its judged area."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from bubblegrade.casting.outline import find_outline
from bubblegrade.drawn.pictures import Scene, bare_light
from bubblegrade.grading.pattern import Pattern
from bubblegrade.grading.pattern_casting import Pouring, casting_pattern, clustered, judged_ground, speaks_for
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


def placed(
    points: NDArray[np.float64], diameter: float, *, borders: Sequence[NDArray[np.float64]], seed: int = 1, **known: Any
) -> Pattern:
    """Return where voids of one size lie within `borders`."""
    facts = {"hardware_px": np.empty((0, 3)), "pouring": Pouring(), **known}
    voids = np.column_stack([points, np.full(len(points), diameter)])
    return casting_pattern(voids, judged_ground(borders, SHAPE), seed=seed, **facts)


def pattern(causes: tuple[str, ...] = (), *, known: bool = True) -> Pattern:
    """Return a pattern that speaks for these causes."""
    found = placed(scattered(30 if known else 3, 300.0, 1), 5.0, borders=[disc(300.0)])
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


@pytest.mark.long
def test_voids_that_keep_clear_of_the_wall_raise_no_alarm() -> None:
    # the strip that the edge's shade takes is a tenth of the radius
    alarms = sum(
        bool(placed(scattered(150, 360.0, seed), 8.0, borders=[disc(400.0)], seed=seed).suspects) for seed in range(20)
    )
    assert alarms <= 3  # of 20 at 5 %: more come by chance in 16 of 1000


def test_a_cluster_is_found() -> None:
    crowd = np.random.default_rng(3).normal((700.0, 450.0), 15.0, (25, 2))
    points = np.concatenate([scattered(80, 380.0, 2), crowd])
    found = placed(points, 6.0, borders=[disc(400.0)])
    assert found.suspects[0].cause == "moisture"


def test_voids_that_hug_hardware_speak_for_an_insert_that_was_not_wetted() -> None:
    random = np.random.default_rng(5)
    angle = random.uniform(0, 2 * math.pi, 25)
    around = np.column_stack([600 + 68 * np.cos(angle), 500 + 68 * np.sin(angle)]) + random.normal(0, 3, (25, 2))
    rest = scattered(90, 380.0, 4)
    rest = rest[np.hypot(rest[:, 0] - 600, rest[:, 1] - 500) > 65]
    body = np.array([[600.0, 500.0, 120.0]])
    found = placed(np.concatenate([rest, around]), 6.0, borders=[disc(400.0)], hardware_px=body)
    assert found.suspects[0].cause == "inserts not wetted"
    free = placed(rest, 6.0, borders=[disc(400.0)], hardware_px=body)
    assert "inserts not wetted" not in [suspect.cause for suspect in free.suspects]


@pytest.mark.parametrize(("side", "x", "y"), [("top", 600.0, 110.0), ("left", 210.0, 500.0)])
def test_a_line_to_the_side_where_the_resin_came_in_speaks_for_air_from_the_pour(side: str, x: float, y: float) -> None:
    along = np.linspace(0.1, 0.9, 20)[:, None]
    line = np.array([x, y]) * (1 - along) + np.array([600.0, 500.0]) * along
    points = np.concatenate([scattered(80, 380.0, 7), line + np.random.default_rng(6).normal(0, 2, line.shape)])
    found = placed(points, 6.0, borders=[disc(400.0)], pouring=Pouring(pour=side))  # type: ignore[arg-type]
    assert found.suspects[0].cause == "air from the pour"


def test_voids_at_the_side_that_was_up_speak_for_foam() -> None:
    points = scattered(80, 380.0, 8)
    crust = scattered(1500, 380.0, 9)
    crust = crust[crust[:, 1] > 500 + 330][:30]
    found = placed(np.concatenate([points, crust]), 5.0, borders=[disc(400.0)], pouring=Pouring(up="bottom"))
    assert "foam" in [suspect.cause for suspect in found.suspects]


def test_nothing_found_is_no_pattern() -> None:
    assert not placed(np.empty((0, 2)), 6.0, borders=[disc(400.0)]).known
    assert not placed(np.empty((0, 2)), 6.0, borders=[]).known


def test_one_alarm_in_many_castings_is_chance_and_several_are_not() -> None:
    calm, alarmed = pattern(), pattern(("moisture",))
    assert clustered([*[calm] * 14, alarmed]) is False
    assert clustered([*[calm] * 12, *[alarmed] * 3]) is True  # 3 of 15 at 5 %: 0.036
    assert clustered([alarmed]) is True
    assert clustered([pattern(known=False)]) is None
    assert not speaks_for("foam", [alarmed])
