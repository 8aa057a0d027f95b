"""Checks on what the fit takes for granted, on trials in which it does not hold."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.pressure.checks import recut, spread_trend, void_trend
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.shrinkage import Shrinkage, fit_shrinkage

Cups = Callable[..., list[Cup]]


def fitted(cups: list[Cup]) -> Shrinkage:
    """Return the fit to cups."""
    return fit_shrinkage(gather(cups))


def test_where_all_voids_shrink_alike_their_spread_stays(even_cups: Cups) -> None:
    # Boyle's law shifts ln d and leaves its spread: a law of the log-normal under uniform compression
    found = spread_trend(fitted(even_cups()))
    assert found.value == pytest.approx(0.0, abs=0.005)
    assert found.low < 0.0 < found.high


def test_voids_that_do_not_shrink_widen_the_sizes(drawn_cups: Cups) -> None:
    random = np.random.default_rng(21)
    found = [spread_trend(fitted(drawn_cups(random, stiff_share=0.3))) for _ in range(20)]
    assert np.mean([each.low > 0.0 for each in found]) >= 0.7


def test_a_setting_of_voids_all_alike_has_no_trend() -> None:
    wide, alike = np.exp(np.linspace(-1.0, 1.0, 60)), np.full(60, 0.8)
    cups = [Cup("0psi", 0.0, wide, 0.1), Cup("0psi", 0.0, wide, 0.1), Cup("3psi", 0.2, alike, 0.1)]
    assert math.isnan(spread_trend(fitted([*cups, cups[2]])).value)


def test_voids_that_are_kept_show_no_trend(even_cups: Cups) -> None:
    found = void_trend(fitted(even_cups(median=0.3)))
    assert found.low < 0.0 < found.high
    assert found.value == pytest.approx(0.0, abs=0.05)


def test_lost_voids_show_as_a_trend(drawn_cups: Cups) -> None:
    random = np.random.default_rng(22)
    cups = [
        replace(cup, diameters=cup.diameters[: round(200 * (1.0 + cup.gauge_ratio) ** -0.3)])
        for cup in drawn_cups(random, cup_spread=0.02)
    ]
    found = void_trend(fitted(cups))
    assert found.value == pytest.approx(-0.3, abs=0.08)
    assert found.high < 0.0


def test_counts_are_taken_per_volume_where_volumes_are_known(even_cups: Cups) -> None:
    random = np.random.default_rng(23)
    cups = []
    for cup in even_cups():
        share = random.uniform(0.3, 1.0)
        kept = random.permutation(cup.diameters)[: round(share * cup.diameters.size)]
        cups.append(replace(cup, diameters=kept, volume_cm3=20.0 * share))
    per_volume = void_trend(fitted(cups))
    per_cup = void_trend(fitted([replace(cup, volume_cm3=math.nan) for cup in cups]))
    assert per_volume.high - per_volume.low < 0.3 * (per_cup.high - per_cup.low)
    assert per_volume.low < 0.01


def test_two_cups_do_not_tell_how_far_counts_scatter(even_cups: Cups) -> None:
    found = void_trend(fitted(even_cups(settings=(0.0, 60.0), offsets=(0.0,))))
    assert math.isfinite(found.value)
    assert math.isnan(found.low)


def test_where_no_void_is_missed_the_cut_does_not_matter(even_cups: Cups) -> None:
    cups = even_cups()
    found = recut(cups, fitted(cups))
    assert [row.raised for row in found.rows] == [1.0, 1.25, 1.5]
    assert [row.voids for row in found.rows] == sorted((row.voids for row in found.rows), reverse=True)
    assert all(row.exponent.value == pytest.approx(1 / 3, abs=0.005) for row in found.rows)
    assert found.drift.low < 0.0 < found.drift.high


def test_missed_small_voids_make_the_exponent_low_and_drift_with_the_cut(drawn_cups: Cups) -> None:
    # 30 % missed below 1.5 times the limit: the exponent is about 10 % low (simulated)
    random = np.random.default_rng(24)
    first, drifts = [], []
    for _ in range(30):
        cups = []
        for cup in drawn_cups(random, limit=0.19, cup_spread=0.02):
            missed = (cup.diameters < 1.5 * cup.smallest) & (random.random(cup.diameters.size) < 0.3)
            cups.append(replace(cup, diameters=cup.diameters[~missed]))
        fit = fitted(cups)
        first.append(fit.exponent.value)
        drifts.append(recut(cups, fit).drift)
    assert np.mean(first) == pytest.approx(0.9 / 3.0, abs=0.012)
    assert np.mean([drift.value for drift in drifts]) > 0.015
    assert np.mean([drift.low > 0.0 for drift in drifts]) > 0.4


def test_a_cut_that_leaves_too_few_voids_has_no_exponent(even_cups: Cups) -> None:
    cups = [
        replace(cup, diameters=np.array([0.2, 0.21, 0.22])) if cup.gauge_ratio > 2.0 else cup for cup in even_cups()
    ]
    found = recut(cups, fitted(cups))
    assert math.isnan(found.rows[1].exponent.value)
    assert found.rows[1].voids == 0
    assert math.isnan(found.drift.value)


def test_a_cut_that_empties_a_cup_has_a_drift_without_limits(even_cups: Cups) -> None:
    cups = [*even_cups(), Cup("60psi", 60 / 14.696, np.array([0.2, 0.21]), 0.19)]
    found = recut(cups, fitted(cups))
    assert math.isfinite(found.drift.value)
    assert math.isnan(found.drift.low)
