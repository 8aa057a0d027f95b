"""Millimetres per pixel, stated or from a known width, with their uncertainty."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.errors import InputError
from bubblegrade.photo.scale import Span, scale_from_span, scale_from_width, stated_scale


def test_a_stated_scale_is_taken_as_it_is() -> None:
    scale = stated_scale(0.0375)
    assert (scale.mm_per_px, scale.mm_per_px_err, scale.source) == (0.0375, 0.0, "stated")


@pytest.mark.parametrize("mm_per_px", [0.0, -0.04, 1e-5, 3.0, math.inf, math.nan])
def test_a_scale_that_no_photograph_has_is_refused_with_value_and_cure(mm_per_px: float) -> None:
    with pytest.raises(InputError, match=f"--mm-per-px {mm_per_px:g} is not a usable scale: give .* such as 0.0375"):
        stated_scale(mm_per_px)


def test_44_mm_over_1100_px_are_0_04_mm_each() -> None:
    scale = scale_from_width(44.0, 1100.0)
    assert scale.mm_per_px == pytest.approx(0.04, abs=1e-15)
    assert scale.source == "widest span of the casting, 44 mm"


def test_the_error_is_that_of_two_ends_of_half_a_pixel_and_of_an_unknown_height_by_hand() -> None:
    # ends: 0.5 sqrt(2) / 1100 = 0.0643 %; height: 1/15 spread evenly over its half, (1/30) / sqrt(3) = 1.9245 %
    scale = scale_from_width(44.0, 1100.0)
    assert scale.mm_per_px_err / scale.mm_per_px == pytest.approx(math.hypot(0.000643, 0.019245), rel=1e-3)


@given(st.floats(5.0, 100.0), st.floats(100.0, 6000.0), st.floats(1.1, 3.0))
def test_a_longer_span_makes_a_smaller_and_never_less_certain_scale(width: float, span: float, factor: float) -> None:
    near, far = scale_from_width(width, span), scale_from_width(width, factor * span)
    assert far.mm_per_px == pytest.approx(near.mm_per_px / factor)
    assert far.mm_per_px_err / far.mm_per_px <= near.mm_per_px_err / near.mm_per_px


@pytest.mark.parametrize(("width", "span"), [(5000.0, 1100.0), (0.01, 1100.0), (-44.0, 1100.0)])
def test_a_width_that_makes_an_absurd_scale_is_refused_with_value_and_cure(width: float, span: float) -> None:
    with pytest.raises(InputError, match=f"--width {width:g}mm over 1100 px is .* check the width"):
        scale_from_width(width, span)


def test_two_points_20_mm_apart_and_500_px_give_0_04_mm_each_with_the_error_of_two_readings() -> None:
    scale = scale_from_span(Span(100.0, 50.0, 400.0, 450.0, 20.0))
    assert scale.mm_per_px == pytest.approx(0.04, abs=1e-15)
    # readings: 0.7 sqrt(2) / 500 = 0.198 %; height as above
    assert scale.mm_per_px_err / scale.mm_per_px == pytest.approx(math.hypot(0.00198, 0.019245), rel=1e-3)
    assert scale.source == "two points 20 mm apart"


def test_points_too_near_each_other_and_absurd_lengths_are_refused() -> None:
    with pytest.raises(InputError, match=r"is 5\.0 px long: take two points at least 20 px apart"):
        scale_from_span(Span(0.0, 0.0, 3.0, 4.0, 20.0))
    with pytest.raises(InputError, match="check points and length"):
        scale_from_span(Span(0.0, 0.0, 300.0, 400.0, 20_000.0))
