"""Dark marks that no void explains: where they are, and what they look like in numbers."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
import pytest

from bubblegrade.voids.marks import DARK, Marks, mark_under
from bubblegrade.voids.table import Voids

SIDE = 400

MarksIn = Callable[..., Marks]
Bar = Callable[[int, int, float], np.ndarray]


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0, 137.0])
def test_length_and_width_of_a_bar_do_not_hang_on_how_it_lies(marks_in: MarksIn, bar: Bar, angle: float) -> None:
    marks = marks_in(bar(81, 9, angle))
    assert len(marks) == 1
    assert (marks.x_px[0], marks.y_px[0]) == pytest.approx((200, 200), abs=0.6)
    assert marks.length_px[0] == pytest.approx(4 * 81 / np.sqrt(12), rel=0.05)  # four spreads of an even bar
    assert marks.width_px[0] == pytest.approx(9, abs=2.0)
    assert marks.area_px[0] == np.count_nonzero(bar(81, 9, angle) > DARK)


def test_a_flake_in_the_haze_of_a_ballast_is_a_mark_by_itself(marks_in: MarksIn) -> None:
    dark = np.zeros((SIDE, SIDE), np.float32)
    cv2.circle(dark, (180, 200), 52, 0.45, -1)  # haze
    cv2.circle(dark, (180, 200), 40, 0.9, -1)
    cv2.rectangle(dark, (228, 194), (239, 205), 0.85, -1)
    marks = marks_in(dark)
    assert len(marks) == 2
    flake = int(marks.area_px.argmin())
    assert (marks.x_px[flake], marks.y_px[flake]) == pytest.approx((233.5, 199.5), abs=4.0)
    assert 144 <= marks.area_px[flake] <= 400  # its own square, and the haze that is nearer to it
    assert marks.area_px.sum() == np.count_nonzero(dark)
    even = np.where(dark > 0, np.float32(0.9), dark)  # as dark all over, it is one
    assert len(marks_in(even)) == 1


def test_a_counted_void_is_no_mark(marks_in: MarksIn) -> None:
    dark = np.zeros((SIDE, SIDE), np.float32)
    cv2.circle(dark, (200, 200), 10, 0.9, 4)
    assert len(marks_in(dark)) == 1
    assert len(marks_in(dark, Voids.of(x_px=[200.0], y_px=[200.0], diameter_px=[24.0]))) == 0


def test_clear_resin_and_wide_shading_have_no_mark(marks_in: MarksIn) -> None:
    assert len(marks_in(np.zeros((SIDE, SIDE), np.float32))) == 0
    slope = np.tile(np.linspace(0, 0.25, SIDE, dtype=np.float32), (SIDE, 1))
    assert len(marks_in(slope)) == 0


def test_marks_outside_the_judged_area_are_left_alone(marks_in: MarksIn, bar: Bar) -> None:
    assert len(marks_in(bar(80, 9, 0), judged=np.zeros((SIDE, SIDE), bool))) == 0


def test_a_mark_looks_the_same_when_the_photograph_is_turned_by_a_right_angle(marks_in: MarksIn, bar: Bar) -> None:
    dark = bar(80, 9, 20)
    columns = -81  # the views lie along the mark, whose two ends are alike
    one, other = (
        marks_in(dark).features[:, :columns],
        marks_in(np.ascontiguousarray(np.rot90(dark))).features[:, :columns],
    )
    np.testing.assert_allclose(one, other, atol=0.02)


def test_what_lies_under_most_of_a_ring_is_told_by_number(marks_in: MarksIn, bar: Bar) -> None:
    marks = marks_in(bar(80, 40, 0))
    assert mark_under(marks.labels, [200.0, 200.0, 50.0], [200.0, 200.0, 50.0], [10.0, 60.0, 10.0]).tolist() == [
        1,
        0,
        0,
    ]
