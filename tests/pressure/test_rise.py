"""The rise of voids against a textbook's example and computed values."""

from __future__ import annotations

import math

import pytest

from bubblegrade.pressure.rise import GRAVITY, clean_m_s, least_rising_mm, reynolds, rigid_m_s

RESIN = 1100.0


def test_the_textbook_s_bubble_gives_the_viscosity_it_states() -> None:
    # A bubble of radius 0.1 mm rises at 0.35 cm/s in a liquid of 1000 kg/m3: 6.2e-3 kg/(m s) with g = 9.8 m/s2
    speed = rigid_m_s(0.2, density_kg_m3=1000.0, viscosity_pa_s=6.2222e-3)
    assert speed * 9.8 / GRAVITY == pytest.approx(0.0035, rel=1e-4)


@pytest.mark.parametrize(
    ("diameter", "viscosity", "rigid", "clean"),
    [
        (1.0, 0.5, 1.1986e-3, 1.7979e-3),
        (0.5, 0.5, 2.9965e-4, 4.4947e-4),
        (0.1, 0.5, 1.1986e-5, 1.7979e-5),
        (1.0, 3.0, 1.9977e-4, 2.9965e-4),
    ],
)
def test_speeds_are_the_computed_ones(diameter: float, viscosity: float, rigid: float, clean: float) -> None:
    how = {"density_kg_m3": RESIN, "viscosity_pa_s": viscosity}
    assert rigid_m_s(diameter, **how) == pytest.approx(rigid, rel=1e-4)
    assert clean_m_s(diameter, **how) == pytest.approx(clean, rel=1e-4)


def test_a_clean_void_rises_half_as_fast_again_and_a_full_drop_as_a_ball() -> None:
    how = {"density_kg_m3": RESIN, "viscosity_pa_s": 0.5}
    assert clean_m_s(1.0, **how, inner_pa_s=0.0) == pytest.approx(1.5 * rigid_m_s(1.0, **how))
    assert clean_m_s(1.0, **how, inner_pa_s=1e9) == pytest.approx(rigid_m_s(1.0, **how))


@pytest.mark.parametrize(("seconds", "clean"), [(16.69, False), (11.12, True)])
def test_the_smallest_void_that_climbs_is_the_one_whose_speed_takes_that_long(seconds: float, clean: bool) -> None:  # noqa: FBT001
    # 20 mm take a void of 1 mm in 0.5 Pa s 16.69 s as a ball, 11.12 s if clean
    found = least_rising_mm(20.0, seconds / 0.5, density_kg_m3=RESIN, clean=clean)
    assert found == pytest.approx(1.0, rel=1e-3)


def test_without_time_no_void_climbs() -> None:
    assert math.isinf(least_rising_mm(20.0, 0.0, density_kg_m3=RESIN, clean=True))


def test_voids_of_casting_resin_creep() -> None:
    # Re <= 4e-3 for 1 mm in 0.5 Pa s (computed)
    assert reynolds(1.0, density_kg_m3=RESIN, viscosity_pa_s=0.5) == pytest.approx(4e-3, rel=0.05)
