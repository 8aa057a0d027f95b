"""The gas law against Boyle's own table, common practice, worked examples and the formulas' laws."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.errors import UnitError
from bubblegrade.pressure.atmosphere import altitude_kpa
from bubblegrade.pressure.gas import (
    GasState,
    kelvin,
    laplace_kpa,
    log_squeeze,
    next_gain_share,
    ratios,
    size_at_open_air_mm,
    size_under_pressure_mm,
    tense_diameter_ratio,
)
from bubblegrade.units import PSI_KPA, GaugePressure

SEA = GasState(101.325)
PRESSURES = st.floats(20.0, 2000.0)
KELVINS = st.floats(260.0, 480.0)
SIZES_MM = st.floats(1e-4, 5.0)

# R. Boyle, A Defence of the Doctrine touching the Spring and Weight of the Air (1662), as the dataset `Boyle` of the
# R package loedata prints it: spaces of air, inches of mercury with the atmosphere.
BOYLE_1662 = [
    *[(48, 29.1250), (46, 30.5625), (44, 31.9375), (42, 33.5000), (40, 35.3125), (38, 37.0000), (36, 39.3125)],
    *[(34, 41.6250), (32, 44.1875), (30, 47.0625), (28, 50.3125), (26, 54.3125), (24, 58.8125), (23, 61.3125)],
    *[(22, 64.0625), (21, 67.0625), (20, 70.6875), (19, 74.1250), (18, 77.8750), (17, 82.7500), (16, 87.8750)],
    *[(15, 93.0625), (14, 100.4375), (13, 107.8125), (12, 117.5625)],
]
# Computed with 101 325 Pa: psi gauge, absolute over open air, volume ratio, diameter ratio.
EXPECTED = [
    (10, 1.68046, 0.59508, 0.84112),
    (15, 2.02069, 0.49488, 0.79098),
    (20, 2.36092, 0.42356, 0.75100),
    (30, 3.04138, 0.32880, 0.69020),
    (40, 3.72184, 0.26868, 0.64528),
    (50, 4.40230, 0.22715, 0.61016),
    (60, 5.08276, 0.19674, 0.58161),
    (80, 6.44368, 0.15519, 0.53739),
    (100, 7.80460, 0.12813, 0.50414),
]


def at(psig: float, *, atmosphere_kpa: float = 101.325, celsius: float = 25.0) -> GasState:
    """Return the gas at a dial's reading."""
    return GasState(atmosphere_kpa + psig * PSI_KPA, kelvin(celsius))


@pytest.mark.parametrize(("psig", "squeeze", "volume", "diameter"), EXPECTED)
def test_ratios_at_sea_level_are_those_of_the_table(
    psig: float, squeeze: float, volume: float, diameter: float
) -> None:
    found = ratios(SEA, at(psig))
    assert math.exp(log_squeeze(SEA, at(psig))) == pytest.approx(squeeze, abs=6e-6)
    assert found.volume == pytest.approx(volume, abs=6e-6)
    assert found.diameter == pytest.approx(diameter, abs=6e-6)
    assert found.area == pytest.approx(diameter**2, abs=2e-5)


@pytest.mark.parametrize(
    ("psig", "ratio"), [(5, 0.9070), (15, 0.7910), (30, 0.6902), (45, 0.6267), (60, 0.5816), (80, 0.5374)]
)
def test_diameter_ratios_with_an_atmosphere_of_14_696_psi(psig: float, ratio: float) -> None:
    air = 14.696 * PSI_KPA
    assert ratios(GasState(air), at(psig, atmosphere_kpa=air)).diameter == pytest.approx(ratio, abs=5e-5)
    assert log_squeeze(GasState(air), at(60, atmosphere_kpa=air)) == pytest.approx(1.6259, abs=5e-5)


@pytest.mark.parametrize(("psig", "percent"), [(0, 9.30), (15, 5.05), (30, 3.47), (45, 2.65), (60, 2.14)])
def test_each_further_5_psi_brings_less(psig: float, percent: float) -> None:
    gain = next_gain_share(GaugePressure(psig * PSI_KPA), 14.696 * PSI_KPA)
    assert 100.0 * gain == pytest.approx(percent, abs=0.005)


def test_each_15_psi_from_open_air_halves_then_takes_33_then_25_percent_of_the_volume() -> None:
    # common practice, with open air at about 15 psi absolute
    air = GasState(15.0)
    volumes = [ratios(air, GasState(15.0 * (1 + n))).volume for n in range(4)]
    taken = [1.0 - after / before for before, after in itertools.pairwise(volumes)]
    assert taken == pytest.approx([0.50, 0.33, 0.25], abs=0.005)


def test_doubling_the_absolute_pressure_takes_20_6_percent_of_the_radius() -> None:
    # common practice among casters; computed
    assert 1.0 - ratios(GasState(100.0), GasState(200.0)).diameter == pytest.approx(0.206, abs=5e-4)


def test_from_20_to_40_psi_gauge_counts_by_absolute_pressures() -> None:
    # computed; by the gauge alone it would be 0.793701
    assert ratios(at(20), at(40)).diameter == pytest.approx(0.859227, abs=5e-7)
    assert ratios(at(30), at(60)).diameter == pytest.approx(0.842669, abs=5e-7)


def test_from_125_to_55_15_psi_a_volume_doubles() -> None:
    # a fluid-power course note: 125 psi gauge, 25 to 50 cubic inches, atmosphere 14.7 psi
    assert ratios(GasState(125.0 + 14.7), GasState(55.15 + 14.7)).volume == pytest.approx(2.0)


