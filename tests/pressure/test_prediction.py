"""The rows of a prediction: laws that hold for any pressure."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.pressure.prediction import Dissolving, Premises, predict
from bubblegrade.units import PSI_KPA, GaugePressure
from tests.conftest import psi

AIR_KPA = 101.325


@given(
    st.lists(st.floats(0.0, 300.0), min_size=1, max_size=5),
    st.floats(0.0, 320.0),
    st.floats(60.0, 105.0),
)
def test_no_row_and_no_gain_reaches_past_the_ceiling(asked: list[float], ceiling: float, air_kpa: float) -> None:
    rows = predict(Premises(air_kpa, psi(0.0)), tuple(psi(each) for each in asked), ceiling_psig=ceiling)
    pressures = [row.gauge.psig for row in rows]
    assert pressures == sorted(set(pressures))
    assert all(each <= ceiling + 1e-6 for each in pressures)
    for row in rows:
        assert math.isnan(row.next_gain_share) == (row.gauge.psig + 5.0 > ceiling + 1e-6)
    told = [row.gauge.psig for row in rows if row.asked]
    for each in told:
        assert any(math.isclose(each, other, abs_tol=1e-6) for other in asked)
    for each in asked:  # three digits in another unit are the same pressure
        if each <= ceiling:
            assert any(math.isclose(each, other, rel_tol=0.005, abs_tol=1e-6) for other in told)


@given(st.floats(5.0, 300.0))
def test_more_pressure_leaves_less(highest: float) -> None:
    rows = predict(Premises(AIR_KPA, psi(0.0), size_mm=0.2), (psi(highest),), ceiling_psig=300.0)
    for name in ("becomes_mm", "next_gain_share"):
        values = [value for value in (getattr(row, name) for row in rows) if math.isfinite(value)]
        assert values == sorted(values, reverse=True)
    began = [row.began_mm for row in rows]
    assert began == sorted(began)


@given(st.floats(1.0, 100.0), st.floats(0.001, 1.0), st.floats(0.0, 0.05))
def test_what_a_void_becomes_began_as_it_was(psig: float, size_mm: float, tension: float) -> None:
    def last(size: float) -> tuple[float, float]:
        premises = Premises(AIR_KPA, psi(0.0), size_mm=size, tension_n_per_m=tension, gel_k=310.0)
        row = predict(premises, (psi(psig),), ceiling_psig=300.0)[-1]
        return row.becomes_mm, row.began_mm

    assert last(last(size_mm)[0])[1] == pytest.approx(size_mm, rel=1e-9)


def test_a_pressure_on_the_grid_but_for_rounding_is_one_row() -> None:
    rows = predict(Premises(AIR_KPA, psi(0.0)), (GaugePressure(30.0 * PSI_KPA + 1e-13),), ceiling_psig=300.0)
    assert len(rows) == 7
    assert rows[-1].asked


def test_where_nothing_diffuses_the_gas_law_is_all_there_is() -> None:
    still = Premises(AIR_KPA, psi(0.0), size_mm=0.5, dissolving=Dissolving(1e-16, 1e-4, 1.0, 60.0))
    for row in predict(still, (psi(60.0),), ceiling_psig=300.0):
        assert row.dissolved_mm == pytest.approx(row.becomes_mm, rel=1e-4)
