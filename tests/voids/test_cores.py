"""The middle of a void tells whether the photograph's tones are as they were taken."""

from __future__ import annotations

import dataclasses
import functools
import math

import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.transmittance import darkness
from bubblegrade.drawn import spoiled
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.photo.light import grey_light
from bubblegrade.settings import Settings
from bubblegrade.voids.cores import darkness_of, steepness_of
from bubblegrade.voids.detecting import find_voids
from bubblegrade.voids.features import VIEW
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.lighting import Lighting, usual_lighting
from bubblegrade.voids.rings import ring_table
from bubblegrade.voids.table import Voids

THROUGH = 0.9216  # of light upright through two faces of index 1.5 and air: (1 - 0.04)^2, Fresnel


@functools.cache
def drawn(voids: int = 25, degrees: float = 35.0) -> np.ndarray:
    """Return a casting with voids of 16 to 44 px."""
    x, y = (axis.ravel()[:voids] for axis in grid(np.linspace(200, 600, 5), np.linspace(200, 600, 5)))
    sizes = np.linspace(16.0, 44.0, voids)
    return draw(Scene(casting_px=330.0, x_px=x, y_px=y, diameter_px=sizes, theta=math.radians(degrees))).picture


def steepness(picture: np.ndarray) -> float:
    """Return what the voids of a picture say."""
    light = grey_light(picture)
    outline = find_outline(light)
    assert outline is not None
    return find_voids(darkness(light), picture, outline, Settings()).steepness


def test_tones_as_they_were_taken_are_as_steep_as_optics_say_in_half_the_light_too() -> None:
    assert steepness(spoiled.exposed(drawn(), 0.5)) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("power", [0.6, 2.0])
def test_a_power_of_the_tones_shows_as_fresnel_says(power: float) -> None:
    """Codes to a power are light to the same power, where the display's curve is a power itself."""
    expected = (1.0 - THROUGH**power) / (1.0 - THROUGH)
    assert steepness(spoiled.steepened(drawn(), power)) == pytest.approx(expected, rel=0.12)


def test_few_voids_or_a_light_too_narrow_for_their_middles_tell_nothing() -> None:
    assert math.isnan(steepness(drawn(voids=4)))
    assert math.isnan(steepness(spoiled.steepened(drawn(degrees=12.0), 2.0)))


@pytest.mark.parametrize(("to_the_rim", "expected"), [(1.0, 1.5), (3.0, math.nan)])
def test_middles_that_darken_outwards_tell_nothing_however_wide_the_light_was_read(
    to_the_rim: float, expected: float
) -> None:
    one = np.ones(9, np.float32)
    fits = Fits(one, one, 12 * one, 0.1 * one, 0.7 * one, one, 0 * one, one, one, one)
    dark = 1.5 * (1.0 - THROUGH) * np.linspace(1.0, to_the_rim, 3, dtype=np.float32)
    rays = np.ones((9, VIEW.angles, VIEW.radii), np.float32)
    rays[:, :, :3] = dark  # the radii up to a quarter of a void's own
    lighting = Lighting(theta=0.6, theta_err=0.02, wall=0.0, blur_px=0.7, rings=14)
    assert steepness_of(fits, rays, lighting, index=1.5) == pytest.approx(expected, rel=1e-3, nan_ok=True)


def whole(contrast: float, count: int = 5, diameter_px: float = 9.0) -> Voids:
    """Return voids of one size and darkness."""
    nothing = np.zeros(count)
    return Voids.of(x_px=nothing, y_px=nothing, diameter_px=nothing + diameter_px, contrast=nothing + contrast)


@pytest.mark.parametrize("index", [1.4, 1.5, 1.57])
def test_voids_as_dark_as_in_the_usual_light_are_as_dark_as_optics_say(index: float) -> None:
    usual = usual_lighting(index=index)
    dark = ring_table(usual.theta, usual.wall, index=index).mean_darkness
    assert darkness_of(whole(dark), usual, index=index) == pytest.approx((1.0, 1.0))
    assert darkness_of(whole(0.6 * dark), usual, index=index) == pytest.approx((0.6, 0.6))


def test_a_light_whose_walls_pass_much_explains_pale_voids_and_a_narrow_one_no_dark_ones() -> None:
    usual = usual_lighting()
    bright, narrow = (dataclasses.replace(usual, theta=theta, wall=wall) for theta, wall in ((0.73, 0.8), (0.3, 0.0)))
    dark = ring_table(0.73, 0.8).mean_darkness
    assert darkness_of(whole(dark), bright, index=1.5) == pytest.approx((1.0, 1.0))
    assert darkness_of(whole(dark), narrow, index=1.5) == darkness_of(whole(dark), usual, index=1.5) < (0.7, 0.7)


def test_few_voids_or_small_ones_tell_nothing_as_a_whole() -> None:
    assert math.isnan(darkness_of(whole(0.4, count=4), usual_lighting(), index=1.5)[0])
    assert math.isnan(darkness_of(whole(0.4, diameter_px=5.9), usual_lighting(), index=1.5)[0])


@pytest.mark.parametrize("blurs", [{"followed_blur_px": 1.9}, {"blur_px": 1.9}])
def test_blurred_voids_tell_nothing_as_a_whole(blurs: dict[str, float]) -> None:
    assert math.isnan(darkness_of(whole(0.4), dataclasses.replace(usual_lighting(), **blurs), index=1.5)[0])


def test_the_fewer_voids_that_differ_the_darker_they_may_be() -> None:
    """Of ranks 1 to n the median's standard error is half a root of n."""
    many = Voids.of(
        x_px=np.zeros(100), y_px=np.zeros(100), diameter_px=np.full(100, 9.0), contrast=np.linspace(0, 1, 100)
    )
    usual, most = darkness_of(many, usual_lighting(), index=1.5)
    few_usual, few_most = darkness_of(many[::11], usual_lighting(), index=1.5)
    assert usual == pytest.approx(few_usual, rel=0.02)
    assert most / usual == pytest.approx(1.1)
    assert few_most / few_usual == pytest.approx(1.0 + 1.0 / math.sqrt(10), rel=0.02)


@pytest.mark.parametrize("degrees", [6.0, 9.0, 12.0, 14.0])
def test_voids_in_narrow_light_are_found_though_hardly_any_light_passes_them(degrees: float) -> None:
    light = grey_light(drawn(degrees=degrees))
    outline = find_outline(light)
    assert outline is not None
    voids = find_voids(darkness(light), drawn(degrees=degrees), outline, Settings()).voids
    np.testing.assert_allclose(np.sort(voids.diameter_px), np.linspace(16.0, 44.0, 25), rtol=0.05)
