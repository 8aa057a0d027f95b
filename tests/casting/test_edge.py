"""The widest span of a drawn disc is its diameter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.width import outline_points, refined_outline, widest_span
from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.photo.light import grey_light


@pytest.mark.parametrize(
    "scene",
    [
        Scene(casting_px=300.0),
        Scene(casting_px=150.25),
        Scene(casting_px=342.6, gradient=0.3),
        Scene(casting_px=300.0, blur_px=1.5),
        Scene(casting_px=300.0, clear=0.6),
        Scene(casting_px=300.0, electrons=1500.0),
        Scene(width_px=1600, height_px=1600, casting_px=700.0),
    ],
    ids=["plain", "small", "gradient", "blurred", "tinted", "noisy", "fine"],
)
def test_a_drawn_disc_spans_its_diameter_to_half_a_per_cent(scene: Scene) -> None:
    light = grey_light(draw(scene).picture)
    outline = find_outline(light)
    assert outline is not None
    one, other, length = widest_span(refined_outline(light, outline))
    assert length == pytest.approx(2 * scene.casting_px, rel=0.005)
    assert math.dist(one, other) == pytest.approx(length)


@pytest.mark.parametrize("blur", [2.0, 3.0])
def test_a_strong_blur_moves_each_end_by_no_more_than_its_own_width(blur: float) -> None:
    light = grey_light(draw(Scene(casting_px=300.0, blur_px=blur)).picture)
    outline = find_outline(light)
    assert outline is not None
    assert widest_span(refined_outline(light, outline))[2] == pytest.approx(600.0, abs=2 * blur)


def test_the_refined_outline_is_nearer_to_the_edge_than_the_coarse_one() -> None:
    scene = Scene(width_px=1600, height_px=1600, casting_px=700.0)
    light = grey_light(draw(scene).picture)
    outline = find_outline(light)
    assert outline is not None
    off = [
        np.abs(np.hypot(*(points - 799.5).T) - 700.0).mean()
        for points in (refined_outline(light, outline), outline_points(outline))
    ]
    assert off[0] < 1.0
    assert off[0] < off[1]


@given(st.floats(5.0, 500.0), st.floats(5.0, 500.0), st.floats(0.0, 6.28))
def test_a_turned_rectangle_spans_its_diagonal(wide: float, high: float, angle: float) -> None:
    corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]])
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    assert widest_span(corners @ turn.T)[2] == pytest.approx(math.hypot(wide, high))


def test_points_on_one_line_span_their_ends() -> None:
    assert widest_span(np.array([[0.0, 0.0], [1.0, 1.0], [3.0, 3.0]]))[2] == pytest.approx(3 * math.sqrt(2))
