"""Drawn pictures: the voids lie where the truth says, and look as optics says."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.drawn.pictures import Drawn, Scene, bare_light, draw, grid, srgb
from bubblegrade.optics import core_share, ring_share

CALM = {"blur_px": 0.0, "electrons": 0.0, "casting_px": 0.0, "vignette": 0.0, "clear": 1.0}


def _linear(drawn: Drawn) -> np.ndarray:
    """Return the picture's linear light, one channel, exact to half a code value."""
    code = drawn.picture[..., 0] / 255
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)


def test_an_empty_scene_is_the_bare_light_to_half_a_code_value() -> None:
    drawn = draw(Scene(width_px=50, height_px=30, **CALM))
    assert drawn.picture.shape == (30, 50, 3)
    np.testing.assert_allclose(drawn.picture / 255, srgb(0.6), atol=0.5 / 255 + 1e-9)
    assert len(drawn.x_px) == 0


@settings(max_examples=20, deadline=None)
@given(x=st.floats(28, 32), y=st.floats(28, 32), diameter=st.floats(4, 40))
def test_the_darkness_of_a_void_lies_at_its_centre_to_a_fiftieth_of_a_pixel(
    x: float, y: float, diameter: float
) -> None:
    drawn = draw(Scene(width_px=61, height_px=61, x_px=[x], y_px=[y], diameter_px=[diameter], **CALM))
    dark = 0.6 - _linear(drawn)
    dark[dark < 0.005] = 0  # rounding to code values
    rows, columns = np.indices(dark.shape)
    assert np.sum(dark * columns) / dark.sum() == pytest.approx(x, abs=0.02)
    assert np.sum(dark * rows) / dark.sum() == pytest.approx(y, abs=0.02)


@pytest.mark.parametrize("theta", [0.15, 0.35, 0.6])
def test_core_and_ring_end_where_optics_says_to_half_a_pixel(theta: float) -> None:
    drawn = draw(Scene(width_px=301, height_px=301, theta=theta, x_px=[150], y_px=[150], diameter_px=[280], **CALM))
    across = _linear(drawn)[150, 150:]
    dark = np.nonzero(across < 0.3)[0]
    assert dark[0] == pytest.approx(140 * core_share(theta), abs=0.5 + 140 * 0.02)  # the light's soft edge: 2 % of R
    assert dark[-1] == pytest.approx(140 * ring_share(theta), abs=0.5 + 140 * 0.02)


def test_a_void_that_the_frame_cuts_is_drawn_as_far_as_it_is_seen() -> None:
    whole = draw(Scene(width_px=60, height_px=60, x_px=[30], y_px=[30], diameter_px=[20], **CALM)).picture
    cut = draw(Scene(width_px=30, height_px=60, x_px=[30], y_px=[30], diameter_px=[20], **CALM)).picture
    np.testing.assert_array_equal(cut, whole[:, :30])


def test_a_void_beyond_the_frame_leaves_the_picture_as_it_is() -> None:
    beyond = {"x_px": [-50, 200, 30, 30], "y_px": [30, 30, -50, 200], "diameter_px": [20] * 4}
    np.testing.assert_array_equal(
        draw(Scene(width_px=60, height_px=60, **beyond, **CALM)).picture,
        draw(Scene(width_px=60, height_px=60, **CALM)).picture,
    )


def test_the_casting_is_a_disc_of_its_area_to_one_per_cent() -> None:
    drawn = draw(Scene(width_px=200, height_px=200, **CALM | {"casting_px": 80.0, "clear": 0.35}))
    assert np.mean(drawn.picture[..., 0] < 170) * 200 * 200 == pytest.approx(np.pi * 80**2, rel=0.01)


def test_the_same_seed_gives_the_same_bytes_and_another_seed_does_not() -> None:
    first, again, other = (draw(Scene(width_px=40, height_px=40, seed=s)).picture for s in (1, 1, 2))
    np.testing.assert_array_equal(first, again)
    assert (first != other).any()


def test_noise_has_the_spread_of_photons_to_five_per_cent() -> None:
    drawn = draw(Scene(width_px=300, height_px=300, **CALM | {"electrons": 500.0}))
    assert _linear(drawn).std() == pytest.approx(np.sqrt(0.6 / 500), rel=0.05)


def test_a_gradient_lights_one_side_by_its_share_more() -> None:
    light = bare_light(Scene(width_px=101, height_px=11, gradient=0.4, vignette=0.0, level=0.5))
    np.testing.assert_allclose([light[5, 0], light[5, 50], light[5, 100]], [0.4, 0.5, 0.6], atol=1e-12)


def test_grey_of_a_fifth_is_the_code_value_that_the_standard_gives() -> None:
    assert float(srgb(0.2)) * 255 == pytest.approx(123.6, abs=0.1)


def test_a_grid_has_every_crossing_once() -> None:
    x, y = grid([1, 2, 3], [10, 20])
    assert len(set(zip(x, y, strict=True))) == 6
