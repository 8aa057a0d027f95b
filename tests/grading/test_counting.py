"""Counts: their limits, frame weights, and how many voids are enough."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from bubblegrade.grading.counting import (
    effective_count,
    frame_weights,
    least_count,
    poisson_interval,
    relative_limit,
    total_interval,
)
from bubblegrade.grading.lognormal import unseen_factor


def test_the_limits_of_a_count_are_garwoods() -> None:
    # F. Garwood, Biometrika 28 (1936) 437; values computed with scipy's chi-square quantiles
    counts = [0, 1, 2, 3, 5, 10, 20, 25, 50, 100]
    lows = [0, 0.025318, 0.242209, 0.618672, 1.623486, 4.795389, 12.216520, 16.178682, 37.110964, 81.363991]
    highs = [3.688879, 5.571643, 7.224688, 8.767273, 11.668332, 18.390356, 30.888378, 36.904932, 65.918767, 121.626794]
    low, high = poisson_interval(counts)
    np.testing.assert_allclose(low, lows, atol=6e-7)
    np.testing.assert_allclose(high, highs, atol=6e-7)


def test_the_limits_of_25_are_those_of_the_published_tables() -> None:
    # 95 % limits of 25 as published interval tables print them
    assert [float(limit) for limit in poisson_interval(25)] == pytest.approx([16.18, 36.90], abs=0.005)


@given(st.floats(0.01, 200.0))
def test_the_limits_hold_every_poisson_mean_at_least_95_times_in_100(mean: float) -> None:
    counts = np.arange(0, 500)
    low, high = poisson_interval(counts)
    held = (low <= mean) & (mean <= high)
    assert poisson.pmf(counts[held], mean).sum() >= 0.95 - 1e-9


def test_a_count_below_nothing_is_a_broken_promise() -> None:
    with pytest.raises(AssertionError, match="a count is never below 0: -1"):
        poisson_interval([-1])


@given(st.lists(st.floats(1e-3, 1e3), min_size=1, max_size=50))
def test_the_effective_count_lies_between_one_and_the_count(parts: list[float]) -> None:
    assert 1.0 - 1e-9 <= effective_count(parts) <= len(parts) * (1.0 + 1e-9)


def test_one_large_part_among_specks_counts_as_one() -> None:
    assert effective_count([100.0, *[0.01] * 100]) == pytest.approx(1.02, abs=0.001)
    assert effective_count([]) == 0.0


def test_a_total_of_equal_parts_has_the_limits_of_their_count() -> None:
    low, high = poisson_interval(10)
    assert total_interval(5.0, effective=10.0, smallest=0.0) == pytest.approx((float(low) / 2.0, float(high) / 2.0))


def test_nothing_counted_leaves_up_to_three() -> None:
    # rule of three: -ln 0.05 = 2.995732, computed; R package epitools prints 2.996
    low, high = total_interval(0.0, effective=0.0, smallest=0.01)
    assert low == 0.0
    assert high == pytest.approx(0.02995732, abs=1e-8)


def test_the_limits_of_a_total_hold_the_truth_for_lognormal_parts() -> None:
    random = np.random.default_rng(5)
    mean_count, mean_part = 40, math.exp(0.5 * 0.8**2)
    held = 0
    for _ in range(400):
        parts = np.exp(random.normal(0.0, 0.8, random.poisson(mean_count)))
        low, high = total_interval(float(parts.sum()), effective=effective_count(parts), smallest=0.0)
        held += low <= mean_count * mean_part <= high
    assert 0.90 <= held / 400 <= 0.99


def test_frame_weights_are_those_of_miles_and_lantuejoul() -> None:
    # 1 / P, P = (Z1 - xF1)(Z2 - xF2)/(Z1 Z2), frame 1000 x 800, computed
    sizes = [10.0, 50.0, 100.0, 200.0, 400.0]
    weights = frame_weights(sizes, sizes, width=1000.0, height=800.0)
    np.testing.assert_allclose(weights, [1.022887, 1.122807, 1.269841, 1.666667, 3.333333], atol=6e-7)


def test_a_void_as_large_as_the_frame_has_no_weight() -> None:
    assert np.isnan(frame_weights([1000.0, 2000.0], [10.0, 2000.0], width=1000.0, height=800.0)).all()
    assert frame_weights([], [], width=1000.0, height=800.0).shape == (0,)


def test_weighted_voids_inside_a_frame_give_the_true_number_back() -> None:
    random = np.random.default_rng(2)
    centres, size = random.uniform(0.0, 1.0, (20000, 2)), 0.3
    inside = np.all((centres > size / 2.0) & (centres < 1.0 - size / 2.0), axis=1).sum()
    weights = frame_weights(np.full(inside, size), np.full(inside, size), width=1.0, height=1.0)
    assert weights.sum() == pytest.approx(20000, rel=0.02)


def test_the_limits_of_d50_by_volume_are_those_of_masuda_and_gotoh() -> None:
    # Adv. Powder Technol. 10 (1999) 159: its abstract states "at least 61 000" for GSD 1.6, source; the row is computed
    # from the formula and remembered as that of ISO 13322-1: voids that give the moment of order 6 to 5 %
    counts = [585, 1460, 2939, 5223, 8526, 13059, 19026, 26617, 36007, 47358, 60811]
    spreads = np.arange(1.10, 1.601, 0.05)
    assert [round((6.0 * relative_limit(float(gsd), count=1) / 0.05) ** 2) for gsd in spreads] == counts


@pytest.mark.parametrize(("gsd", "count"), [(1.6, 1689), (1.5, 1000), (1.2, 82)])
def test_the_least_count_of_d50_by_volume_needs_no_power(gsd: float, count: int) -> None:
    # computed from the formula and rounded to the nearest; a least count is rounded up
    assert 0 <= least_count(gsd, precision=0.05) - count <= 1


@given(st.floats(1.05, 3.0), st.floats(0.01, 0.5))
def test_the_least_count_reaches_its_precision_and_one_fewer_does_not(gsd: float, precision: float) -> None:
    count = least_count(gsd, precision=precision)
    assert relative_limit(gsd, count=count) <= precision * (1.0 + 1e-9)
    if count > 1:
        assert relative_limit(gsd, count=count - 1) > precision * (1.0 - 1e-9)


@pytest.mark.parametrize(("power", "count"), [(2, 6), (2, 40), (3, 12), (3, 40)])
def test_a_sum_over_lognormal_voids_is_held_by_limits_that_know_of_what_is_unseen(power: int, count: int) -> None:
    # a Poisson number of voids of GSD 1.65; the mean of d^p is exp(p^2 s^2 / 2), Hatch and Choate
    rng, spread, held = np.random.default_rng(count), math.log(1.65), 0
    truth = count * math.exp((power * spread) ** 2 / 2.0)
    for _ in range(300):
        sizes = np.exp(spread * rng.standard_normal(max(rng.poisson(count), 2)))
        parts = sizes**power
        low, high = total_interval(
            float(parts.sum()), effective=effective_count(parts), smallest=0.0, unseen=unseen_factor(sizes, power)
        )
        held += low <= truth <= high
    assert held >= 0.88 * 300


def test_voids_of_one_size_lack_nothing_of_a_sum() -> None:
    assert unseen_factor(np.full(8, 0.3), 3) == pytest.approx(1.0)
    assert unseen_factor([], 2) == 1.0
