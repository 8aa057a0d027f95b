"""The scale from a coin's outline, against outlines that a pinhole camera projects exactly."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from skimage.measure import EllipseModel

from bubblegrade.photo.disc import Disc
from bubblegrade.photo.disc_view import seen_scale
from bubblegrade.photo.lens import Lens, lens_from_focal

SHAPE = (1200, 1600)
FOCAL_PX, HEIGHT_MM, ACROSS_MM = 5000.0, 300.0, 21.25


def lens(err_share: float = 0.03) -> Lens:
    """Return a lens of 5000 px, known to a share."""
    return Lens(SHAPE, FOCAL_PX, err_share * FOCAL_PX, 0.0, 0.1, 0.0, 0.1, "test")


def fitted(line: np.ndarray) -> tuple[float, float, float, float, float]:
    """Return middle, axes and turn of scikit-image's ellipse through a closed line, evenly sampled."""
    closed = np.vstack([line, line[:1]])
    gone = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    even = np.linspace(0.0, gone[-1], 720, endpoint=False)
    model = EllipseModel.from_estimate(np.stack([np.interp(even, gone, part) for part in closed.T], axis=1))
    (x, y), (one, other), turn = model.center, model.axis_lengths, model.theta
    if other > one:
        one, other, turn = other, one, turn + math.pi / 2
    return x, y, 2 * one, 2 * other, turn


def projected(tilt: tuple[float, float], place_mm: tuple[float, float], thick_mm: float = 1.9) -> tuple[Disc, float]:
    """Return the outline of a coin that OpenCV projects, and the true mm per px in the picture's middle at its face."""
    turn, _ = cv2.Rodrigues(np.array([tilt[1], -tilt[0], 0.0]))
    angles = np.linspace(0.0, 2 * math.pi, 720, endpoint=False)
    rim = np.stack([np.cos(angles), np.sin(angles)], axis=1) * ACROSS_MM / 2 + place_mm
    rims = [np.column_stack([rim, np.full(len(rim), -top)]) for top in (0.0, thick_mm)]
    # The camera looks along +z at the plane; its axis meets the plane at the origin.
    camera = np.array([[FOCAL_PX, 0, (SHAPE[1] - 1) / 2], [0, FOCAL_PX, (SHAPE[0] - 1) / 2], [0, 0, 1.0]])
    shift = np.array([0.0, 0.0, HEIGHT_MM])
    seen, _ = cv2.projectPoints(np.concatenate(rims), cv2.Rodrigues(turn)[0], shift, camera, None)
    x, y, long, short, turned = fitted(cv2.convexHull(seen.astype(np.float32)[:, 0])[:, 0])
    ends = np.array([[-0.5, 0, -thick_mm], [0.5, 0, -thick_mm], [0, -0.5, -thick_mm], [0, 0.5, -thick_mm]])
    at, _ = cv2.projectPoints(ends, cv2.Rodrigues(turn)[0], shift, camera, None)
    one, other = at[1, 0] - at[0, 0], at[3, 0] - at[2, 0]
    true = abs(one[0] * other[1] - one[1] * other[0]) ** -0.5
    return Disc(x, y, long, short, math.remainder(turned, math.pi), 0.3), float(true)


@pytest.mark.parametrize("place", [(0.0, 0.0), (27.0, -18.0), (-30.0, 5.0), (10.0, 24.0)])
def test_seen_from_straight_above_the_scale_is_right_within_what_it_states(place: tuple[float, float]) -> None:
    disc, true = projected((0.0, 0.0), place)
    found = seen_scale(disc, ACROSS_MM, lens())
    assert found.mm_per_px == pytest.approx(true, rel=min(found.err_share, 0.0075))


def test_the_long_axis_alone_would_be_off_by_the_rim_that_shows() -> None:
    # its foot, 1.9 mm lower and 32.4 - 10.6 mm from the axis at its nearest, shows 0.14 mm of 21.25 mm
    disc, true = projected((0.0, 0.0), (27.0, -18.0))
    assert ACROSS_MM / disc.long_px / true - 1.0 < -0.005


@pytest.mark.parametrize("seed", range(4))
def test_over_views_from_the_hand_the_interval_holds_as_often_as_it_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pulls = []
    for _ in range(40):
        tilt = rng.normal(0.0, math.radians(4.0), 2)
        angle = rng.uniform(0, 2 * math.pi)
        disc, true = projected(tuple(tilt), (30 * math.cos(angle), 22 * math.sin(angle)), rng.normal(1.9, 0.3))
        found = seen_scale(disc, ACROSS_MM, lens())
        pulls.append((found.mm_per_px / true - 1.0) / found.err_share)
    held = np.abs(pulls) < 1.96
    assert held.mean() >= 0.9
    assert np.std(pulls) > 0.4  # and is not much too wide


def test_an_unknown_lens_costs_certainty() -> None:
    disc, _ = projected((0.0, 0.0), (27.0, -18.0))
    unknown = lens_from_focal(math.nan, SHAPE)
    assert seen_scale(disc, ACROSS_MM, unknown).err_share > 1.1 * seen_scale(disc, ACROSS_MM, lens()).err_share


def test_a_disc_in_the_middle_is_surer_than_one_aside() -> None:
    aside, middle = (seen_scale(projected((0.0, 0.0), place)[0], ACROSS_MM, lens()) for place in ((30.0, 20.0), (0, 0)))
    assert middle.err_share < aside.err_share
