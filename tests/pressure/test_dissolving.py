"""Dissolving voids against Epstein and Plesset's times, closed forms and the laws of the equation."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.pressure.dissolving import (
    Medium,
    diameter_after_mm,
    quasi_static_vanish_s,
    saturation_under_pressure,
    size_at_gel_mm,
    vanish_s,
)
from bubblegrade.pressure.gas import GasState

WATER_TENSION = 0.0728


def water(saturation: float, *, tension: float = 0.0) -> Medium:
    """Return water at 22 C as Epstein and Plesset took it: D 2.0e-9 m2/s, solubility 0.02 (from memory)."""
    return Medium(2.0e-9, 0.02, saturation, 101.325, tension)


# P. S. Epstein and M. S. Plesset, J. Chem. Phys. 18 (1950) 1505: radius in cm, saturation, seconds without the first
# layer, computed. With tension, f = 1, their table has 6.63, 5.88e3 and about 5.80e6 s, and for the smallest radius
# 1.17 and 1.46 s at f = 0 and 0.25 (from memory).
QUASI_STATIC = [
    *[(1e-3, 0.0, 0.0, 1.25), (1e-3, 0.5, 0.0, 2.50), (1e-3, 0.75, 0.0, 5.00)],
    *[(1e-2, 0.0, 0.0, 125.0), (1e-1, 0.75, 0.0, 5.0e4)],
    *[(1e-3, 0.0, WATER_TENSION, 1.166), (1e-3, 0.25, WATER_TENSION, 1.459), (1e-3, 0.5, WATER_TENSION, 1.955)],
    *[(1e-3, 0.75, WATER_TENSION, 2.985), (1e-3, 1.0, WATER_TENSION, 6.633)],
    *[(1e-2, 0.0, WATER_TENSION, 123.9), (1e-2, 0.5, WATER_TENSION, 241.4), (1e-2, 1.0, WATER_TENSION, 5883.0)],
    *[(1e-1, 0.25, WATER_TENSION, 1.664e4), (1e-1, 0.75, WATER_TENSION, 4.954e4), (1e-1, 1.0, WATER_TENSION, 5.808e6)],
]
# The same with the first, steep layer, computed.
WHOLE = [
    *[(1e-3, 0.0, 0.0, 1.0534), (1e-2, 0.0, 0.0, 105.34), (1e-1, 0.0, 0.0, 10534.0)],
    *[(1e-3, 0.5, 0.0, 2.2123), (1e-1, 0.5, 0.0, 22123.0)],
    *[(1e-3, 1.0, 0.072, 6.179), (1e-2, 1.0, 0.072, 5786.0), (1e-1, 1.0, 0.072, 5.821e6)],
    *[(1e-3, 1.0, 0.0728, 6.117), (1e-2, 1.0, 0.0728, 5723.0), (1e-1, 1.0, 0.0728, 5.757e6)],
]


@pytest.mark.parametrize(("radius_cm", "saturation", "tension", "seconds"), QUASI_STATIC)
def test_quasi_static_times_are_those_of_epstein_and_plesset(
    radius_cm: float, saturation: float, tension: float, seconds: float
) -> None:
    found = quasi_static_vanish_s(20.0 * radius_cm, water(saturation, tension=tension))
    assert found == pytest.approx(seconds, rel=5e-4)


@pytest.mark.parametrize(("radius_cm", "saturation", "tension", "seconds"), WHOLE)
def test_times_with_the_first_layer_are_those_of_epstein_and_plesset(
    radius_cm: float, saturation: float, tension: float, seconds: float
) -> None:
    assert vanish_s(20.0 * radius_cm, water(saturation, tension=tension)) == pytest.approx(seconds, rel=1e-4)


@given(st.floats(0.01, 1.0), st.floats(0.0, 0.95))
def test_without_tension_the_quasi_static_time_has_a_closed_form(diameter_mm: float, saturation: float) -> None:
    radius = diameter_mm / 2000.0
    closed = radius**2 / (2.0 * 2.0e-9 * 0.02 * (1.0 - saturation))
    assert quasi_static_vanish_s(diameter_mm, water(saturation)) == pytest.approx(closed, rel=1e-6)


@given(st.floats(0.01, 1.0))
def test_in_saturated_water_tension_alone_has_a_closed_form(diameter_mm: float) -> None:
    radius, medium = diameter_mm / 2000.0, water(1.0, tension=WATER_TENSION)
    closed = radius**2 / (2.0e-9 * 0.02) * (radius / (3.0 * medium.tension_length_m) + 1.0 / 3.0)
    assert quasi_static_vanish_s(diameter_mm, medium) == pytest.approx(closed, rel=1e-6)


@settings(deadline=None, max_examples=25)
@given(st.floats(0.02, 1.0), st.floats(0.0, 0.9))
def test_half_the_diameter_vanishes_in_a_quarter_of_the_time(diameter_mm: float, saturation: float) -> None:
    whole = vanish_s(diameter_mm, water(saturation))
    assert vanish_s(diameter_mm / 2.0, water(saturation)) == pytest.approx(whole / 4.0, rel=1e-5)


def test_a_void_in_saturated_resin_without_tension_stays() -> None:
    assert vanish_s(0.1, water(1.0)) == math.inf
    assert diameter_after_mm(0.1, 1e4, water(1.0)) == pytest.approx(0.1)


def test_a_void_in_oversaturated_resin_grows() -> None:
    assert vanish_s(0.1, water(2.0)) == math.inf
    assert diameter_after_mm(0.1, 100.0, water(2.0)) > 0.1


def test_a_void_shrinks_until_it_is_gone() -> None:
    sizes = [diameter_after_mm(0.02, seconds, water(0.0)) for seconds in (0.0, 0.3, 0.6, 1.0, 1.2)]
    assert sizes == sorted(sizes, reverse=True)
    assert sizes[0] == 0.02
    assert sizes[-1] == 0.0


def test_under_60_psi_resin_once_saturated_at_open_air_is_a_fifth_saturated() -> None:
    assert saturation_under_pressure(5.08276) == pytest.approx(0.196744, abs=5e-7)  # computed, Henry's law


def test_pressure_dissolves_what_open_air_leaves() -> None:
    saturated = Medium(1.0e-10, 0.1, 1.0, 101.325)
    closed, open_air, pot = GasState(101.325), GasState(101.325), GasState(515.01)
    in_air = size_at_gel_mm(0.05, closed, open_air, gel_s=600.0, medium=saturated)
    in_pot = size_at_gel_mm(0.05, closed, pot, gel_s=600.0, medium=saturated)
    assert in_air == pytest.approx(0.05)
    assert in_pot < 0.05 * 0.5816
    assert size_at_gel_mm(0.05, closed, pot, gel_s=1e5, medium=saturated) == 0.0


def test_a_medium_without_solubility_is_a_broken_promise() -> None:
    with pytest.raises(AssertionError, match="a medium has a diffusivity"):
        Medium(1e-9, 0.0, 0.0, 101.325)
