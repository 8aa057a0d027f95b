"""One factor at a time, against scipy's own tests and against simulated workshops."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from bubblegrade.quality.factors import rate_differences, value_differences


@pytest.mark.parametrize("spread", [(5, 5), (2, 15), (15, 2)])
def test_the_difference_of_two_means_is_that_of_the_t_test_of_one_spread_or_of_two(spread: tuple[int, int]) -> None:
    rng = np.random.default_rng(1)
    one, other = rng.normal(90, spread[0], 12), rng.normal(60, spread[1], 6)
    (factor,) = value_differences([*one, *other], {"resin": ["a"] * 12 + ["b"] * 6})
    (found,) = factor.differences
    each = [stats.ttest_ind(one, other, equal_var=equal).confidence_interval(0.95) for equal in (True, False)]
    interval = max(each, key=lambda limits: limits.high - limits.low)
    assert (found.effect.low, found.effect.high) == pytest.approx((interval.low, interval.high))
    assert found.word == "more"
    assert found.castings == (12, 6)


# By one spread of all groups 43, 25 and 23 times in 100.
@pytest.mark.parametrize(("castings", "spread"), [((2, 10), (20, 5)), ((3, 12), (20, 8)), ((5, 20), (20, 8))])
def test_few_castings_that_vary_beside_many_that_do_not_are_seldom_told_apart(
    castings: tuple[int, int], spread: tuple[int, int]
) -> None:
    rng = np.random.default_rng(7)
    resin = ["a"] * castings[0] + ["b"] * castings[1]
    told = 0
    for _ in range(600):
        values = np.concatenate([rng.normal(60, s, n) for s, n in zip(spread, castings, strict=True)])
        (factor,) = value_differences(values, {"resin": resin})
        told += factor.differences[0].word != "not distinguishable"
    assert told / 600 < 0.12


def test_the_ratio_of_two_rates_of_equal_castings_has_the_usual_interval() -> None:
    # exp(ln r +- t sqrt(1/N1 + 1/N2)) where castings differ by no more than chance
    counts = [50, 52, 48, 50, 30, 31, 29, 30]
    (factor,) = rate_differences(counts, [1.0] * 8, {"mould": ["x"] * 4 + ["y"] * 4})
    (found,) = factor.differences
    reach = stats.t.ppf(0.975, 6) * np.sqrt(1 / 200.5 + 1 / 120.5)
    assert found.effect.value == pytest.approx(200.5 / 120.5)
    assert np.log(found.effect.high / found.effect.value) == pytest.approx(reach)


@pytest.mark.parametrize("seed", [2, 3])
def test_a_factor_that_does_nothing_is_seldom_said_to(seed: int) -> None:
    rng = np.random.default_rng(seed)
    told = 0
    for _ in range(200):
        counts = rng.poisson(40 * rng.lognormal(0, 0.35, 24))
        factors = {"mould": list(rng.choice(["x", "y", "z"], 24)), "resin": list(rng.choice(["a", "b"], 24))}
        found = rate_differences(counts, np.ones(24), factors)
        told += any(d.word != "not distinguishable" for factor in found for d in factor.differences)
    assert told / 200 < 0.09


def test_a_factor_that_halves_the_voids_is_told() -> None:
    rng = np.random.default_rng(4)
    told = 0
    for _ in range(50):
        rate = np.where(np.arange(30) < 15, 60.0, 30.0)
        counts = rng.poisson(rate * rng.lognormal(0, 0.25, 30))
        (factor,) = rate_differences(counts, np.ones(30), {"resin": ["old"] * 15 + ["new"] * 15})
        told += factor.differences[0].word == "less"  # new against old, in the order of their names
    assert told >= 47


def test_what_a_difference_may_come_from_instead_is_named() -> None:
    rng = np.random.default_rng(6)
    operator = rng.choice(["Ines", "Per"], 40)
    mould = np.where(rng.random(40) < 0.8, np.where(operator == "Ines", "new", "old"), rng.choice(["new", "old"], 40))
    counts = rng.poisson(np.where(operator == "Ines", 60.0, 30.0))  # the mould does nothing, and is told all the same
    lots = ["1"] * 20 + ["2"] * 20
    found = rate_differences(
        counts, np.ones(40), {"mould": list(mould), "lot": lots}, beside={"operator": list(operator)}
    )
    one, lot = found
    assert one.differences[0].word == "more"
    assert one.partly_with == ("operator",)
    assert one.differences[0].first is None
    assert (lot.partly_with, lot.differences[0].first) == ((), "1")


def test_factors_that_were_changed_together_are_named() -> None:
    resin = ["a", "a", "a", "b", "b", "b"]
    mould = ["x", "x", "x", "y", "y", "y"]
    day = ["mon", "tue", "wed", "mon", "tue", "wed"]
    found = {f.name: f for f in value_differences(range(6), {"resin": resin, "mould": mould, "day": day})}
    assert found["resin"].together_with == ("mould",)
    assert found["mould"].together_with == ("resin",)
    assert found["day"].together_with == ()


def test_unknown_levels_are_left_out_and_single_castings_are_too_few() -> None:
    (factor,) = value_differences([1.0, 2.0, 3.0, 4.0], {"operator": ["kim", "kim", None, "lee"]})
    assert factor.groups == (("kim", 2), ("lee", 1))
    assert factor.too_few
    assert factor.differences == ()


def test_castings_without_a_void_have_an_interval_too() -> None:
    (factor,) = rate_differences([0, 0, 0, 9, 11, 10], np.ones(6), {"resin": ["a"] * 3 + ["b"] * 3})
    (found,) = factor.differences
    assert 0 < found.effect.low < found.effect.high < 1
    assert found.word == "less"
