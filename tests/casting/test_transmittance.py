"""What the casting lets through, and how dark each spot is against the clear resin around it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.casting import transmittance as transmittance_module
from bubblegrade.casting.backlight import backlight_around
from bubblegrade.casting.outline import find_outline, whole_field
from bubblegrade.casting.transmittance import (
    Squares,
    clear_level,
    clear_transmittance,
    darkness,
    stretched,
    transmittance,
)
from bubblegrade.drawn.pictures import Scene, bare_light, draw, grid
from bubblegrade.drawn.spoiled import cos_fourth, vignetted
from bubblegrade.photo.light import grey_light


def test_transmittance_is_the_ratio_of_two_lights() -> None:
    light, bare = np.array([[0.3, 0.0, 0.5]], np.float32), np.array([[0.6, 0.5, 0.4]], np.float32)
    np.testing.assert_allclose(transmittance(light, bare), [[0.5, 0.0, 1.25]], rtol=1e-6)


def test_transmittance_cannot_be_known_where_the_light_is_dark() -> None:
    light, bare = np.full((1, 3), 0.2, np.float32), np.array([[0.0, 0.009, 0.5]], np.float32)
    assert np.isnan(transmittance(light, bare)).tolist() == [[True, True, False]]


def test_the_light_behind_a_casting_is_bridged_from_around_it_to_one_per_cent() -> None:
    scene = Scene(width_px=200, height_px=160, gradient=0.4, vignette=0.2, casting_px=0.0)
    bare = bare_light(scene).astype(np.float32)
    y, x = np.indices(bare.shape)
    outside = np.hypot(x - 99.5, y - 79.5) > 70
    seen = np.where(outside, bare, 0.0).astype(np.float32)
    np.testing.assert_allclose(backlight_around(seen, outside), bare, rtol=0.01)


@pytest.mark.parametrize("fall", [0.3, 0.6, 0.9])
def test_light_that_falls_after_the_cos_fourth_law_is_bridged_to_one_per_cent(fall: float) -> None:
    bare = cos_fourth((160, 200), fall).astype(np.float32)
    y, x = np.indices(bare.shape)
    outside = np.hypot(x - 99.5, y - 79.5) > 70
    np.testing.assert_allclose(backlight_around(np.where(outside, bare, np.float32(0.0)), outside), bare, rtol=0.01)


@pytest.mark.parametrize("fall", [0.6, 0.9])
def test_light_that_falls_as_a_gaussian_is_bridged_to_one_per_cent(fall: float) -> None:
    y, x = np.mgrid[-1:1:160j, -1:1:200j]
    bare = np.exp(np.log(1.0 - fall) * (x**2 + y**2) / 2).astype(np.float32)
    outside = np.hypot(100 * x, 80 * y) > 70
    np.testing.assert_allclose(backlight_around(np.where(outside, bare, np.float32(0.0)), outside), bare, rtol=0.01)


def test_dust_on_the_light_does_not_move_the_light_behind_the_casting() -> None:
    bare = np.full((100, 100), 0.6, np.float32)
    outside = np.ones((100, 100), bool)
    outside[20:80, 20:80] = False
    bare[5:9, 5:9] = 0.05
    assert backlight_around(bare, outside)[50, 50] == pytest.approx(0.6, rel=0.01)


def test_without_bare_light_in_view_nothing_is_known_of_it() -> None:
    assert np.isnan(backlight_around(np.ones((50, 50), np.float32), np.zeros((50, 50), bool))).all()


@pytest.mark.parametrize("clear", [0.92, 0.7, 0.4])
@pytest.mark.parametrize("gradient", [0.0, 0.3])
def test_a_drawn_casting_passes_the_share_it_was_drawn_with_to_two_per_cent(clear: float, gradient: float) -> None:
    x, y = grid([300, 400, 500], [300, 400, 500])
    scene = Scene(
        casting_px=250.0, clear=clear, gradient=gradient, x_px=x, y_px=y, diameter_px=np.full(9, 24.0), seed=3
    )
    light = grey_light(draw(scene).picture)
    outline = find_outline(light)
    assert outline is not None
    assert clear_transmittance(outline) == pytest.approx(clear, rel=0.02)


@pytest.mark.parametrize("fall", [0.5, 0.85])
def test_a_vignette_changes_what_a_casting_passes_by_no_more_than_three_per_cent(fall: float) -> None:
    scene = Scene(casting_px=250.0, clear=0.7, vignette=0.0, x_px=[], y_px=[], diameter_px=np.empty(0), seed=3)
    outline = find_outline(grey_light(vignetted(draw(scene).picture, fall)))
    assert outline is not None
    assert clear_transmittance(outline) == pytest.approx(0.7, rel=0.03)


def test_the_share_that_passes_is_unknown_where_nothing_is_judged() -> None:
    field = whole_field(np.full((100, 100), 0.5, np.float32))
    nothing = np.zeros(field.judged.shape, bool)
    assert np.isnan(clear_transmittance(replace(field, casting=nothing, judged=nothing)))


def test_the_clear_level_runs_under_voids_to_two_per_cent() -> None:
    x, y = grid([300, 400, 500], [300, 400, 500])
    holes = {"x_px": x, "y_px": y, "diameter_px": np.full(9, 40.0)}
    plain = {"casting_px": 0.0, "gradient": 0.3, "electrons": 0.0, "blur_px": 0.0}
    squares = Squares.of(grey_light(draw(Scene(**plain, **holes)).picture))
    level = stretched(clear_level(squares, None), squares.side_px, slice(0, 600))
    np.testing.assert_allclose(level[250:550, 250:550], bare_light(Scene(**plain))[250:550, 250:550], rtol=0.02)


def test_clear_resin_is_0_dark_beside_voids_to_one_per_cent() -> None:
    scene = Scene(x_px=[400.0], y_px=[400.0], diameter_px=[60.0], casting_px=330.0, gradient=0.2, seed=5)
    dark = darkness(grey_light(draw(scene).picture))
    y, x = np.indices(dark.shape)
    away = np.hypot(x - 400, y - 400)
    beside = dark[(away > 36) & (away < 150)]
    assert np.median(beside) == pytest.approx(0.0, abs=0.01)
    assert np.abs(np.median(dark[(away > 34) & (away < 40)])) < 0.01


@pytest.mark.parametrize("clear", [0.92, 0.5, 0.2, 0.08])
def test_tinted_resin_is_hardly_darker_at_its_border_than_colourless_resin(clear: float) -> None:
    """At most half of the 9 % by which bare light outshines two faces of index 1.5 (Fresnel), and the noise."""
    light = grey_light(draw(Scene(casting_px=330.0, clear=clear, seed=5)).picture)
    dark = darkness(light, find_outline(light))
    y, x = np.indices(dark.shape)
    to_edge = 330 - np.hypot(x - 399.5, y - 399.5)
    for strip in (8, 16, 32, 64):
        assert np.median(dark[(to_edge > strip) & (to_edge < strip + 8)]) == pytest.approx(0.0, abs=0.06)


def test_the_ring_of_a_void_is_1_dark() -> None:
    scene = Scene(x_px=[400.0], y_px=[400.0], diameter_px=[60.0], casting_px=330.0)
    dark = darkness(grey_light(draw(scene).picture))
    assert dark[400, 400 + 24] > 0.95
    assert dark[400, 400] == pytest.approx(1 - 0.9216, abs=0.03)


def test_darkness_does_not_change_with_exposure() -> None:
    light = grey_light(draw(Scene(x_px=[400.0], y_px=[380.0], diameter_px=[30.0], electrons=0.0)).picture)
    np.testing.assert_allclose(darkness(light), darkness(np.float32(0.5) * light), atol=1e-3)


def test_darkness_is_known_everywhere_even_without_light() -> None:
    assert np.isfinite(darkness(np.zeros((80, 80), np.float32))).all()


def test_darkness_is_the_same_bytes_however_many_lines_are_worked_on_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    light = grey_light(draw(Scene(x_px=[400.0], y_px=[380.0], diameter_px=[30.0])).picture)
    whole = darkness(light)
    monkeypatch.setattr(transmittance_module, "LINES", 7)
    np.testing.assert_array_equal(darkness(light), whole)
