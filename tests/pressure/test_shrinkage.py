"""The fit over all cups against trials laid out by quantiles, and its laws."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.shrinkage import (
    Shrinkage,
    boyle_exponent_at,
    cup_spread,
    cup_spread_estimate,
    fit_shrinkage,
    pooled_exponent,
    variance_from_voids,
)

Cups = Callable[..., list[Cup]]


def fitted(cups: list[Cup]) -> Shrinkage:
    """Return the fit to cups."""
    return fit_shrinkage(gather(cups))


# Computed for the even trials of conftest.py: what, voids, exponent with limits.
EVEN = [
    ({}, 2818, 0.3339, 0.2837, 0.3841),
    ({"pressure_share": 0.5}, 2898, 0.2274, 0.1769, 0.2780),
    ({"exponent": 0.5}, 2626, 0.4986, 0.4465, 0.5507),
    ({"median": 0.3}, 1787, 0.3279, 0.2739, 0.3819),
    ({"median": 0.12}, 223, 0.3255, 0.2400, 0.4110),
]


@pytest.mark.parametrize(("what", "voids", "value", "low", "high"), EVEN)
def test_even_trials_give_the_exponent_and_its_interval(
    even_cups: Cups, what: dict[str, float], voids: int, value: float, low: float, high: float
) -> None:
    found = fitted(even_cups(**what))
    assert found.trial.count.sum() == voids
    assert found.exponent.value == pytest.approx(value, abs=6e-5)
    assert found.exponent.low == pytest.approx(low, abs=6e-5)
    assert found.exponent.high == pytest.approx(high, abs=6e-5)


def test_an_even_trial_gives_its_population_back(even_cups: Cups) -> None:
    found = fitted(even_cups())
    assert found.median == pytest.approx(0.6004, abs=6e-5)
    assert found.spread == pytest.approx(0.5004, abs=6e-5)
    assert found.voids_per_cup == pytest.approx(200.0, abs=0.06)


def test_photographs_with_different_limits_give_the_same_exponent(even_cups: Cups) -> None:
    cups = [replace(cup, smallest=0.19 + 0.02 * (i % 4)) for i, cup in enumerate(even_cups())]
    assert fitted(cups).exponent.value == pytest.approx(0.3339, abs=0.01)


@settings(deadline=None, max_examples=15)
@given(st.floats(1e-3, 1e3))
def test_the_unit_of_the_diameters_does_not_matter(even_cups: Cups, factor: float) -> None:
    cups = even_cups(median=0.3)
    other = [replace(cup, diameters=factor * cup.diameters, smallest=factor * cup.smallest) for cup in cups]
    first, second = fitted(cups), fitted(other)
    assert second.exponent.value == pytest.approx(first.exponent.value, abs=1e-7)
    assert second.exponent.low == pytest.approx(first.exponent.low, abs=1e-7)
    assert second.median == pytest.approx(factor * first.median, rel=1e-7)


@settings(deadline=None, max_examples=15)
@given(st.randoms(use_true_random=False))
def test_the_order_of_the_cups_does_not_matter(even_cups: Cups, shuffler: object) -> None:
    cups = even_cups(median=0.3)
    first = fitted(cups).exponent
    shuffler.shuffle(cups)  # type: ignore[attr-defined]
    second = fitted(cups).exponent
    assert (second.value, second.low) == (pytest.approx(first.value, abs=1e-8), pytest.approx(first.low, abs=1e-8))


@settings(deadline=None, max_examples=15)
@given(st.floats(0.0, 0.6))
def test_any_exponent_comes_back_where_all_voids_are_seen(even_cups: Cups, exponent: float) -> None:
    found = fitted(even_cups(exponent=exponent, limit=1e-3))
    assert found.exponent.value == pytest.approx(exponent, abs=1e-6)


def test_warm_gas_is_taken_into_account(even_cups: Cups) -> None:
    # 25 C at closing, 60 C at gel in the pot: diameters 1.038 times larger (computed)
    warmth = 333.15 / 298.15
    cups = [
        cup
        if cup.gauge_ratio == 0.0
        else replace(cup, diameters=cup.diameters * warmth ** (1 / 3), warmth=warmth, smallest=1e-3)
        for cup in even_cups(limit=1e-3)
    ]
    assert fitted(cups).exponent.value == pytest.approx(1 / 3, abs=1e-6)


@pytest.mark.parametrize(("share", "exponent"), [(0.5, 0.227), (0.75, 0.287), (0.9, 0.316), (1.0, 1 / 3)])
def test_a_share_of_the_pressure_looks_like_another_exponent(even_cups: Cups, share: float, exponent: float) -> None:
    # simulated; the weights of the settings move it by up to 0.002
    assert boyle_exponent_at(fitted(even_cups()), share) == pytest.approx(exponent, abs=0.002)
    assert fitted(even_cups(pressure_share=share, limit=0.02)).exponent.value == pytest.approx(exponent, abs=0.002)


def test_the_spread_between_cups_is_found_beyond_that_of_their_voids(drawn_cups: Cups) -> None:
    random = np.random.default_rng(1)
    found = [cup_spread(fitted(drawn_cups(random, cup_spread=0.15))) for _ in range(40)]
    assert float(np.mean(np.square(found))) == pytest.approx(0.15**2, rel=0.15)
    none = [cup_spread(fitted(drawn_cups(random, cup_spread=0.0))) for _ in range(40)]
    assert float(np.mean(np.square(none))) < 0.02**2


def test_the_interval_of_the_cup_spread_holds_the_true_one(drawn_cups: Cups) -> None:
    random = np.random.default_rng(31)
    found = [cup_spread_estimate(fitted(drawn_cups(random, cup_spread=0.1))) for _ in range(100)]
    inside = sum(each.low <= 0.1 <= each.high for each in found)
    assert 89 <= inside <= 99  # of 100 at 95 %: fewer in 1 of 100
    assert all(each.low <= each.value <= each.high for each in found)


def test_of_three_cups_no_spread_is_told(even_cups: Cups) -> None:
    assert math.isnan(cup_spread(fitted(even_cups(settings=(0.0, 30.0, 60.0), offsets=(0.0,)))))


def test_one_spread_between_all_cups_gives_a_similar_interval(even_cups: Cups, drawn_cups: Cups) -> None:
    random = np.random.default_rng(2)
    fits = [fitted(drawn_cups(random, cup_spread=0.1)) for _ in range(60)]
    pooled = [pooled_exponent(fit).high - fit.exponent.value for fit in fits]
    left_out = [fit.exponent.high - fit.exponent.value for fit in fits]
    assert np.mean(pooled) == pytest.approx(np.mean(left_out), rel=0.1)
    assert np.std(pooled) < 0.85 * np.std(left_out)
    two = fitted(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))
    assert pooled_exponent(two) == two.exponent


def test_the_voids_alone_are_surer_than_the_cups(even_cups: Cups) -> None:
    found = fitted(even_cups())
    assert math.sqrt(variance_from_voids(found)) < found.exponent_err


def test_fifteen_cups_are_fitted_in_milliseconds(even_cups: Cups) -> None:
    cups = even_cups()
    fitted(cups)
    begin = time.process_time()
    for _ in range(10):
        assert fitted(cups).exponent.low < 1 / 3
    assert (time.process_time() - begin) / 10 < 0.1
