"""The check without a distribution against even trials, and that it needs none."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.free_check import FreeCheck, free_check
from bubblegrade.pressure.replicas import group

Cups = Callable[..., list[Cup]]


def checked(cups: list[Cup]) -> FreeCheck:
    """Return the check on cups."""
    trial = gather(cups)
    return free_check(trial, group(trial))


@pytest.mark.parametrize(("what", "value"), [({}, 0.333), ({"pressure_share": 0.5}, 0.228), ({"exponent": 0.5}, 0.500)])
def test_even_trials_give_the_exponent(even_cups: Cups, what: dict[str, float], value: float) -> None:
    assert checked(even_cups(**what)).exponent.value == pytest.approx(value, abs=6e-4)  # computed


def test_an_even_trial_gives_the_interval(even_cups: Cups) -> None:
    found = checked(even_cups()).exponent
    assert (found.low, found.high) == (pytest.approx(0.295), pytest.approx(0.375))  # computed
    assert checked(even_cups()).excludes(0.23)
    assert not checked(even_cups()).excludes(1 / 3)


def test_the_check_needs_no_log_normal_sizes() -> None:
    random = np.random.default_rng(6)
    cups = []
    for ratio in (0.0, 1.0, 2.0, 4.0):
        for _ in range(4):
            sizes = random.uniform(0.5, 2.0, 400) ** 2 * (1.0 + ratio) ** (
                -1 / 3
            )  # flat roots: nothing like log-normal
            cups.append(Cup(f"{ratio}", ratio, sizes, 0.4))
    found = checked(cups)
    assert not found.excludes(1 / 3)
    assert found.exponent.high - found.exponent.low < 0.1


def test_where_few_voids_are_left_the_check_has_no_end(even_cups: Cups) -> None:
    found = checked(even_cups(median=0.12, offsets=(-0.3, 0.0, 0.3), settings=(0.0, 15.0, 30.0)))
    assert found.open_ended
    assert found.exponent.high == math.inf


def test_two_cups_leave_nothing_to_test_with(even_cups: Cups) -> None:
    found = checked(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))
    assert found.open_ended
    assert math.isnan(found.exponent.value)
    assert (found.exponent.low, found.exponent.high) == (-math.inf, math.inf)


def test_levels_of_the_mixes_drop_out(drawn_cups: Cups) -> None:
    random = np.random.default_rng(4)
    blocked = [checked(drawn_cups(random, mix_spread=0.15, cup_spread=0.03, blocked=True)) for _ in range(20)]
    apart = [checked(drawn_cups(random, mix_spread=0.15, cup_spread=0.03)) for _ in range(20)]
    width = [np.median([each.exponent.high - each.exponent.low for each in found]) for found in (blocked, apart)]
    assert width[0] < 0.5 * width[1]


def test_mixes_at_one_pressure_each_are_tested_whole(even_cups: Cups) -> None:
    cups = even_cups(settings=(0.0, 30.0, 60.0), offsets=(-0.05, -0.05, 0.05, 0.05))
    named = [Cup(c.setting, c.gauge_ratio, c.diameters, c.smallest, mix=f"{i // 2}") for i, c in enumerate(cups)]
    whole, single = checked(named).exponent, checked(cups).exponent
    assert whole.value == pytest.approx(single.value, abs=0.01)
    assert whole.high - whole.low > 1.3 * (single.high - single.low)


def test_voids_that_grow_under_pressure_have_an_exponent_below_zero(even_cups: Cups) -> None:
    assert checked(even_cups(exponent=-0.2)).exponent.value == pytest.approx(-0.2, abs=0.01)
