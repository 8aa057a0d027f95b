"""What intervals rest on: who is left out, and what is assumed where nobody can be."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.stats import t as student

from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.replicas import (
    Basis,
    Grouping,
    Replicas,
    assumed,
    group,
    influence,
    jackknife,
    leave_one_out,
)
from bubblegrade.pressure.shrinkage import fit_shrinkage

Cups = Callable[..., list[Cup]]
SIZES = np.exp(np.linspace(-1.0, 1.0, 30))


def cups_of(*placed: tuple[float, str]) -> list[Cup]:
    """Return cups at gauge ratios, each of a named mix."""
    return [Cup(f"{ratio}", ratio, SIZES, 0.01, mix=mix) for ratio, mix in placed]


def grouped(*placed: tuple[float, str]) -> Grouping:
    """Return how such cups are left out."""
    return group(gather(cups_of(*placed)))


def test_cups_without_mixes_are_left_out_one_by_one() -> None:
    found = grouped(*[(float(i), "") for i in range(5)])
    assert (found.basis, found.levels, found.freedom) == (Basis.CUPS, 1, 3.0)
    assert len(set(found.groups.tolist())) == 5


def test_one_mix_poured_over_everything_is_no_mix() -> None:
    found = grouped(*[(float(i), "a") for i in range(5)])
    assert (found.basis, found.levels, found.freedom) == (Basis.CUPS, 1, 3.0)


def test_mixes_poured_over_all_pressures_get_a_level_each_and_cups_are_left_out() -> None:
    found = grouped(*[(float(i), mix) for i in range(5) for mix in "abc"])
    assert (found.basis, found.levels, found.freedom) == (Basis.CUPS, 3, 11.0)


def test_mixes_at_one_pressure_each_are_left_out_whole() -> None:
    found = grouped(*[(float(i), f"{i}{half}") for i in range(3) for half in "aabb"])
    assert (found.basis, found.levels, found.freedom) == (Basis.MIXES, 1, 4.0)
    assert len(set(found.groups.tolist())) == 6


def test_a_mix_for_each_setting_leaves_nothing_to_compare_cups_with() -> None:
    found = grouped(*[(ratio, mix) for ratio, mix in ((0.0, "a"), (4.0, "b")) for _ in range(4)])
    assert found.basis is Basis.ASSUMED
    assert len(set(found.groups.tolist())) == 2  # the spread is from mix to mix


@pytest.mark.parametrize("ratios", [(0.0, 4.0), (0.0, 2.0, 4.0), (0.0, 4.0, 4.0, 4.0, 4.0)])
def test_too_few_cups_or_a_single_open_one_have_their_spread_assumed(ratios: tuple[float, ...]) -> None:
    found = grouped(*[(ratio, "") for ratio in ratios])
    assert found.basis is Basis.ASSUMED
    assert math.isinf(found.freedom)


def test_two_cups_at_two_settings_each_are_enough_to_leave_one_out() -> None:
    found = grouped((0.0, ""), (0.0, ""), (4.0, ""), (4.0, ""))
    assert (found.basis, found.freedom) == (Basis.CUPS, 2.0)


def test_a_group_left_out_is_out_and_the_others_are_in() -> None:
    selections = leave_one_out(np.array([0, 0, 1, 2]))
    assert selections.tolist() == [[0, 0, 1, 1], [1, 1, 0, 1], [1, 1, 1, 0]]


def test_the_jackknife_of_a_mean_is_its_standard_error() -> None:
    values = np.random.default_rng(3).standard_normal(12)
    means = leave_one_out(np.arange(12)) @ values / 11.0
    replicas = Replicas(means[:, np.newaxis], np.ones((12, 12)), 11.0 / 12.0, 11.0)
    err = values.std(ddof=1) / math.sqrt(12.0)
    assert float(replicas.err(means)) == pytest.approx(err)
    found = replicas.estimate(values.mean(), means)
    assert (found.high - found.low) / 2.0 == pytest.approx(student.ppf(0.975, 11) * err)
    narrow = replicas.estimate(values.mean(), means, confidence=0.9)
    assert (narrow.high - narrow.low) / 2.0 == pytest.approx(student.ppf(0.95, 11) * err)


def test_an_assumed_spread_adds_to_what_the_voids_say_in_quadrature(even_cups: Cups) -> None:
    trial = gather(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))
    fit = fit_shrinkage(trial)
    groups = np.arange(2)

    def err(spread: float) -> float:
        found = assumed(trial, fit.layout, fit.parameters, groups, spread=spread)
        return float(found.err(found.parameters[:, -2]))

    answer = influence(trial, fit.layout, fit.parameters, np.array([0.0, 1.0, 0.0]))
    assert err(0.0) > 0.02
    assert err(0.05) ** 2 - err(0.0) ** 2 == pytest.approx(0.05**2 * float(answer @ answer), rel=1e-6)
    # two cups: the exponent is the difference of their log-medians over the difference in u
    assert answer == pytest.approx(np.array([1.0, -1.0]) / trial.log_squeeze[1], rel=1e-9)


def test_cups_of_one_group_share_the_assumed_spread(even_cups: Cups) -> None:
    trial = gather(even_cups(settings=(0.0, 60.0)))
    fit = fit_shrinkage(trial)

    def err(groups: np.ndarray) -> float:
        found = assumed(trial, fit.layout, fit.parameters, groups, spread=0.05)
        return float(found.err(found.parameters[:, -2]))

    assert err(np.array([0, 0, 0, 1, 1, 1])) > 1.3 * err(np.arange(6))


def test_replicas_of_cups_are_the_fits_without_them(even_cups: Cups) -> None:
    trial = gather(even_cups())
    fit = fit_shrinkage(trial)
    found = jackknife(trial, fit.layout, fit.parameters, fit.grouping)
    without = fit_shrinkage(gather(trial.cups[1:]))
    np.testing.assert_allclose(found.parameters[0], without.parameters, atol=1e-8)
