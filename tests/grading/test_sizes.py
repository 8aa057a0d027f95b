"""The sizes of one casting with their intervals and remarks."""

from __future__ import annotations

import functools
import math
import re
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from bubblegrade.grading.estimate import UNKNOWN, Estimate, from_error
from bubblegrade.grading.lognormal import log_unseen
from bubblegrade.grading.sizes import SHARED_SHARE, SizeSummary, summarise


def cast(count: int, *, median: float = 0.2, gsd: float = 1.5, seed: int = 1) -> NDArray[np.float64]:
    """Return lognormal diameters, seeded."""
    return median * gsd ** np.random.default_rng(seed).standard_normal(count)


def summary(sizes: NDArray[np.float64], *, smallest: float = 0.0, err: float = 0.02, seed: int = 3) -> SizeSummary:
    """Return the summary of diameters that are known to a share `err`."""
    return summarise(sizes, err * sizes, smallest=smallest, seed=seed)


def estimates(found: SizeSummary) -> dict[str, Estimate]:
    """Return the estimates of a summary by name."""
    values = {field.name: getattr(found, field.name) for field in fields(found)}
    return {name: value for name, value in values.items() if isinstance(value, Estimate)}


def volume_quantiles(sizes: NDArray[np.float64], weights: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return D10, D50 and D90 by volume, every void's own part spread evenly about its diameter."""
    order = np.argsort(sizes)
    parts = (weights * sizes**3)[order]
    return np.interp(np.array([0.1, 0.5, 0.9]) * parts.sum(), np.cumsum(parts) - parts / 2.0, sizes[order])


def test_the_statistics_are_those_of_the_distribution() -> None:
    sizes = cast(300)
    found = summary(sizes)
    assert found.d_1_0.value == pytest.approx(sizes.mean())
    assert found.d_3_2.value == pytest.approx((sizes**3).sum() / (sizes**2).sum())
    assert found.d_4_3.value == pytest.approx((sizes**4).sum() / (sizes**3).sum())
    by_number = [found.d10_number.value, found.d50_number.value, found.d90_number.value]
    by_volume = [found.d10_volume.value, found.d50_volume.value, found.d90_volume.value]
    np.testing.assert_allclose(by_number, np.quantile(sizes, [0.1, 0.5, 0.9], method="hazen"))
    np.testing.assert_allclose(by_volume, volume_quantiles(sizes, np.ones(300)))
    assert found.gsd.value == pytest.approx(math.exp(np.std(np.log(sizes), ddof=1)))
    assert found.span_volume.value == pytest.approx((by_volume[2] - by_volume[0]) / by_volume[1])


def test_weights_enter_every_statistic() -> None:
    sizes, weights = cast(300), np.linspace(1.0, 3.0, 300)
    found = summarise(sizes, 0.02 * sizes, smallest=0.0, seed=3, weights=weights)
    assert found.d_4_3.value == pytest.approx((weights * sizes**4).sum() / (weights * sizes**3).sum())
    assert found.d50_volume.value == pytest.approx(volume_quantiles(sizes, weights)[1])
    equal = summarise(sizes, 0.02 * sizes, smallest=0.0, seed=3, weights=np.full(300, 2.0))
    for name, estimate in estimates(summary(sizes)).items():
        assert getattr(equal, name).value == pytest.approx(estimate.value), name
        assert getattr(equal, name).low == pytest.approx(estimate.low, rel=1e-4), name


def test_of_nothing_the_count_is_zero_with_its_upper_limit_and_sizes_are_unknown() -> None:
    found = summarise([], [], smallest=0.05, seed=1)
    assert (found.count, found.below, found.count_low, found.warnings) == (0, 0, 0.0, ())
    assert found.count_high == pytest.approx(3.688879, abs=1e-6)  # Garwood's upper limit of 0
    assert found.largest == UNKNOWN
    assert not any(estimate.known for estimate in estimates(found).values())


def test_voids_below_the_smallest_countable_size_are_told_but_not_counted() -> None:
    found = summary(np.array([0.01, 0.05, 0.2, 0.3, math.nan]), smallest=0.05)
    assert (found.count, found.below) == (3, 1)
    assert found.d_1_0.value == pytest.approx(0.55 / 3.0)


def test_without_a_smallest_size_every_void_counts() -> None:
    assert summary(cast(7), smallest=math.nan).count == 7


def test_the_largest_void_has_the_uncertainty_of_its_own_measurement() -> None:
    found = summarise([0.2, 1.0, 0.3], [0.1, 0.01, 0.1], smallest=0.0, seed=1)
    assert found.largest == from_error(1.0, 0.01)
    unknown = summarise([0.2, 1.0], [0.1, math.nan], smallest=0.0, seed=1).largest
    assert unknown.value == 1.0
    assert math.isnan(unknown.low)


def test_the_same_seed_gives_the_same_intervals_and_another_seed_others() -> None:
    sizes = cast(50)
    assert summary(sizes) == summary(sizes)
    assert summary(sizes, seed=4).d_4_3 != summary(sizes).d_4_3
    assert summary(sizes, seed=4).d_4_3.value == summary(sizes).d_4_3.value


@settings(deadline=None, max_examples=30)
@given(st.lists(st.floats(0.01, 10.0), min_size=1, max_size=40), st.integers(0, 5))
def test_limits_enclose_their_value_or_are_unknown_together(sizes: list[float], seed: int) -> None:
    found = summary(np.array(sizes), seed=seed)
    for name, estimate in estimates(found).items():
        if math.isnan(estimate.low):
            assert math.isnan(estimate.high), name
            assert len(sizes) < 5, name
        else:
            assert estimate.low <= estimate.value <= estimate.high, name


@functools.cache
def many_castings() -> list[SizeSummary]:
    """Return the sizes of 200 castings of 40 voids, CMD 0.2 and GSD 1.5, summed up once."""
    return [summary(cast(40, seed=seed), err=0.01) for seed in range(200)]


# Hatch and Choate's closed forms, CMD exp(c s^2 + z s), for CMD 0.2 and GSD 1.5
@pytest.mark.parametrize(
    ("name", "c", "z", "least"),
    [
        ("d50_number", 0.0, 0.0, 0.90),
        ("d90_number", 0.0, 1.281552, 0.90),
        ("d_1_0", 0.5, 0.0, 0.90),
        ("d_3_2", 2.5, 0.0, 0.92),
        ("d50_volume", 3.0, 0.0, 0.92),
        ("d90_volume", 3.0, 1.281552, 0.92),
        ("d_4_3", 3.5, 0.0, 0.92),
    ],
)
def test_an_interval_holds_the_truth_about_as_often_as_it_says(name: str, c: float, z: float, least: float) -> None:
    spread = math.log(1.5)
    truth = 0.2 * math.exp(c * spread**2 + z * spread)
    found = [getattr(one, name) for one in many_castings()]
    assert least <= np.mean([estimate.low <= truth <= estimate.high for estimate in found])


def test_the_spread_is_held_about_95_times_in_100() -> None:
    found = many_castings()
    span = 2.0 * math.sinh(1.281552 * math.log(1.5))
    assert np.mean([one.gsd.low <= 1.5 <= one.gsd.high for one in found]) >= 0.90
    assert np.mean([one.span_number.low <= span <= one.span_number.high for one in found]) >= 0.90
    assert np.mean([one.span_volume.low <= span <= one.span_volume.high for one in found]) >= 0.88


@pytest.mark.parametrize(("gsd", "count"), [(1.2, 12), (1.5, 40), (1.7, 200)])
def test_what_lies_beyond_the_largest_void_is_that_of_a_cut_lognormal_population(gsd: float, count: int) -> None:
    # by integration in steps of ln d, over all sizes and up to the quantile n / (n + 1)
    spread, end = math.log(gsd), norm.ppf(count / (count + 1.0))
    z = np.linspace(-8.0, 12.0, 400_001)
    sizes = np.exp(spread * z)

    def sizes_of(number: NDArray[np.float64]) -> dict[str, float]:
        volume = np.cumsum(number * sizes**3)
        by_volume = np.interp([0.1, 0.5, 0.9], volume / volume[-1], sizes)
        means = {name: (number @ sizes**p) / (number @ sizes ** (p - 1)) for name, p in (("d_3_2", 3), ("d_4_3", 4))}
        names = ("d10_volume", "d50_volume", "d90_volume")
        span = (by_volume[2] - by_volume[0]) / by_volume[1]
        return {
            **dict(zip(names, by_volume, strict=True)),
            **means,
            "d_1_0": number @ sizes / number.sum(),
            "span_volume": span,
        }

    whole, cut = sizes_of(norm.pdf(z)), sizes_of(np.where(z <= end, norm.pdf(z), 0.0))
    found = log_unseen(gsd, count)
    assert found == {name: pytest.approx(math.log(whole[name] / cut[name]), abs=1e-3) for name in whole}


def test_voids_of_one_size_lack_nothing() -> None:
    assert log_unseen(1.0, 10) == {}


def test_measurement_errors_widen_the_interval() -> None:
    sizes = np.full(30, 0.2)
    exact, coarse = summary(sizes, err=0.0).d50_number, summary(sizes, err=0.2).d50_number
    assert (exact.low, exact.high) == (pytest.approx(0.2), pytest.approx(0.2))
    assert coarse.high - coarse.low > 0.01


def test_the_error_that_all_voids_share_does_not_average_out() -> None:
    # of n errors with correlation r, the mean's variance is e^2 (r + (1 - r) / n)
    found, err = summary(np.full(3000, 0.2), err=0.02).d_1_0, 0.02 * 0.2
    expected = 1.96 * err * math.sqrt(SHARED_SHARE + (1.0 - SHARED_SHARE) / 3000)
    assert (found.high - found.low) / 2.0 == pytest.approx(expected, rel=0.12)


def test_large_tables_are_resampled_in_blocks() -> None:
    found = summary(cast(30_000))
    assert found.d50_number.value == pytest.approx(0.2, rel=0.01)
    assert found.d50_number.low < found.d50_number.value < found.d50_number.high


@given(st.floats(1.0, 10.0))
@settings(deadline=None, max_examples=15)
def test_pressure_by_boyles_law_shrinks_sizes_and_leaves_gsd_and_span(pressure_ratio: float) -> None:
    # Boyle, isothermal: every diameter times (p1/p2)^(1/3)
    sizes, factor = cast(100), pressure_ratio ** (-1.0 / 3.0)
    before, after = summary(sizes), summary(sizes * factor)
    for name in ("gsd", "span_number", "span_volume"):
        assert getattr(after, name).value == pytest.approx(getattr(before, name).value, rel=1e-9)
        assert getattr(after, name).high == pytest.approx(getattr(before, name).high, rel=1e-4)
    assert after.d50_volume.value == pytest.approx(before.d50_volume.value * factor)
    assert math.log(after.d50_number.value / before.d50_number.value) == pytest.approx(-math.log(pressure_ratio) / 3.0)


def test_a_summary_in_another_unit_carries_the_error_of_the_scale() -> None:
    px = summary(cast(100, median=20.0), smallest=5.0)
    mm = px.scaled(0.04, factor_err=0.002)
    assert mm.smallest == pytest.approx(0.2)
    assert mm.d_3_2.value == pytest.approx(0.04 * px.d_3_2.value)
    assert mm.gsd == px.gsd
    assert mm.count == px.count
    assert mm.d50_number.high - mm.d50_number.low > 0.04 * (px.d50_number.high - px.d50_number.low)
    exact = px.scaled(0.04)
    assert exact.d50_number.low == pytest.approx(0.04 * px.d50_number.low)


def test_a_scale_error_alone_is_added_in_quadrature() -> None:
    # 3 and 4 make 5: limits 3 away, scale error of 4 / 1.959964 on a value of 1
    found = Estimate(1.0, -2.0, 4.0).scaled(1.0, factor_err=4.0 / 1.959964)
    assert (found.low, found.high) == (pytest.approx(-4.0), pytest.approx(6.0))


@pytest.mark.parametrize(
    ("count", "first"),
    [
        (1, "1 void cannot settle D10, D50 and D90 by number: it takes 36 to bound them at 95 %"),
        (12, "12 voids cannot settle D10 and D90 by number: it takes 36 to bound them at 95 %"),
    ],
)
def test_too_few_voids_for_a_quantile_by_number_are_remarked_on(count: int, first: str) -> None:
    assert summary(cast(count)).warnings[0] == first


def test_quantiles_by_number_are_remarked_on_where_no_two_voids_enclose_them() -> None:
    # an upper limit of D90 from order statistics exists once 0.9^n is under 2.5 %
    assert 0.9**35 > 0.025 > 0.9**36
    assert 2 * 0.5**5 > 0.05 > 2 * 0.5**6
    assert not any("by number" in warning for warning in summary(cast(36)).warnings)
    assert any("by number" in warning for warning in summary(cast(35)).warnings)


def test_a_tail_that_rests_on_single_voids_is_remarked_on() -> None:
    sizes = np.concatenate([np.full(500, 0.1), [1.0, 2.0]])
    warnings = summary(sizes).warnings
    assert "D90 by volume rests on the largest void: one more or fewer would move it" in warnings


def test_many_voids_need_no_remark() -> None:
    assert summary(cast(2000)).warnings == ()


def test_voids_of_one_size_need_no_remark_on_volume() -> None:
    assert summary(np.full(50, 0.2)).warnings == ()


def test_a_coarse_size_by_volume_says_how_many_voids_would_do() -> None:
    remark = summary(cast(150)).warnings[-1]
    assert re.fullmatch(
        r"150 voids give D50 by volume to about 1\d % at this spread of sizes: 10 % takes about \d+0", remark
    )


def test_unsure_finds_move_the_upper_limit_and_not_the_count() -> None:
    """Garwood's limits (Biometrika 28, 1936): 4.795 and 18.39 about 10, 20.96 above 12."""
    sizes = np.linspace(6.0, 15.0, 10)
    told = summarise(sizes, 0.02 * sizes, smallest=5.0, seed=1, doubtful=[5.0, 9.0, 4.9])
    assert (told.count, told.count_low, told.count_high) == (
        10,
        pytest.approx(4.795, abs=1e-3),
        pytest.approx(20.96, abs=5e-3),
    )
    assert told.d50_number == summarise(sizes, 0.02 * sizes, smallest=5.0, seed=1).d50_number
