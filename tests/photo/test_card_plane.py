"""A plane is fitted to its marks, whatever a few of them say, and its uncertainty is that of the marks."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.drawn.cards import Shot
from bubblegrade.photo.card import make_card
from bubblegrade.photo.card_plane import Plane, agreeing, fit_plane
from bubblegrade.photo.lens import FILM_DIAGONAL_MM, Lens, lens_from_focal

SHOT = Shot(tilt_degrees=17.0, tilt_towards_degrees=200.0, turn_degrees=33.0, k1=-0.1, aside_mm=(4.0, -3.0))
PLACES = make_card().layout.fine_marks
MIDDLE = np.zeros(2)


def lens() -> Lens:
    """Return what the photograph of `SHOT` would note of its lens."""
    return lens_from_focal(900.0 / np.hypot(800, 1000) * FILM_DIAGONAL_MM, (800, 1000))


def fitted(noise_px: float, seed: int = 0, wild: int = 0) -> Plane:
    """Return the plane of marks placed with noise, some of them anywhere."""
    draws = np.random.default_rng(seed)
    points = SHOT.seen_px(PLACES) + draws.normal(0.0, noise_px, PLACES.shape)
    points[:wild] = draws.uniform(0.0, 800.0, (wild, 2))
    return fit_plane(PLACES, points, lens())


def test_marks_without_noise_give_the_camera_back() -> None:
    plane = fitted(0.0)
    assert plane.numbers[8] == pytest.approx(-0.1, abs=1e-3)
    grid = np.stack(np.meshgrid(np.linspace(-40, 40, 9), np.linspace(-40, 40, 9)), axis=-1).reshape(-1, 2)
    np.testing.assert_allclose(plane.seen_px(grid), SHOT.seen_px(grid), atol=0.02)
    assert plane.mm_per_px(MIDDLE)[0] == pytest.approx(SHOT.true_mm_per_px(MIDDLE), rel=2e-5)


def test_a_quarter_of_the_marks_may_lie_anywhere() -> None:
    plane = fitted(0.05, wild=18)
    assert plane.mm_per_px(MIDDLE)[0] == pytest.approx(SHOT.true_mm_per_px(MIDDLE), rel=5e-4)
    points = SHOT.seen_px(PLACES)
    points[5] += 20.0
    assert np.flatnonzero(~agreeing(plane, PLACES, points)).tolist() == [5]


def test_the_scales_uncertainty_is_the_spread_over_many_draws_of_the_noise() -> None:
    planes = [fitted(0.2, seed) for seed in range(60)]
    found, stated = np.array([plane.mm_per_px(MIDDLE) for plane in planes]).T
    assert np.median(stated) == pytest.approx(np.std(found), rel=0.3)
    assert abs(np.mean(found) / SHOT.true_mm_per_px(MIDDLE) - 1.0) < 3e-4


def test_a_point_leads_back_to_its_place() -> None:
    plane = fitted(0.0)
    place = np.array([12.0, -31.0])
    assert plane.place_mm(plane.seen_px(place[None])[0]) == pytest.approx(place, abs=1e-4)


def test_the_turn_of_an_untilted_card_is_the_one_it_was_laid_with() -> None:
    shot = Shot(turn_degrees=33.0)
    plane = fit_plane(PLACES, shot.seen_px(PLACES), lens())
    assert np.degrees(plane.turn_at(MIDDLE)) == pytest.approx(33.0, abs=0.01)
