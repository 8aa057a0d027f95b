"""The resin's clock against the makers' rule, Arrhenius by hand, and a resin that thickens against its own integral."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from bubblegrade.errors import InputError
from bubblegrade.pressure.resin import TIME_ERR, GelPoint, Thickening, activation_j_mol, gel_time, viscosity_at

AT_25 = GelPoint(298.15, 1800.0)


@pytest.mark.parametrize(("celsius", "minutes"), [(15, 60.0), (20, 42.43), (22.5, 35.68), (25, 30.0), (35, 15.0)])
def test_gel_time_halves_for_every_ten_degrees(celsius: float, minutes: float) -> None:
    # maker guidance: every 18 F increase cuts the gel time in half; 30 min at 25 C
    assert gel_time((AT_25,), celsius + 273.15).value / 60.0 == pytest.approx(minutes, abs=0.005)


def test_the_limits_hold_the_factors_of_other_resins() -> None:
    found = gel_time((AT_25,), 288.15)
    assert found.low <= 1800.0 * 1.5
    assert found.high >= 1800.0 * 2.5


def test_where_it_was_measured_only_the_batch_is_in_doubt() -> None:
    found = gel_time((AT_25,), 298.15)
    assert found.value == 1800.0
    assert (found.low, found.high) == pytest.approx((1800 * math.exp(-0.2352), 1800 * math.exp(0.2352)), rel=1e-4)


@pytest.mark.parametrize(("cold_c", "energy"), [(15, 49.5), (20, 51.2), (25, 52.9), (30, 54.7)])
def test_a_factor_of_two_over_ten_degrees_has_the_energy_computed_by_hand(cold_c: float, energy: float) -> None:
    cold, warm = GelPoint(cold_c + 273.15, 1800.0), GelPoint(cold_c + 283.15, 900.0)
    assert activation_j_mol(cold, warm) / 1e3 == pytest.approx(energy, abs=0.05)
    assert gel_time((warm, cold), cold.kelvin).value == pytest.approx(1800.0)
    assert gel_time((cold, warm), warm.kelvin).value == pytest.approx(900.0)


def test_two_times_of_a_coating_resin_foretell_its_others() -> None:
    # maker guidance: one epoxy gels in 52, 30, 25 and 18 min at 21, 27, 32 and 38 C
    ends = GelPoint(294.15, 52 * 60.0), GelPoint(311.15, 18 * 60.0)
    for celsius, minutes in ((27, 30), (32, 25)):
        found = gel_time(ends, celsius + 273.15)
        assert found.low < minutes * 60.0 < found.high


def test_two_times_hold_a_batch_between_them_that_is_off_their_law_by_itself() -> None:
    rng = np.random.default_rng(3)
    gel = gel_time((GelPoint(293.15, 2520.0), GelPoint(303.15, 1280.0)), 298.15)
    batches = gel.value * np.exp(rng.normal(0.0, TIME_ERR, 4000))
    assert 0.94 < np.mean((gel.low <= batches) & (batches <= gel.high)) < 0.96


def test_an_activation_energy_is_as_good_as_the_second_time_it_comes_from() -> None:
    cold, warm = GelPoint(293.15, 1800.0), GelPoint(303.15, 900.0)
    energy = activation_j_mol(cold, warm)
    assert gel_time((cold,), 298.15, activation_j_mol=energy).value == pytest.approx(
        gel_time((cold, warm), 298.15).value
    )


@given(st.floats(278.15, 318.15))
def test_far_from_what_was_stated_it_is_known_less_well(kelvin: float) -> None:
    at, there = gel_time((AT_25,), kelvin), gel_time((AT_25,), AT_25.kelvin)
    assert at.low < at.value < at.high
    assert at.high / at.low >= there.high / there.low - 1e-9


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ((AT_25, GelPoint(298.5, 1700.0)), "both gel times are at one temperature"),
        ((AT_25, GelPoint(308.15, 2000.0)), "rises from 30 to 33.3 min as it gets warmer"),
        ((AT_25, GelPoint(308.15, 900.0), GelPoint(318.15, 500.0)), "one point of the data sheet, two"),
    ],
)
def test_gel_times_that_contradict_each_other_are_refused(points: tuple[GelPoint, ...], words: str) -> None:
    with pytest.raises(InputError, match=words):
        gel_time(points, 295.15)


@given(st.floats(0.05, 5.0), st.floats(5.0, 1000.0), st.floats(60.0, 7200.0), st.integers(0, 900), st.integers(0, 1000))
def test_the_integral_of_a_thickening_resin_is_that_of_quadrature(
    start: float, gelled: float, gel_s: float, first: int, last: int
) -> None:
    resin = Thickening(start, gelled, gel_s)
    ends = first / 1000 * gel_s, max(first, last) / 1000 * gel_s  # quadrature cannot be asked for 1e-308 s
    true, _ = quad(lambda s: (gelled / start) ** (-s / gel_s) / start, *ends)  # viscosity grows evenly in its logarithm
    assert resin.fluidity_s(*ends) == pytest.approx(true, rel=1e-6, abs=1e-9)


def test_after_gel_nothing_flows() -> None:
    resin = Thickening(0.5, 100.0, 600.0)
    assert resin.fluidity_s(600.0, 900.0) == 0.0
    assert resin.fluidity_s(500.0, 900.0) == resin.fluidity_s(500.0, 600.0)


def test_a_warmer_resin_is_thinner_by_a_tenth_a_degree() -> None:
    # maker guidance: about 10 % per C in some epoxies
    np.testing.assert_allclose(viscosity_at(1.0, 298.15, 300.15), 0.81)
