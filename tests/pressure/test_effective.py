"""What the exponent means for the pot, and what the next trial takes."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.effective import effective_share, needed, spread_to_agree, telling_half_width
from bubblegrade.pressure.shrinkage import Shrinkage, fit_shrinkage

Cups = Callable[..., list[Cup]]


def fitted(cups: list[Cup], *, assumed_spread: float = 0.05) -> Shrinkage:
    """Return the fit to cups."""
    return fit_shrinkage(gather(cups), assumed_spread=assumed_spread)


@settings(deadline=None, max_examples=15)
@given(st.floats(0.3, 2.0))
def test_the_share_of_the_pressure_that_was_there_comes_back(even_cups: Cups, share: float) -> None:
    found = effective_share(fitted(even_cups(pressure_share=share, limit=0.01)))
    assert found.value == pytest.approx(share, abs=0.03 * share)
    assert found.low < share < found.high


def test_the_share_holds_1_where_the_exponents_interval_holds_boyles(even_cups: Cups) -> None:
    for exponent in (0.2, 0.28, 0.30, 1 / 3, 0.38, 0.5):
        fit = fitted(even_cups(exponent=exponent))
        share = effective_share(fit)
        assert (share.low <= 1.0 <= share.high) == (fit.exponent.low <= 1 / 3 <= fit.exponent.high)


def test_voids_that_did_not_shrink_felt_no_pressure(even_cups: Cups) -> None:
    found = effective_share(fitted(even_cups(exponent=-0.1)))
    assert (found.value, found.low) == (0.0, 0.0)


def test_without_an_open_cup_no_pressure_explains_any_shrinking(even_cups: Cups) -> None:
    found = effective_share(fitted(even_cups(exponent=0.6, settings=(30.0, 45.0, 60.0), limit=0.01)))
    assert found.value == math.inf


def test_in_a_vacuum_the_share_is_told_too(even_cups: Cups) -> None:
    found = effective_share(fitted(even_cups(settings=(-12.0, -6.0, 0.0), limit=0.01)))
    assert found.value == pytest.approx(1.0, abs=0.05)


def test_half_the_pressure_is_told_with_the_telling_half_width(even_cups: Cups) -> None:
    # 0.333 - 0.227, and 1.96 of the 1.96 + 1.28 standard errors that find it 9 times in 10
    assert telling_half_width(fitted(even_cups())) == pytest.approx((1 / 3 - 0.227) * 1.96 / 3.24, abs=0.002)


def test_four_times_the_cups_halve_the_interval(even_cups: Cups) -> None:
    fit = fitted(even_cups())
    half = fit.exponent.high - fit.exponent.value
    found = needed(fit, half / 2.0, cast=15)
    # a little fewer than 12, since Student's t falls with the cups
    assert found.cups_per_setting in {11, 12}
    assert found.mixes == 3


def test_where_these_cups_did_not_tell_it_more_are_asked_for(drawn_cups: Cups) -> None:
    # the answer may stay open though the interval is narrow enough: as many as now would only say it again
    fit = fitted(drawn_cups(np.random.default_rng(5), cup_spread=0.0, voids=30))
    found = needed(fit, 1.01 * (fit.exponent.high - fit.exponent.value), cast=15)
    assert (found.cups_per_setting, found.voids_per_cup) == (4, None)


def test_more_voids_help_only_as_far_as_the_voids_are_to_blame(drawn_cups: Cups) -> None:
    alike = fitted(drawn_cups(np.random.default_rng(5), cup_spread=0.0, voids=30))
    half = alike.exponent.high - alike.exponent.value
    assert needed(alike, 0.8 * half, cast=15).voids_per_cup is not None
    unlike = fitted(drawn_cups(np.random.default_rng(5), cup_spread=0.2, voids=2000))
    assert needed(unlike, 0.5 * (unlike.exponent.high - unlike.exponent.value), cast=15).voids_per_cup is None


def test_what_nobody_casts_is_not_asked_for(even_cups: Cups) -> None:
    assert needed(fitted(even_cups()), 1e-4, cast=15).cups_per_setting is None


def test_two_cups_are_settled_by_a_few_of_three_mixes(even_cups: Cups) -> None:
    fit = fitted(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))
    found = needed(fit, telling_half_width(fit), cast=2)
    assert found.cups_per_setting == 6
    assert (found.mixes, found.voids_per_cup) == (3, None)


def test_from_the_spread_to_agree_on_a_misfit_is_none(even_cups: Cups) -> None:
    cups = even_cups(settings=(0.0, 60.0), offsets=(0.0,), pressure_share=0.3)
    spread = spread_to_agree(fitted(cups))
    assert spread > 0.05
    assert fitted(cups, assumed_spread=0.99 * spread).exponent.high < 1 / 3
    assert fitted(cups, assumed_spread=1.01 * spread).exponent.high > 1 / 3


def test_where_the_voids_alone_allow_boyles_law_any_spread_does(even_cups: Cups) -> None:
    assert spread_to_agree(fitted(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))) == 0.0
