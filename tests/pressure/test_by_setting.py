"""Each setting for itself, beside Boyle's law and beside the naive ratio of means."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.by_setting import SettingRow, by_setting, sorted_around
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.replicas import Basis
from bubblegrade.pressure.shrinkage import fit_shrinkage

Cups = Callable[..., list[Cup]]


def rows(cups: list[Cup]) -> dict[str, SettingRow]:
    """Return the rows of a trial by their settings."""
    return {row.name: row for row in by_setting(fit_shrinkage(gather(cups)))}


def test_each_setting_shows_its_own_ratio(even_cups: Cups) -> None:
    found = rows(even_cups())
    for name, ratio in (("15psi", 0.7910), ("30psi", 0.6902), ("45psi", 0.6267), ("60psi", 0.5816)):
        row = found[name]
        assert row.boyle_diameter_ratio == pytest.approx(ratio, abs=6e-5)
        assert row.diameter_ratio.value == pytest.approx(ratio, abs=0.002)
        assert row.diameter_ratio.low < ratio < row.diameter_ratio.high
        assert row.boyle_volume_ratio == pytest.approx(ratio**3, abs=2e-4)
        assert row.volume_ratio.low == pytest.approx(row.diameter_ratio.low**3)
        assert (row.cups, row.basis) == (3, Basis.MEASURED)


def test_the_reference_is_itself(even_cups: Cups) -> None:
    row = rows(even_cups())["0psi"]
    assert row.is_reference
    assert row.diameter_ratio == Estimate(1.0, 1.0, 1.0)
    assert (row.naive_ratio, row.naive_off) == (1.0, 0.0)
    assert math.isnan(row.effective_share.value)
    assert math.isnan(row.exponent.value)


# Bias of the ratio of means at 60 psi, limit 0.19, spread 0.5, in percent, computed
@pytest.mark.parametrize(("median", "off"), [(0.6, 6.9), (0.4, 18.6), (0.3, 29.4)])
def test_the_ratio_of_the_means_seen_is_off_and_the_fit_says_by_how_much(
    even_cups: Cups, median: float, off: float
) -> None:
    row = rows(even_cups(median=median))["60psi"]
    assert 100.0 * (row.naive_expected / row.boyle_diameter_ratio - 1.0) == pytest.approx(off, abs=0.6)
    assert row.naive_ratio == pytest.approx(row.naive_expected, rel=0.01)
    assert 100.0 * row.naive_off == pytest.approx(off, abs=1.2)


def test_a_setting_of_which_most_is_hidden_is_extrapolated(even_cups: Cups) -> None:
    found = rows(even_cups(median=0.3))
    assert not found["45psi"].extrapolated
    assert found["60psi"].extrapolated
    assert found["60psi"].seen_share == pytest.approx(0.432, abs=0.02)  # computed


def test_half_the_pressure_is_what_the_voids_report(even_cups: Cups) -> None:
    row = rows(even_cups(pressure_share=0.5))["60psi"]
    assert row.effective_share.value == pytest.approx(0.5, abs=0.005)
    assert row.effective_gauge_ratio.value * 14.696 == pytest.approx(30.0, abs=0.3)
    assert row.effective_share.low < 0.5 < row.effective_share.high < 1.0


def test_the_exponent_of_one_setting_is_its_ratio_over_its_squeeze(even_cups: Cups) -> None:
    row = rows(even_cups(exponent=0.5))["30psi"]
    assert row.exponent.value == pytest.approx(-row.log_ratio.value / row.log_squeeze)
    assert row.exponent.low < row.exponent.value < row.exponent.high


def test_warm_gas_takes_less_pressure_to_explain(even_cups: Cups) -> None:
    warm = [replace(cup, warmth=1.0 if cup.gauge_ratio == 0.0 else 1.1) for cup in even_cups(limit=0.01)]
    row = rows(warm)["60psi"]
    # the gas law at 1.1 times the temperature takes 1.1 times the pressure for the same size
    assert row.effective_gauge_ratio.value == pytest.approx(1.1 * (1.0 + 60.0 / 14.696) - 1.0, rel=1e-3)


def test_a_vacuum_is_compared_with_open_air(even_cups: Cups) -> None:
    found = rows(even_cups(settings=(-10.0, 0.0, 30.0), limit=0.01))
    assert found["0psi"].is_reference
    row = found["-10psi"]
    assert row.diameter_ratio.value == pytest.approx((4.696 / 14.696) ** (-1 / 3), abs=0.001)
    assert row.effective_share.low < 1.0 < row.effective_share.high


def test_a_setting_with_a_single_cup_borrows_the_spread_of_the_others(even_cups: Cups) -> None:
    cups = even_cups(settings=(0.0, 30.0)) + even_cups(settings=(60.0,), offsets=(0.0,))
    found = rows(cups)
    assert found["60psi"].basis is found["30psi"].basis is Basis.MEASURED
    half = (found["60psi"].log_ratio.high - found["60psi"].log_ratio.low) / 2.0
    assert 0.02 < half < 0.2


def test_cups_that_are_alike_by_chance_do_not_tell_a_ratio_better_than_their_voids(even_cups: Cups) -> None:
    cups = [
        *even_cups(settings=(0.0, 60.0), offsets=(0.0, 0.0), limit=0.01),
        *even_cups(settings=(15.0, 30.0, 45.0), offsets=(-0.05, 0.05), limit=0.01),
    ]
    ratio = rows(cups)["60psi"].log_ratio
    # 0.5 over the root of 400 voids at either setting: the two cups of each would say no doubt at all
    assert (ratio.high - ratio.low) / 2.0 > 1.96 * math.sqrt(2.0 * 0.5**2 / 400)


def test_mixes_that_are_alike_by_chance_do_not_tell_a_ratio_better_than_their_voids(even_cups: Cups) -> None:
    def two_mixes(settings: tuple[float, ...], apart: float) -> list[Cup]:
        cups = even_cups(settings=settings, offsets=(-apart, -apart, apart, apart), limit=0.01)
        return [replace(cup, mix=f"{cup.setting} {i % 4 // 2}") for i, cup in enumerate(cups)]

    ratio = rows(two_mixes((0.0, 60.0), 0.0) + two_mixes((15.0, 30.0, 45.0), 0.05))["60psi"].log_ratio
    assert (ratio.high - ratio.low) / 2.0 > 1.96 * math.sqrt(2.0 * 0.5**2 / 800)


def test_settings_that_leave_the_law_do_not_pass_for_cups_that_differ(even_cups: Cups) -> None:
    leaked = [replace(cup, setting="60psi", gauge_ratio=60.0 / 14.696) for cup in even_cups(settings=(0.0,))]
    found = rows(even_cups(settings=(0.0, 15.0, 30.0, 45.0)) + leaked)
    kept = rows(even_cups())
    for name in ("45psi", "60psi"):
        half, usual = ((row.log_ratio.high - row.log_ratio.low) / 2.0 for row in (found[name], kept[name]))
        assert half == pytest.approx(usual, rel=0.15)


def test_two_cups_have_an_assumed_spread(even_cups: Cups) -> None:
    row = rows(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))["60psi"]
    assert row.basis is Basis.ASSUMED
    half = (row.log_ratio.high - row.log_ratio.low) / 2.0
    # 0.05 for each cup, and 0.5 over the root of 200 voids with a little more for the hidden ones
    assert half == pytest.approx(1.96 * math.sqrt(2.0 * (0.05**2 + 0.00181)), rel=0.02)


def test_a_setting_that_no_mix_joins_to_the_reference_cannot_be_told(even_cups: Cups) -> None:
    def mixed(settings: tuple[float, ...], mix: str) -> list[Cup]:
        return [replace(cup, mix=mix) for cup in even_cups(settings=settings, offsets=(-0.02, 0.02))]

    found = rows(mixed((0.0, 60.0), "a") + mixed((15.0, 45.0), "b"))
    assert math.isnan(found["15psi"].log_ratio.value)
    assert math.isnan(found["45psi"].diameter_ratio.value)
    assert found["60psi"].diameter_ratio.value == pytest.approx(0.5816, abs=0.01)


def test_levels_of_the_mixes_drop_out_of_a_ratio(drawn_cups: Cups) -> None:
    random = np.random.default_rng(14)
    blocked = rows(drawn_cups(random, mix_spread=0.3, cup_spread=0.01, blocked=True))["60psi"].log_ratio
    assert blocked.low < math.log(0.5816) < blocked.high
    assert blocked.high - blocked.low < 0.3


def test_an_interval_turned_round_keeps_its_order() -> None:
    assert sorted_around(Estimate(2.0, 1.0, 4.0), -1.0) == (-2.0, -4.0, -1.0)
    assert sorted_around(Estimate(2.0, 1.0, 4.0), 0.5) == (1.0, 0.5, 2.0)
