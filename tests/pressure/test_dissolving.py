"""Dissolving voids against Epstein and Plesset's times and the laws of the equation."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.pressure.dissolving import (
    Medium,
    diameter_after_mm,
    saturation_under_pressure,
    size_at_gel_mm,
)
from bubblegrade.pressure.gas import GasState

WATER_TENSION = 0.0728


def water(saturation: float, *, tension: float = 0.0) -> Medium:
    """Return water at 22 C as Epstein and Plesset took it: D 2.0e-9 m2/s, solubility 0.02 (from memory)."""
    return Medium(2.0e-9, 0.02, saturation, 101.325, tension)


# P. S. Epstein and M. S. Plesset, J. Chem. Phys. 18 (1950) 1505: radius in cm, saturation, seconds until it is gone,
# the first, steep layer of water included; computed.
WHOLE = [
    *[(1e-3, 0.0, 0.0, 1.0534), (1e-2, 0.0, 0.0, 105.34), (1e-1, 0.0, 0.0, 10534.0)],
    *[(1e-3, 0.5, 0.0, 2.2123), (1e-1, 0.5, 0.0, 22123.0)],
    *[(1e-3, 1.0, 0.072, 6.179), (1e-2, 1.0, 0.072, 5786.0), (1e-1, 1.0, 0.072, 5.821e6)],
    *[(1e-3, 1.0, 0.0728, 6.117), (1e-2, 1.0, 0.0728, 5723.0), (1e-1, 1.0, 0.0728, 5.757e6)],
]


@pytest.mark.parametrize(("radius_cm", "saturation", "tension", "seconds"), WHOLE)
def test_a_void_is_gone_at_the_time_of_epstein_and_plesset(
    radius_cm: float, saturation: float, tension: float, seconds: float
) -> None:
    diameter_mm, medium = 20.0 * radius_cm, water(saturation, tension=tension)
    assert diameter_after_mm(diameter_mm, seconds * (1.0 + 1e-4), medium) == 0.0
    assert diameter_after_mm(diameter_mm, seconds * (1.0 - 1e-4), medium) > 0.0


@settings(deadline=None, max_examples=25)
@given(st.floats(0.02, 1.0), st.floats(0.0, 0.9), st.floats(0.1, 20.0))
def test_half_the_diameter_shrinks_alike_in_a_quarter_of_the_time(
    diameter_mm: float, saturation: float, seconds: float
) -> None:
    whole = diameter_after_mm(diameter_mm, seconds, water(saturation))
    half = diameter_after_mm(diameter_mm / 2.0, seconds / 4.0, water(saturation))
    assert 2.0 * half == pytest.approx(whole, rel=1e-5, abs=1e-4 * diameter_mm)


def test_a_void_in_saturated_resin_without_tension_stays() -> None:
    assert diameter_after_mm(0.1, 1e4, water(1.0)) == pytest.approx(0.1)


def test_a_void_in_oversaturated_resin_grows() -> None:
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
