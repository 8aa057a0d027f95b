"""A plan for a trial of two settings."""

from __future__ import annotations

import math

import pytest

from bubblegrade.errors import InputError
from bubblegrade.pressure.plan import Noise, plan_difference, void_err
from bubblegrade.pressure.trial_plan import Assumed, assumed_void_err, plan_trial

SQUEEZES = (1.3142, 1.6259)  # 40 and 60 psi over an atmosphere of 14.696 psi


def test_it_is_the_plan_of_its_parts_in_either_order() -> None:
    found = plan_trial(Assumed(), log_squeezes=SQUEEZES)
    noise = Noise(0.5 / math.sqrt(200.0), 0.05, 0.10)
    assert found.blocked == plan_difference(noise, log_squeezes=SQUEEZES, mixes=3)
    assert found.apart == plan_difference(noise, log_squeezes=SQUEEZES)
    assert plan_trial(Assumed(), log_squeezes=SQUEEZES[::-1]) == found
    assert found.difference_share == pytest.approx(math.exp((SQUEEZES[1] - SQUEEZES[0]) / 3.0) - 1.0)


def test_voids_too_small_to_count_leave_more_open() -> None:
    hidden = Assumed(median_mm=0.4, smallest_mm=0.19)
    assert assumed_void_err(hidden, SQUEEZES) == void_err(
        median=0.4, smallest=0.19, spread=0.5, log_squeezes=SQUEEZES, voids=200.0
    )
    assert assumed_void_err(hidden, SQUEEZES) > assumed_void_err(Assumed(), SQUEEZES)


def test_a_plan_without_blocks_beyond_1000_cups_is_none() -> None:
    assert plan_trial(Assumed(mix_spread=2.0), log_squeezes=SQUEEZES).apart is None


def test_a_trial_that_no_number_of_cups_settles_is_refused() -> None:
    with pytest.raises(InputError, match=r"^more than 1000 cups a setting would be needed"):
        plan_trial(Assumed(cup_spread=2.0), log_squeezes=SQUEEZES)
