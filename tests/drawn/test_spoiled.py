"""Damages are as large as they say."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.photo.light import linear

GREY = np.full((80, 120, 3), 150, np.uint8)


def light(picture: np.ndarray) -> np.ndarray:
    return np.asarray(linear(picture / 255.0))


def test_exposure_multiplies_the_light_and_clips() -> None:
    assert light(spoiled.exposed(GREY, 0.5)).mean() == pytest.approx(light(GREY).mean() / 2, rel=0.01)
    assert spoiled.exposed(GREY, 5.0).min() == 255


def test_bands_swing_by_what_is_asked_and_lie_level_or_upright() -> None:
    level, upright = spoiled.banded(GREY, 0.2, 20.0), spoiled.banded(GREY, 0.2, 20.0, upright=True)
    rows, cols = light(level).mean(axis=(1, 2)), light(upright).mean(axis=(0, 2))
    for line in (rows, cols):
        assert (line.max() - line.min()) / line.mean() == pytest.approx(0.2, abs=0.02)
    assert np.ptp(light(level).mean(axis=(0, 2))) == 0.0


def test_a_slope_falls_by_what_is_asked() -> None:
    fallen = light(spoiled.sloped(GREY, 0.4))
    assert fallen[:, -1].mean() / fallen[:, 0].mean() == pytest.approx(0.6, abs=0.01)


def test_a_second_picture_has_its_share_of_the_light() -> None:
    spot = np.zeros((60, 60, 3), np.uint8)
    spot[30, 20] = 255
    twice = light(spoiled.taken_twice(spot, 0.3, (10.0, -5.0)))
    assert twice[25, 30].mean() == pytest.approx(0.3, abs=0.02)
    assert twice[30, 20].mean() == pytest.approx(0.7, abs=0.02)


def test_motion_spreads_a_line_over_its_length() -> None:
    line = np.zeros((60, 60, 3), np.uint8)
    line[:, 30] = 255
    across = light(spoiled.moved(line, 8.0)).mean(axis=(0, 2))
    places = np.arange(60)
    variance = float((across * (places - 30.0) ** 2).sum() / across.sum())
    assert variance == pytest.approx(8.0**2 / 12, rel=0.1)


def test_defocus_spreads_a_line_by_its_deviation() -> None:
    line = np.zeros((60, 60, 3), np.uint8)
    line[:, 30] = 255
    across = light(spoiled.defocused(line, 2.0)).mean(axis=(0, 2))
    assert float((across * (np.arange(60) - 30.0) ** 2).sum() / across.sum()) == pytest.approx(4.0, rel=0.1)


def test_a_grid_is_as_deep_both_ways() -> None:
    grid = light(spoiled.gridded(GREY, 0.2, 20.0)).mean(axis=2)
    assert np.ptp(grid.mean(axis=0)) == pytest.approx(np.ptp(grid.mean(axis=1)), rel=0.05)


def test_the_ground_is_dimmed_outside_the_casting_alone() -> None:
    front = spoiled.front_lit(GREY, 20.0, 0.25)
    assert (front[40, 60] == 150).all()
    assert light(front)[0, 0].mean() == pytest.approx(light(GREY).mean() / 4, rel=0.02)


def test_a_narrow_light_is_as_wide_as_it_says() -> None:
    lit = light(spoiled.narrowed(GREY, 0.5))[0, :, 0] > 0.1
    assert (lit.sum(), lit[30], lit[29], lit[89], lit[90]) == (60, True, False, True, False)


def test_a_bay_is_bare_light_in_the_casting() -> None:
    cup = np.full((200, 200, 3), 200, np.uint8)
    y, x = np.mgrid[:200, :200] - 99.5
    cup[np.hypot(x, y) < 60] = 150
    gone = (light(cup) < light(spoiled.chipped(cup, 60.0, 0.5)) - 0.1).mean(axis=2).sum()
    # two circles of radii R and R / 2 whose middles are R apart overlap by 0.3508 R^2 (plane geometry)
    assert gone == pytest.approx(0.3508 * 60.0**2, rel=0.05)


def test_a_second_picture_beside_the_first_is_as_small_as_it_says() -> None:
    spot = np.full((80, 80, 3), 150, np.uint8)
    spot[20:60, 20:60] = 50
    both = spoiled.in_company(spot, 0.5)
    assert both.shape == (80, 160, 3)
    assert (both[:, :80] == spot).all()
    assert (both[:, 80:, 0] < 100).sum() == pytest.approx(20 * 20, rel=0.1)


def test_a_camera_that_leans_sees_a_plane_narrower() -> None:
    assert spoiled.leant(GREY, 60.0).shape == (80, 60, 3)


def test_the_same_seed_gives_the_same_bytes() -> None:
    assert (spoiled.defocused(GREY, 1.0, seed=4) == spoiled.defocused(GREY, 1.0, seed=4)).all()
    assert (spoiled.defocused(GREY, 1.0, seed=4) != spoiled.defocused(GREY, 1.0, seed=5)).any()
