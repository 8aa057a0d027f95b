"""The edge of a drawn disc lies on its circle, and its widest span is its diameter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.casting.edge import covered, refined, traced, widest_span
from bubblegrade.casting.outline import coarse_picture, find_outline
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
    one, other, length = widest_span(outline.edge_px)
    assert length == pytest.approx(2 * scene.casting_px, rel=0.005)
    assert math.dist(one, other) == pytest.approx(length)


@pytest.mark.parametrize("radius", [60.0, 90.0, 120.0, 225.0, 450.0])
def test_the_casting_has_the_area_of_its_circle_however_little_of_the_frame_it_fills(radius: float) -> None:
    # at a radius of 60 px it is 20 coarse px: half of one more all around would be 5 % of its area
    outline = find_outline(grey_light(draw(Scene(width_px=1000, height_px=1000, casting_px=radius)).picture))
    assert outline is not None
    assert outline.area_px == pytest.approx(math.pi * (radius + 0.25) ** 2, rel=0.01)


@pytest.mark.parametrize("blur", [2.0, 3.0])
def test_a_strong_blur_moves_each_end_by_no_more_than_its_own_width(blur: float) -> None:
    light = grey_light(draw(Scene(casting_px=300.0, blur_px=blur)).picture)
    outline = find_outline(light)
    assert outline is not None
    assert widest_span(outline.edge_px)[2] == pytest.approx(600.0, abs=2 * blur)


@pytest.mark.parametrize(("oval", "off"), [(1.0, 0.05), (0.6, 0.1)])
def test_a_fibre_over_the_outline_and_noise_in_it_make_no_oval_wider(oval: float, off: float) -> None:
    """Measured against the ellipse's own axis, which both widen by 1 % where the farthest points are taken."""
    rng, angle = np.random.default_rng(3), np.linspace(0.0, 2 * np.pi, 900, endpoint=False)
    reach = 300.0 + rng.normal(0.0, 0.5, 900) + 6.0 * (np.abs(angle - 0.1) < 0.08)
    points = reach[:, None] * np.stack([np.cos(angle), oval * np.sin(angle)], axis=1) + [400.0, 350.0]
    one, other, length = widest_span(points)
    assert length == pytest.approx(600.0, rel=off / 100)
    assert math.dist(one, other) == pytest.approx(length)
    assert (one + other) / 2 == pytest.approx([400.0, 350.0], abs=0.3)


@pytest.mark.parametrize("shape", ["slab", "lens"])
def test_what_is_no_oval_spans_from_corner_to_corner(shape: str) -> None:
    along = np.linspace(-1.0, 1.0, 400)
    line = {"slab": 120.0 + 0.0 * along, "lens": 120.0 * (1 - along**2)}[shape]
    points = np.concatenate([np.stack([300.0 * along, line], axis=1), np.stack([-300.0 * along, -line], axis=1)])
    assert widest_span(points)[2] == pytest.approx(2 * math.hypot(300.0, line[0]))


def test_a_refined_outline_is_nearer_to_the_edge_than_the_coarse_one() -> None:
    light = grey_light(draw(Scene(width_px=1600, height_px=1600, casting_px=700.0)).picture)
    coarse, step = coarse_picture(light)
    y, x = np.indices(coarse.shape)
    middle = (len(coarse) - 1) / 2
    rough = traced(np.hypot(x - middle, y - middle) * step < 700.0 + 2 * step, step)
    off = [np.abs(np.hypot(*(points - 799.5).T) - 700.0).mean() for points in (refined(light, rough, step), rough)]
    assert off[0] < 1.0
    assert off[0] < off[1] / 4


def test_an_outline_too_short_to_have_normals_stays_as_it_is() -> None:
    triangle = np.array([[5.0, 5.0], [9.0, 5.0], [5.0, 9.0]])
    np.testing.assert_array_equal(refined(np.ones((20, 20), np.float32), triangle, 1), triangle)


@pytest.mark.parametrize("step", [1, 3])
def test_what_a_traced_line_covers_is_the_mask_that_it_was_traced_around(step: int) -> None:
    y, x = np.indices((90, 120))
    mask = np.hypot(x - 60, y - 44) < 30
    assert (covered(traced(mask, step), step, mask.shape) ^ mask).sum() <= 0.01 * mask.sum()


def test_points_of_a_coarse_mask_lie_in_the_middle_of_its_squares() -> None:
    mask = np.zeros((5, 5), bool)
    mask[2, 3] = True
    np.testing.assert_allclose(traced(mask, 4), [[13.5, 9.5]])  # of the px 12 to 15 across and 8 to 11 down


@given(st.floats(5.0, 500.0), st.floats(5.0, 500.0), st.floats(0.0, 6.28))
def test_a_turned_rectangle_spans_its_diagonal(wide: float, high: float, angle: float) -> None:
    corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]])
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    assert widest_span(corners @ turn.T)[2] == pytest.approx(math.hypot(wide, high))


def circle(bump_px: float, over: int, oval: float = 1.0) -> np.ndarray:
    """Return the outline of a circle of radius 440 px; `over` of its 850 points stand out by up to `bump_px`."""
    angle = np.linspace(0.0, 2.0 * np.pi, 850, endpoint=False)
    radius = 440.0 + bump_px * np.maximum(0.0, 1.0 - np.abs(np.arange(850) - 300) / (over / 2.0))
    return np.stack([550.0 + oval * radius * np.cos(angle), 540.0 + radius * np.sin(angle)], axis=1)


def test_a_fibre_across_the_edge_of_a_cup_hardly_widens_it() -> None:
    assert widest_span(circle(12.0, 20))[2] == pytest.approx(880.0, rel=0.005)
    assert widest_span(circle(12.0, 20))[2] < widest_span(circle(12.0, 20, oval=1.2))[2] / 1.1


def test_a_cup_that_is_a_little_oval_keeps_its_widest_span() -> None:
    assert widest_span(circle(0.0, 20, oval=1.015))[2] == pytest.approx(1.015 * 880.0, rel=1e-4)


def test_points_on_one_line_span_their_ends() -> None:
    assert widest_span(np.array([[0.0, 0.0], [1.0, 1.0], [3.0, 3.0]]))[2] == pytest.approx(3 * math.sqrt(2))


@pytest.mark.parametrize("seed", [1, 2])
def test_noise_of_a_fine_photograph_leaves_the_outline_on_a_pale_edge(seed: int) -> None:
    side, radius, step = 3200, 1400.0, 8
    y, x = np.ogrid[:side, :side]
    middle = (side - 1) / 2
    light = np.where(np.hypot(x - middle, y - middle) < radius, 0.56, 0.6).astype(np.float32)
    noise = np.random.default_rng(seed).standard_normal(light.shape, np.float32)
    rough = traced(np.hypot(*(np.indices((side // step,) * 2) - (side // step - 1) / 2)) * step < radius, step)
    edge = refined(light + 0.02 * noise, rough, step)
    assert np.hypot(*(edge - middle).T) == pytest.approx(radius, rel=0.003)
