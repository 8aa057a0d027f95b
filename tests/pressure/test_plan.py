"""How many cups and mixes tell two settings apart."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import t as student

from bubblegrade.errors import InputError
from bubblegrade.pressure.plan import Noise, plan_difference, plan_precision, void_err

PSI_60 = 1.6259  # u of 60 psi over an atmosphere of 14.696 psi
SPREADS = st.floats(0.0, 0.2)


def usual_err(*, voids: float = 200.0, median: float = 0.6) -> float:
    """Return what 200 voids of the usual population leave open between open air and 60 psi."""
    return void_err(median=median, smallest=0.19, spread=0.5, log_squeezes=(0.0, PSI_60), voids=voids)


# Computed: cups per setting for 5 % on the ratio of two settings, 200 voids each
@pytest.mark.parametrize(("cup_spread", "cups"), [(0.0, 8), (0.02, 9), (0.05, 16), (0.10, 40), (0.15, 80)])
def test_cups_for_five_percent_on_a_ratio(cup_spread: float, cups: int) -> None:
    found = plan_precision(Noise(usual_err(), cup_spread))
    assert found.cups_per_setting == cups
    assert found.mixes == 2 * cups
    assert not found.blocked
    assert found.share <= 0.05


def test_with_all_voids_seen_the_error_is_the_spread_over_the_root_of_their_number() -> None:
    found = void_err(median=0.6, smallest=1e-9, spread=0.5, log_squeezes=(0.0, PSI_60), voids=400.0)
    assert found == pytest.approx(0.5 / math.sqrt(400.0))


def test_hidden_voids_leave_more_open() -> None:
    errs = [usual_err(median=median) for median in (2.0, 0.6, 0.4, 0.3)]
    assert errs == sorted(errs)


def test_one_mix_poured_over_both_settings_takes_its_spread_away() -> None:
    noise = Noise(usual_err(), cup_spread=0.03, mix_spread=0.15)
    apart, blocked = plan_precision(noise), plan_precision(noise, mixes=3)
    assert blocked.cups_per_setting < apart.cups_per_setting / 5
    assert (blocked.mixes, blocked.blocked) == (3, True)
    assert blocked.cups_per_setting % 3 == 0  # each mix fills as many cups at either


@given(SPREADS, SPREADS, st.integers(3, 6))
def test_a_blocked_plan_never_takes_more_than_a_few_cups_more(cup_spread: float, mix_spread: float, mixes: int) -> None:
    noise = Noise(0.04, cup_spread, mix_spread)
    blocked = plan_precision(noise, mixes=mixes).cups_per_setting
    assert blocked <= plan_precision(noise).cups_per_setting + mixes + 1


@given(SPREADS, st.floats(0.03, 0.3))
def test_a_finer_ratio_takes_more_cups(cup_spread: float, precision: float) -> None:
    noise = Noise(0.04, cup_spread)
    coarse = plan_precision(noise, precision=2.0 * precision).cups_per_setting
    assert plan_precision(noise, precision=precision).cups_per_setting >= coarse


@pytest.mark.parametrize(("low", "high"), [(0.0, 15.0), (40.0, 60.0), (60.0, 80.0)])
def test_planned_cups_find_the_difference_as_often_as_promised(low: float, high: float) -> None:
    squeezes = (math.log1p(low / 14.696), math.log1p(high / 14.696))
    noise = Noise(0.04, 0.05)
    cups = plan_difference(noise, log_squeezes=squeezes).cups_per_setting
    random, err = np.random.default_rng(9), math.hypot(0.04, 0.05)
    first = random.normal(0.0, err, (4000, cups))
    second = random.normal((squeezes[0] - squeezes[1]) / 3.0, err, (4000, cups))
    pooled = np.sqrt((first.var(axis=1, ddof=1) + second.var(axis=1, ddof=1)) / cups)
    found = np.abs(first.mean(axis=1) - second.mean(axis=1)) > student.ppf(0.975, 2 * cups - 2) * pooled
    assert 0.88 <= found.mean() <= 1.0


def test_settings_close_together_take_more_cups_than_settings_far_apart() -> None:
    noise = Noise(usual_err(), 0.05)
    near = plan_difference(noise, log_squeezes=(1.3, PSI_60)).cups_per_setting
    assert near > plan_difference(noise, log_squeezes=(0.0, PSI_60)).cups_per_setting


def test_the_same_setting_twice_is_refused() -> None:
    with pytest.raises(InputError, match=r"^both settings squeeze voids 2.72 times: give two different pressures"):
        plan_difference(Noise(0.04, 0.05), log_squeezes=(1.0, 1.0))


def test_what_nobody_casts_is_refused() -> None:
    with pytest.raises(InputError, match=r"^more than 1000 cups a setting would be needed for 0\.1%"):
        plan_precision(Noise(0.04, 0.15), precision=0.001)


def test_two_mixes_are_too_few_for_a_blocked_plan() -> None:
    with pytest.raises(InputError, match=r"^2 mixes are too few to pour over both settings: plan 3 at least"):
        plan_precision(Noise(0.04, 0.05), mixes=2)


def test_a_spread_below_0_is_a_broken_promise() -> None:
    with pytest.raises(AssertionError, match="a standard deviation is never below 0"):
        Noise(0.04, -0.01)


def test_levels_of_the_mixes_cost_a_blocked_plan_degrees_of_freedom() -> None:
    # by hand: 6 cups a setting, 12 - 3 - 1 = 8 degrees of freedom, t 2.306, error sqrt(2 (0.04^2 + 0.05^2) / 6)
    found = plan_precision(Noise(void_err=0.04, cup_spread=0.05, mix_spread=0.1), precision=0.10, mixes=3)
    assert found.cups_per_setting == 6
    assert found.log_half_width == pytest.approx(2.306 * math.sqrt(2.0 * 0.0041 / 6.0), rel=1e-4)
