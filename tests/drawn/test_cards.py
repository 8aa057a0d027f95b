"""A drawn photograph of a sheet shows things where its camera says."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.drawn.cards import BLACK, Shot, paint, photograph

SQUARE = np.array([(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)])
HOLE = SQUARE[::-1] / 2


def test_a_sheet_is_painted_exactly() -> None:
    # 10 mm square less a hole of 5 mm at 20 px a mm
    sheet = paint([[SQUARE, HOLE]], half_mm=(10.0, 8.0))
    assert sheet.light.shape == (320, 400)
    assert np.count_nonzero(sheet.light == np.float32(BLACK)) == 200 * 200 - 100 * 100


def test_the_window_and_what_lies_on_the_sheet_go_over_its_ink() -> None:
    sheet = paint([[SQUARE]], half_mm=(10.0, 8.0), window_mm=2.0, hidden=((3.0, 3.0, 9.0, 99.0),))
    assert sheet.light[160, 200] == 1.0
    assert sheet.light[160 + 80, 200 + 80] == pytest.approx(0.2)


@given(st.floats(-0.15, 0.15), st.floats(0.0, 25.0), st.floats(0.0, 360.0), st.floats(-40, 40), st.floats(-40, 40))
def test_what_is_seen_leads_back_to_its_place(k1: float, tilt: float, towards: float, x: float, y: float) -> None:
    shot = Shot(k1=k1, tilt_degrees=tilt, tilt_towards_degrees=towards, turn_degrees=30.0, aside_mm=(3.0, -2.0))
    place = np.array([(x, y)])
    np.testing.assert_allclose(shot.places_mm(shot.seen_px(place)), place, atol=1e-4)


def test_the_camera_is_that_of_opencv() -> None:
    shot = Shot(k1=-0.1, k2=0.02, tilt_degrees=20.0, tilt_towards_degrees=90.0)
    matrix = np.array([(900.0, 0.0, 499.5), (0.0, 900.0, 399.5), (0.0, 0.0, 1.0)])
    places = np.column_stack((SQUARE * 8.0, np.zeros(4)))
    # tilted about the y axis by 20 degrees, 900 px x 0.15 mm/px = 135 mm away
    turn, shift = np.array([0.0, np.radians(20.0), 0.0]), np.array([0.0, 0.0, 135.0])
    theirs, _ = cv2.projectPoints(places, turn, shift, matrix, np.array([-0.1, 0.02, 0.0, 0.0, 0.0]))
    np.testing.assert_allclose(shot.seen_px(SQUARE * 8.0), theirs.reshape(-1, 2), atol=1e-9)


def test_a_square_is_photographed_where_the_camera_sees_it() -> None:
    shot = Shot(shape_px=(200, 240), mm_per_px=0.1, turn_degrees=0.0, aside_mm=(1.23, -0.77), noise=0.0, jpeg=0)
    codes = photograph(paint([[SQUARE]], half_mm=(30.0, 30.0)), shot)
    dark = (codes[..., 0] < 110).astype(np.uint8)
    (x, y) = (float(np.mean(axis)) for axis in np.nonzero(dark)[::-1])
    assert (x, y) == pytest.approx(tuple(shot.seen_px(np.zeros((1, 2)))[0]), abs=0.3)
    assert dark.sum() == pytest.approx((10.0 / 0.1) ** 2, rel=0.02)


def test_straight_below_the_scale_is_the_one_asked_for_and_grows_with_the_print() -> None:
    assert Shot().true_mm_per_px(np.zeros(2)) == pytest.approx(0.15, rel=1e-6)
    assert Shot(print_factor=1.03).true_mm_per_px(np.zeros(2)) == pytest.approx(0.15, rel=1e-6)


def test_the_same_shot_gives_the_same_bytes_and_uneven_light_darkens_one_side() -> None:
    sheet, shot = paint([], half_mm=(5.0, 5.0)), Shot(shape_px=(90, 120), uneven=0.5, noise=1.0)
    one, other = photograph(sheet, shot), photograph(sheet, shot)
    np.testing.assert_array_equal(one, other)
    assert one[:, -10:].mean() < one[:, :10].mean() - 15
