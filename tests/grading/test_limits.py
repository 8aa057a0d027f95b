"""Cross-section per 100 cm3 and its class, after optical-glass practice."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.grading.limits import cross_section_mm2, glass_class


def test_the_worked_example_is_class_2() -> None:
    # 50 cm3 with three voids of 0.10 and five of 0.05 mm: 0.0333794 mm2, computed; limits from a glass maker's
    # published table of internal quality
    found = glass_class([0.10] * 3 + [0.05] * 5, 50.0, 0.03)
    assert found.area_mm2_per_100cm3.value == pytest.approx(0.0667588, abs=5e-8)
    assert (found.number, found.counted) == (2, 8)


@pytest.mark.parametrize(("diameter", "area", "number"), [(0.20, 0.0314159, 2), (0.195, 0.0298648, 1), (0.02, 0.0, 1)])
def test_one_void_in_100_cm3_is_classed_by_its_cross_section(diameter: float, area: float, number: int) -> None:
    # computed; below 0.03 mm nothing counts
    found = glass_class([diameter], 100.0, 0.02)
    assert found.area_mm2_per_100cm3.value == pytest.approx(area, abs=5e-8)
    assert found.number == number


@pytest.mark.parametrize(
    ("area", "number"), [(0.0299, 1), (0.0301, 2), (0.0999, 2), (0.1001, 3), (0.2501, 4), (0.4999, 4), (0.5001, 5)]
)
def test_the_classes_part_at_the_published_limits(area: float, number: int) -> None:
    # < 0.03, 0.03 to < 0.10, 0.10 to < 0.25, 0.25 to < 0.50, >= 0.50 mm2 per 100 cm3
    assert glass_class([math.sqrt(4.0 * area / math.pi)], 100.0, 0.03).number == number


def test_a_photograph_that_misses_small_voids_gives_a_class_or_worse() -> None:
    assert not glass_class([0.2], 100.0, 0.03).or_worse
    assert glass_class([0.2], 100.0, 0.031).or_worse
    assert glass_class([0.2], 100.0, math.nan).or_worse


def test_no_voids_are_class_1_with_room_for_three_unseen() -> None:
    found = glass_class([], 100.0, 0.1)
    assert (found.number, found.counted, found.area_mm2_per_100cm3.low) == (1, 0, 0.0)
    assert found.area_mm2_per_100cm3.high == pytest.approx(2.995732 * float(cross_section_mm2(0.1)), rel=1e-6)


@given(st.lists(st.floats(0.03, 2.0), min_size=1, max_size=30), st.floats(1.0, 1000.0))
def test_the_area_is_enclosed_by_its_limits_and_shared_out_over_the_volume(sizes: list[float], volume: float) -> None:
    whole, half = glass_class(sizes, volume, 0.03), glass_class(sizes, volume / 2.0, 0.03)
    area = whole.area_mm2_per_100cm3
    assert 0.0 < area.low < area.value < area.high
    assert half.area_mm2_per_100cm3.value == pytest.approx(2.0 * area.value)
    assert half.number >= whole.number


def test_what_diameters_and_volume_leave_open_widens_the_limits_of_the_area() -> None:
    plain, open_ = (glass_class([0.2] * 100, 100.0, 0.03, err_share=err).area_mm2_per_100cm3 for err in (0.0, 0.2))
    assert open_.value == plain.value
    off = 1.959964 * 0.2 * plain.value
    assert open_.high - open_.value == pytest.approx(math.hypot(plain.high - plain.value, off))
    assert open_.value - open_.low == pytest.approx(math.hypot(plain.value - plain.low, off))
    assert glass_class([0.2], 100.0, 0.03, err_share=1.0).area_mm2_per_100cm3.low == 0.0


@pytest.mark.parametrize("volume", [0.0, -1.0, math.nan])
def test_a_volume_that_is_not_above_zero_is_a_broken_promise(volume: float) -> None:
    with pytest.raises(AssertionError, match="the judged volume is above zero"):
        glass_class([0.2], volume, 0.03)
