"""The local atmosphere against the standard, and gauge against absolute pressures."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.errors import UnitError
from bubblegrade.pressure.atmosphere import SEA_LEVEL, Source, absolute, altitude_kpa, atmosphere, gauge
from bubblegrade.units import PSI_KPA, AbsolutePressure, GaugePressure

# Computed from the formula of ISO 2533:1975 (US Standard Atmosphere 1976) with geometric altitude; two independent
# implementations of the US Standard Atmosphere agree to 0.02 Pa.
GEOMETRIC = [
    (0.0, 101325.00),
    (500.0, 95461.29),
    (1000.0, 89876.29),
    (1500.0, 84559.68),
    (2000.0, 79501.42),
    (2500.0, 74691.76),
    (3000.0, 70121.16),
]
# psi absolute as a US standard-atmosphere table prints it, altitude in feet; up to 0.002 psi off its own formula
PRINTED = [(0, 14.696), (1000, 14.175), (2000, 13.664), (3000, 13.173), (5000, 12.230), (7000, 11.341), (10000, 10.108)]


@pytest.mark.parametrize(("altitude_m", "pascal"), GEOMETRIC)
def test_the_atmosphere_at_a_geometric_altitude_is_that_of_iso_2533(altitude_m: float, pascal: float) -> None:
    assert altitude_kpa(altitude_m) * 1000.0 == pytest.approx(pascal, abs=0.02)


@pytest.mark.parametrize(("feet", "psia"), PRINTED)
def test_the_atmosphere_is_that_of_a_printed_table(feet: float, psia: float) -> None:
    assert altitude_kpa(feet * 0.3048) / PSI_KPA == pytest.approx(psia, abs=0.003)


@given(st.floats(-500.0, 8999.0))
def test_the_atmosphere_thins_with_height(altitude_m: float) -> None:
    assert altitude_kpa(altitude_m) > altitude_kpa(altitude_m + 1.0)


@pytest.mark.parametrize("altitude_m", [-501.0, 9001.0, float("nan")])
def test_an_altitude_off_the_land_is_refused(altitude_m: float) -> None:
    with pytest.raises(
        UnitError, match=rf"^altitude {altitude_m:g} m lies outside the land's heights: give -500 to 9000"
    ):
        altitude_kpa(altitude_m)


def test_without_a_word_the_atmosphere_is_that_of_the_sea() -> None:
    # the standard atmosphere, exact; 14.695 949 psi
    assert atmosphere() == SEA_LEVEL
    assert SEA_LEVEL.kpa == 101.325
    assert SEA_LEVEL.kpa / PSI_KPA == pytest.approx(14.695949, abs=5e-7)


def test_the_source_of_the_atmosphere_is_told() -> None:
    assert atmosphere(altitude_m=1500.0).source is Source.ALTITUDE
    assert atmosphere(barometer=AbsolutePressure(98.0)).source is Source.BAROMETER


def test_altitude_and_barometer_together_are_refused() -> None:
    with pytest.raises(UnitError, match=r"altitude 1500 m and barometer 84 kPa are both given: keep the barometer"):
        atmosphere(altitude_m=1500.0, barometer=AbsolutePressure(84.0))


@pytest.mark.parametrize("kpa", [29.0, 113.0, 500.0])
def test_a_barometer_that_shows_no_air_on_land_is_refused(kpa: float) -> None:
    with pytest.raises(UnitError, match=rf"^barometer {kpa:g} kPa is no air pressure on land: give 30 to 112 kPa"):
        atmosphere(barometer=AbsolutePressure(kpa))


def test_a_gauge_counts_from_the_local_atmosphere() -> None:
    # computed: 60 psi gauge at sea level is 515 010.4 Pa
    assert absolute(GaugePressure(60.0 * PSI_KPA), 101.325).kpa == pytest.approx(515.0104, abs=5e-5)
    assert absolute(AbsolutePressure(500.0), 84.5) == AbsolutePressure(500.0)


@given(st.floats(-99.0, 2000.0), st.floats(100.0, 110.0))
def test_gauge_and_absolute_turn_into_each_other(kpa_gauge: float, air: float) -> None:
    there = absolute(GaugePressure(kpa_gauge), air)
    assert gauge(there, air).kpa_gauge == pytest.approx(kpa_gauge, abs=1e-9)


@pytest.mark.parametrize(
    ("pressure", "line"),
    [
        (
            GaugePressure(-101.325),
            r"pot -14.7 psi gauge lies below vacuum: write what the dial shows, 0psi for an open cup",
        ),
        (AbsolutePressure(-1.0), r"pot -1 kPa absolute lies below vacuum: write what the dial shows"),
        (
            GaugePressure(301.0 * PSI_KPA),
            r"pot 301 psi gauge is above 300 psi gauge: check the number and its unit, such as 60psi",
        ),
        (AbsolutePressure(3000.0), r"pot 3000 kPa absolute is above 300 psi gauge"),
        (GaugePressure(float("inf")), r"pot inf psi gauge is not a finite number"),
        (GaugePressure(float("nan")), r"pot nan psi gauge is not a finite number"),
    ],
)
def test_a_pressure_no_pot_has_is_one_line_with_value_fault_and_cure(
    pressure: GaugePressure | AbsolutePressure, line: str
) -> None:
    with pytest.raises(UnitError, match=f"^{line}") as caught:
        absolute(pressure, 101.325, what="pot")
    assert "\n" not in str(caught.value)


def test_the_highest_pressure_is_accepted() -> None:
    assert absolute(GaugePressure(299.999 * PSI_KPA), 101.325).kpa > 2000.0
