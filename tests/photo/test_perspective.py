"""A tilted card's own perspective tells the focal length, and one seen from straight above tells none."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.drawn.cards import Shot
from bubblegrade.photo.card import make_card
from bubblegrade.photo.card_plane import Plane, fit_plane
from bubblegrade.photo.lens import lens_from_focal
from bubblegrade.photo.perspective import focal_shares

FOCAL_PX = 900.0
PLACES = make_card().layout.fine_marks


def fitted(tilt_degrees: float, seed: int, axis_px: tuple[float, float] = (0.0, 0.0)) -> Plane:
    """Return the plane of a card through a lens of which nothing is known, its axis beside the picture's middle."""
    draws = np.random.default_rng(seed)
    shot = Shot(
        focal_px=FOCAL_PX, tilt_degrees=tilt_degrees, tilt_towards_degrees=40.0 * seed, turn_degrees=25.0 * seed
    )
    points = shot.seen_px(PLACES) + draws.normal(0.0, 0.05, PLACES.shape) + axis_px
    return fit_plane(PLACES, points, lens_from_focal(math.nan, shot.shape_px))


@pytest.mark.parametrize("axis_px", [(0.0, 0.0), (6.0, -6.0)])
@pytest.mark.parametrize(("tilt_degrees", "ratio"), [(4.0, 3.0), (10.0, 1.35), (25.0, 1.2)])
def test_a_tilted_card_holds_the_true_focal_length_between_limits_the_closer_the_more_it_tilts(
    tilt_degrees: float, ratio: float, axis_px: tuple[float, float]
) -> None:
    for seed in range(5):
        plane = fitted(tilt_degrees, seed, axis_px)
        least, most = (share * plane.focal_px for share in focal_shares(plane, 0.0005))
        assert least < FOCAL_PX < most
        assert most < ratio * least


def test_a_card_from_straight_above_fits_any_lens_from_the_widest_on() -> None:
    least, most = (share * 27.0 for share in focal_shares(fitted(0.0, 3), 0.0005))  # mm on film: 27 mm was assumed
    assert least < 13.0
    assert most > 130.0


def test_a_print_whose_two_directions_are_unlike_tells_less() -> None:
    even, uneven = (focal_shares(fitted(10.0, 1), share) for share in (0.0005, 0.005))
    assert uneven[0] < even[0]
    assert uneven[1] > even[1]
