"""The leak of a closed pot, against worked examples and simulated readings."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from bubblegrade.pressure.gas import GasState
from bubblegrade.pressure.leak import GAS_CONSTANT, Drift, Heat, Leak, Series, fit_leak, molar_flow
from bubblegrade.units import PSI_KPA

AIR_KPA = 101.325
SHARP = 0.001  # psi: readings without a doubt worth the name
NO_DRIFT = Drift(0.0, 0.0)


def series(
    psig: list[float], celsius: list[float], hours: list[float], *, step: float = 0.0, noise: float = SHARP
) -> Series:
    """Return readings in psi, degrees Celsius and hours."""
    shape = np.ones(len(psig))
    return Series(
        at_s=3600.0 * np.array(hours),
        kpa=PSI_KPA * np.array(psig) + AIR_KPA,
        kelvin=np.array(celsius) + 273.15,
        step_kpa=step * PSI_KPA * shape,
        noise_kpa=noise * PSI_KPA * shape,
    )


def drop_psi(leak: Leak, hours: float) -> tuple[float, float]:
    """Return median and standard deviation of a drop."""
    drops = leak.drop_kpa(3600.0 * hours) / PSI_KPA
    return float(np.median(drops)), float(np.std(drops))


def test_the_loss_with_its_temperature_taken_out_is_the_computed_one() -> None:
    # p1 - p2 T1 / T2: 60 psi at 25 C to 59 psi at 23 C, computed 0.502307 psi
    leak = fit_leak(series([60.0, 59.0], [25.0, 23.0], [0.0, 1.0]), NO_DRIFT)
    assert drop_psi(leak, 1.0)[0] == pytest.approx(0.502307, abs=1e-4)


def test_cooling_alone_is_no_leak() -> None:
    # 25 to 23 C from 60 psi reads 59.4989 psi, computed
    leak = fit_leak(series([60.0, 59.4989], [25.0, 23.0], [0.0, 1.0]), NO_DRIFT)
    assert drop_psi(leak, 1.0)[0] == pytest.approx(0.0, abs=2e-4)


def test_a_code_s_worked_example_of_temperature_holds() -> None:
    # 20 psi at 70 F reads 18 psi at 40 F without a leak; 18.03 computed
    leak = fit_leak(series([20.0, 18.03], [(70.0 - 32.0) / 1.8, (40.0 - 32.0) / 1.8], [0.0, 1.0]), NO_DRIFT)
    assert drop_psi(leak, 1.0)[0] == pytest.approx(0.0, abs=0.01)


def test_the_doubt_of_two_readings_is_that_of_the_formula() -> None:
    # sqrt(2 r^2 + (0.2548 u)^2) with r 0.25 psi and u 1 K at 60 psi and 20 C: computed 0.4358 psi
    leak = fit_leak(series([60.0, 59.5], [20.0, 20.0], [0.0, 1.0], noise=0.25), Drift(1.0 / 293.15, 0.0))
    middle, doubt = drop_psi(leak, 1.0)
    assert middle == pytest.approx(0.5, abs=0.01)
    assert doubt == pytest.approx(0.4358, rel=0.01)


def test_the_flow_is_that_of_the_rule_s_example() -> None:
    # 40 CFR 1065.644: inputs from the rule; 2.965705e-4 mol/s computed; it prints 0.00030 (from memory)
    flow = molar_flow(0.002, GasState(25.3, 293.15), GasState(50.6, 293.15), 70.0)
    assert flow * GAS_CONSTANT / 8.314472 == pytest.approx(2.965705e-4, rel=1e-6)
    assert round(flow, 5) == 0.00030
    assert 1000.0 * flow * GAS_CONSTANT * 293.15 / 1000.0 == pytest.approx(0.722857, rel=1e-6)


def test_air_leaves_in_proportion_to_its_absolute_pressure() -> None:
    leak = fit_leak(series([60.0, 30.0], [25.0, 25.0], [0.0, 1.0]), NO_DRIFT)
    left = [float(np.median(leak.kpa(3600.0 * hours))) for hours in (0.0, 1.0, 2.0)]
    assert left[1] / left[0] == pytest.approx(left[2] / left[1], rel=1e-6)


def test_twenty_looks_at_a_still_needle_are_not_twenty_witnesses() -> None:
    hours = list(np.linspace(0.0, 2.0, 20))
    many = fit_leak(series([60.0] * 20, [25.0] * 20, hours, step=1.0, noise=0.1), NO_DRIFT)
    # A needle may have gone from just under 60.5 to just over 59.5 psi.
    assert np.percentile(many.drop_kpa(7200.0) / PSI_KPA, 97.5) > 0.6


def test_more_readings_do_not_lower_what_they_share() -> None:
    drift = Drift(1.0 / 298.15, 0.0)
    few = fit_leak(series([60.0, 59.0], [25.0] * 2, [0.0, 2.0]), drift)
    many = fit_leak(series(list(np.linspace(60.0, 59.0, 30)), [25.0] * 30, list(np.linspace(0.0, 2.0, 30))), drift)
    assert drop_psi(many, 2.0)[1] == pytest.approx(drop_psi(few, 2.0)[1], rel=0.05)


def test_readings_off_an_even_fall_widen_the_doubt() -> None:
    even = fit_leak(series([60.0, 59.0, 58.0], [25.0] * 3, [0.0, 1.0, 2.0], noise=0.1), NO_DRIFT)
    jumping = fit_leak(series([60.0, 60.0, 58.0], [25.0] * 3, [0.0, 1.0, 2.0], noise=0.1), NO_DRIFT)
    assert even.scatter == 1.0
    assert jumping.scatter > 3.0
    assert drop_psi(jumping, 2.0)[1] > 3.0 * drop_psi(even, 2.0)[1]


@pytest.mark.parametrize(("step", "noise"), [(0.0, 0.3), (0.2, 0.3), (1.0, 0.1)])
def test_what_is_negligible_moves_no_course(step: float, noise: float, monkeypatch: pytest.MonkeyPatch) -> None:
    hours, random = list(np.linspace(0.0, 4.0, 60)), np.random.default_rng(7)
    gauge = 60.0 - 0.3 * np.array(hours) + random.normal(0.0, noise, 60)
    rounded = list(np.round(gauge / step) * step if step else gauge)
    readings, drift, heat = (
        series(rounded, [25.0] * 60, hours, step=step, noise=noise),
        Drift(0.01, 0.01),
        Heat(40.0, 180.0),
    )
    found = fit_leak(readings, drift, heat)
    monkeypatch.setattr("bubblegrade.pressure.leak.NEGLIGIBLE", np.inf)
    everything = fit_leak(readings, drift, heat)
    np.testing.assert_allclose(found.start_kpa, everything.start_kpa, rtol=1e-9)
    np.testing.assert_allclose(found.fall, everything.fall, rtol=1e-9)


def simulated(random: np.random.Generator, **test: Any) -> tuple[Series, float]:
    """Return readings of a pot that loses a share of its air, and the share as a fall of ln(p / T)."""
    count, step, noise, doubt_k = test["count"], test["step"], test["noise"], test["doubt_k"]
    since = np.linspace(0.0, 1.0, count)
    fall = random.uniform(0.0, 0.06)
    kelvin = 298.15 + since * random.normal(0.0, 2.0)
    true = (random.uniform(60.0, 63.0) * PSI_KPA + AIR_KPA) * kelvin / kelvin[0] * np.exp(-fall * since)
    psig = np.round(((true - AIR_KPA) / PSI_KPA + random.normal(0.0, noise, count)) / step) * step
    celsius = kelvin - 273.15 + since * random.normal(0.0, doubt_k)
    return series(list(psig), list(celsius), list(2.0 * since), step=step, noise=noise), fall


KINDS: tuple[dict[str, Any], ...] = (
    {"count": 2, "step": 1.0, "noise": 0.2, "doubt_k": 1.0},
    {"count": 2, "step": 2.0, "noise": 0.2, "doubt_k": 0.5},
    {"count": 6, "step": 1.0, "noise": 0.1, "doubt_k": 0.5},
    {"count": 20, "step": 1.0, "noise": 0.1, "doubt_k": 0.2},
)


@pytest.mark.long
def test_the_limits_hold_the_true_leak_in_93_to_97_percent_and_verdicts_are_right() -> None:
    random = np.random.default_rng(4)
    held = wrong = told = 0
    each, allowed = 250, 0.03
    for kind in KINDS * each:
        readings, fall = simulated(random, **kind)
        low, high = np.percentile(fit_leak(readings, Drift(kind["doubt_k"] / 298.15, 0.0)).fall, [2.5, 97.5])
        held += low <= fall <= high
        told += not low <= allowed <= high
        wrong += (high < allowed < fall) or (low > allowed > fall)
    assert 0.93 <= held / (each * len(KINDS)) <= 0.97
    assert wrong / told <= 0.05


def test_the_draws_have_the_limits_of_a_normal_doubt() -> None:
    leak = fit_leak(series([60.0, 59.0], [25.0] * 2, [0.0, 1.0]), Drift(0.01, 0.0))
    low, high = np.percentile(leak.fall, [2.5, 97.5])
    assert (high - low) / 2.0 == pytest.approx(1.96 * 0.01, rel=0.01)
    assert math.isclose((high + low) / 2.0, math.log((60 * PSI_KPA + AIR_KPA) / (59 * PSI_KPA + AIR_KPA)), rel_tol=0.02)