def test_a_textbook_compression_leaves_0_178507_cubic_metres() -> None:
    # inputs of a published Scilab textbook companion, example 6.4; the value is computed
    assert 0.52 * ratios(GasState(230.0), GasState(670.0)).volume == pytest.approx(0.178507, abs=5e-7)


def test_boyles_own_table_has_the_slope_that_his_law_asks_for() -> None:
    spaces, inches = np.array(BOYLE_1662).T
    slope = np.polyfit(np.log(spaces), np.log(inches), 1)[0]
    assert slope == pytest.approx(-0.998417, abs=5e-7)  # computed from the table
    predicted = [spaces[0] * ratios(GasState(inches[0]), GasState(p)).volume for p in inches]
    assert np.max(np.abs(np.array(predicted) / spaces - 1.0)) < 0.0125  # his own largest deviation is 1.234 %


def test_the_diameters_of_boyles_table_fall_to_0_628() -> None:
    assert ratios(GasState(29.125), GasState(117.5625)).diameter == pytest.approx(0.628057, abs=5e-7)  # computed


@pytest.mark.parametrize(
    ("altitude_m", "ratio"), [(0, 0.582), (1000, 0.563), (1500, 0.554), (2000, 0.544), (3000, 0.525)]
)
def test_the_same_dial_shrinks_voids_more_on_a_mountain(altitude_m: float, ratio: float) -> None:
    # computed from ISO 2533
    air = altitude_kpa(altitude_m)
    assert ratios(GasState(air), at(60, atmosphere_kpa=air)).diameter == pytest.approx(ratio, abs=6e-4)


@pytest.mark.parametrize(("celsius", "growth"), [(60, 1.038), (100, 1.078), (120, 1.097)])
def test_voids_grow_in_the_exotherm(celsius: float, growth: float) -> None:
    # computed with the combined gas law, from 25 C
    assert ratios(at(60), at(60, celsius=celsius)).diameter == pytest.approx(growth, abs=5e-4)


@pytest.mark.parametrize("celsius", [-41.0, 251.0, float("nan")])
def test_a_temperature_no_resin_has_is_refused(celsius: float) -> None:
    with pytest.raises(UnitError, match=rf"^resin {celsius:g} C is no resin's: give -40 to 250 C"):
        kelvin(celsius, what="resin")


def test_gas_without_pressure_is_a_broken_promise() -> None:
    with pytest.raises(AssertionError, match="gas has pressure and temperature"):
        GasState(0.0)


# Young and Laplace: 1 micrometre 3.87 and 100 nm 29.7 atmospheres, tension 72.8 mN/m (a CRC handbook chapter)
@pytest.mark.parametrize(("diameter_mm", "atmospheres"), [(1e-3, 3.87), (1e-4, 29.7)])
def test_the_pressure_inside_small_bubbles_is_that_of_a_published_table(diameter_mm: float, atmospheres: float) -> None:
    inside = 1.0 + laplace_kpa(diameter_mm, tension_n_per_m=0.0728) / 101.325
    assert inside == pytest.approx(atmospheres, abs=0.05)


@pytest.mark.parametrize(("micrometres", "pascal"), [(10, 14_000), (50, 2800), (100, 1400), (1000, 140)])
def test_surface_tension_in_resin(micrometres: float, pascal: float) -> None:
    # computed with 0.035 N/m (liquid resins 0.030 to 0.045, from memory)
    assert laplace_kpa(micrometres / 1000.0, tension_n_per_m=0.035) * 1000.0 == pytest.approx(pascal)


@pytest.mark.parametrize(
    ("micrometres", "ratio"),
    [(1, 0.69586), (5, 0.61328), (10, 0.59832), (50, 0.58511), (100, 0.58337), (1e6, 0.58161)],
)
def test_surface_tension_holds_small_voids_up(micrometres: float, ratio: float) -> None:
    # computed, 0.035 N/m, open air to 60 psi
    assert tense_diameter_ratio(micrometres / 1000.0, SEA, at(60)) == pytest.approx(ratio, abs=6e-6)


@given(st.floats(0.05, 2.0), st.floats(0.0, 100.0))
def test_surface_tension_is_under_0_7_percent_from_50_micrometres_on(diameter_mm: float, psig: float) -> None:
    tense = tense_diameter_ratio(diameter_mm, SEA, at(psig), tension_n_per_m=0.035)
    assert abs(tense / ratios(SEA, at(psig)).diameter - 1.0) < 0.007


@given(SIZES_MM, PRESSURES, PRESSURES, st.floats(0.0, 0.1), KELVINS)
def test_there_and_back_is_the_same_void(
    diameter_mm: float, first: float, last: float, tension: float, gelled_k: float
) -> None:
    closed, gelled = GasState(first), GasState(last, gelled_k)
    under = size_under_pressure_mm(diameter_mm, closed, gelled, tension_n_per_m=tension)
    assert size_at_open_air_mm(under, closed, gelled, tension_n_per_m=tension) == pytest.approx(diameter_mm, rel=1e-9)


@given(PRESSURES, PRESSURES, PRESSURES, KELVINS, KELVINS)
def test_steps_multiply(a: float, b: float, c: float, warm: float, hot: float) -> None:
    first, middle, last = GasState(a), GasState(b, warm), GasState(c, hot)
    product = ratios(first, middle).volume * ratios(middle, last).volume
    assert product == pytest.approx(ratios(first, last).volume, rel=1e-9)


@given(PRESSURES, PRESSURES, st.floats(0.1, 10.0))
def test_only_the_ratio_of_pressures_counts(a: float, b: float, factor: float) -> None:
    there = ratios(GasState(a), GasState(b)).diameter
    assert ratios(GasState(factor * a), GasState(factor * b)).diameter == pytest.approx(there, rel=1e-9)
