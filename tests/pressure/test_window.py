"""The resin's window: how long is left, which sizes rise out, which are left to see."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from bubblegrade.pressure.prediction import Dissolving
from bubblegrade.pressure.resin import GelPoint
from bubblegrade.pressure.rise import least_rising_mm
from bubblegrade.pressure.window import Flow, Steps, WindowQuestion, resin_window
from bubblegrade.units import PSI_KPA, GaugePressure

FLOW = Flow(viscosity_pa_s=0.6, stated_k=298.15, gelled_pa_s=0.6, depth_mm=12.0)
ASKED = WindowQuestion(
    points=(GelPoint(298.15, 1200.0),),
    room_k=298.15,
    steps=Steps(180.0, 120.0, 60.0, 30.0),
    pressures=(GaugePressure(40.0 * PSI_KPA), GaugePressure(60.0 * PSI_KPA)),
    atmosphere_kpa=101.325,
    visible_mm=0.10,
    flow=FLOW,
)


def test_the_time_left_is_gel_less_the_steps() -> None:
    found = resin_window(ASKED)
    assert found.left.value == 1200.0 - 390.0
    assert found.verdict == "in time"
    assert found.early_enough


@pytest.mark.parametrize(("filling", "verdict"), [(30.0, "in time"), (800.0, "perhaps too late"), (2000.0, "too late")])
def test_a_pressure_that_stands_after_gel_is_late(filling: float, verdict: str) -> None:
    found = resin_window(replace(ASKED, steps=Steps(180.0, 120.0, 60.0, filling)))
    assert found.verdict == verdict
    assert found.early_enough is (verdict == "in time")


def test_what_a_void_of_a_tenth_began_at_is_the_known_table() -> None:
    # computed: 0.155 mm at 40 psi, 0.172 mm at 60 psi
    seen = [row.seen_from_mm for row in resin_window(ASKED).rows]
    assert seen == pytest.approx([0.1, 0.155, 0.172], abs=5e-4)


def test_in_open_air_a_resin_that_does_not_thicken_lets_out_what_stokes_says() -> None:
    found = resin_window(ASKED)
    open_air = found.rows[0]
    for size, end, clean in (
        (open_air.out_surely_mm, found.gel.low, False),
        (open_air.out_hardly_mm, found.gel.high, True),
    ):
        true = least_rising_mm(12.0, (end - 300.0) / 0.6, density_kg_m3=1100.0, clean=clean)
        assert size == pytest.approx(true)


def test_pressure_keeps_more_sizes_in() -> None:
    rows = resin_window(ASKED).rows
    assert rows[0].out_surely_mm < rows[1].out_surely_mm < rows[2].out_surely_mm
    early = replace(ASKED, steps=Steps(180.0, 120.0, 0.0, 0.0))
    assert resin_window(early).rows[2].out_surely_mm > rows[2].out_surely_mm


def test_a_resin_that_thickens_lets_fewer_out() -> None:
    thick = resin_window(replace(ASKED, flow=replace(FLOW, gelled_pa_s=100.0)))
    assert thick.rows[0].out_surely_mm > 1.3 * resin_window(ASKED).rows[0].out_surely_mm


def test_a_shallow_pour_is_left_with_nothing_to_see() -> None:
    shallow = resin_window(replace(ASKED, visible_mm=0.4, flow=replace(FLOW, depth_mm=0.5)))
    assert not shallow.rows[0].remains_perhaps
    deep = resin_window(replace(ASKED, flow=replace(FLOW, depth_mm=60.0)))
    assert deep.rows[0].remains_surely


def test_without_a_viscosity_nothing_is_said_of_rising() -> None:
    found = resin_window(replace(ASKED, flow=None))
    assert all(math.isnan(row.out_surely_mm) for row in found.rows)
    assert math.isnan(found.too_fast_mm)
    assert not any(row.remains_perhaps for row in found.rows)


def test_dissolving_hides_more_and_takes_the_smallest() -> None:
    quick = Dissolving(diffusivity_m2_s=1e-10, solubility=0.02, saturation=1.0, gel_s=math.nan)
    found, plain = resin_window(replace(ASKED, dissolving=quick)), resin_window(ASKED)
    assert found.rows[0].gone_mm == 0.0  # in open air, resin that is full of air takes none
    assert 0.02 < found.rows[2].gone_mm < found.rows[2].seen_from_mm
    assert found.rows[2].seen_from_mm > plain.rows[2].seen_from_mm


def test_the_size_above_which_voids_no_longer_creep_has_a_reynolds_number_of_one_half() -> None:
    # Re grows as the cube of the size: (0.5 / Re of 1 mm)^(1/3)
    assert resin_window(ASKED).too_fast_mm == pytest.approx(
        (0.5 / (1100.0**2 * 9.80665 * 1e-9 / 12.0 / 0.36)) ** (1 / 3), rel=1e-3
    )
