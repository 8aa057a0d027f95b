"""Density by immersion and void content against the standards' formulas, and water against IAPWS-95."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.errors import InputError
from bubblegrade.pressure.weighed import WeighQuestion, weigh
from bubblegrade.pressure.weight import (
    Density,
    Water,
    Weighing,
    density,
    mass_difference,
    reading_err_g,
    void_content,
    water_density_kg_m3,
)

# kg/m3 at 101 325 Pa by IAPWS-95 (CoolProp); a handbook list has 998.2071, 997.0479, 995.6502 at 20, 25 and 30 C.
WATER = {
    15: 999.1026, 18: 998.5986, 20: 998.2072, 21: 997.9955, 22: 997.7735, 23: 997.5414, 24: 997.2994, 25: 997.0476,
    26: 996.7864, 30: 995.6495,
}  # fmt: skip


def repeated(rng: np.random.Generator, mass_g: float, step_g: float) -> float:
    """Return a mass less the empty scale's: both are rounded, and come back only to half a digit."""
    off, empty, empty_off = rng.uniform(-0.5, 0.5, 3) * step_g
    return step_g * float(np.round((mass_g + empty + off) / step_g) - np.round((empty + empty_off) / step_g))


@pytest.mark.parametrize(("celsius", "rho"), WATER.items())
def test_water_has_the_density_of_the_tables(celsius: float, rho: float) -> None:
    assert water_density_kg_m3(celsius) == pytest.approx(rho, abs=0.002)


def test_the_specific_gravity_of_astm_d792_is_computed_by_hand() -> None:
    # a 25.000 g, b 3.260 g, w 0: 25 / 21.74 = 1.149954; times 997.541 kg/m3 at 23 C less 1.2 of air, and 1.2: 1146.95
    found = density(Weighing(25.0, 3.26, resolution_g=0.001), Water.of(23.0))
    assert (found.kg_m3 - 1.2) / (water_density_kg_m3(23.0) - 1.2) == pytest.approx(1.149954, abs=1e-6)
    assert found.kg_m3 == pytest.approx(1146.95, abs=0.01)


def test_the_density_on_a_fine_scale_holds_the_true_one_though_the_air_lifts_the_piece() -> None:
    rng, step, held = np.random.default_rng(6), 0.001, 0
    for _ in range(400):
        celsius, true = rng.uniform(17.0, 28.0), rng.uniform(1040.0, 1160.0)
        volume_cm3 = rng.uniform(10.0, 80.0)
        lifts = 1.2, water_density_kg_m3(celsius)
        air, immersed = (repeated(rng, volume_cm3 * (true - lift) / 1000.0, step) for lift in lifts)
        water = Water.of(celsius + rng.normal(0.0, 0.5))
        estimate = density(Weighing(air, immersed, resolution_g=step), water).estimate
        held += estimate.low <= true <= estimate.high
    assert 0.92 < held / 400 < 0.98


def test_a_sinker_falls_out_of_the_density() -> None:
    plain = density(Weighing(25.0, 3.26), Water())
    sunk = density(Weighing(25.0, 3.26 + 40.0, holder_g=40.0), Water())
    assert sunk.kg_m3 == pytest.approx(plain.kg_m3)
    assert sunk.weighing_err > plain.weighing_err  # one more reading
    assert density(Weighing(18.0, 38.0, holder_g=40.0), Water()).kg_m3 < 1000.0  # a floater


def test_the_void_content_of_astm_d2734_is_computed_by_hand() -> None:
    # neat: Td 1.150, Md 1.127: 2.0000 %
    found = void_content(Density(1127.0, 0.0), Density(1150.0, 0.0), in_air_g=20.0, same_water=False)
    assert found.share.value == pytest.approx(0.02, abs=1e-12)
    assert found.volume_mm3.value == pytest.approx(0.02 * 20.0 / 1.127e-3)


def test_weighing_many_pieces_scatters_as_the_stated_uncertainty_says() -> None:
    rng = np.random.default_rng(4)
    step, pulls, held = 0.01, [], 0
    for _ in range(600):
        true = rng.uniform(19.0, 21.0), rng.uniform(2.5, 2.7)
        air, immersed = (repeated(rng, mass, step) for mass in true)
        found = density(Weighing(air, immersed, resolution_g=step), Water(err_c=0.0))
        right = true[0] / (true[0] - true[1]) * (water_density_kg_m3(23.0) - 1.2) + 1.2
        pulls.append((found.kg_m3 - right) / found.weighing_err)
        held += found.estimate.low < right < found.estimate.high
    assert np.std(pulls) == pytest.approx(1.0, abs=0.1)
    assert 0.92 < held / 600 < 0.99


def test_the_same_water_falls_out_of_the_void_content() -> None:
    piece = density(Weighing(20.0, 2.60, resolution_g=0.001), Water(23.0, err_c=5.0))
    sample = density(Weighing(20.0, 2.61, resolution_g=0.001), Water(23.0, err_c=5.0))
    apart = void_content(piece, sample, in_air_g=20.0, same_water=False).share
    same = void_content(piece, sample, in_air_g=20.0, same_water=True).share
    assert same.high - same.low < 0.5 * (apart.high - apart.low)


def test_a_jewellers_scale_cannot_see_a_single_void_of_a_millimetre() -> None:
    # 0.52 mm3 in 20 cm3 is 0.0026 %, below a milligram in 25 g
    fine = density(Weighing(22.0, 2.0, resolution_g=0.01), Water())
    found = void_content(fine, fine, in_air_g=22.0, same_water=True)
    assert found.least_voids > 10
    assert found.least_mm3 == pytest.approx(found.least_voids * math.pi / 6)


def test_a_piece_a_little_denser_than_its_reference_may_have_no_voids() -> None:
    found = void_content(Density(1150.2, 0.3), Density(1150.0, 0.3), in_air_g=20.0, same_water=True)
    assert found.share.value < 0.0 < found.share.high


def test_water_of_unknown_temperature_leaves_the_density_as_open_as_rooms_differ() -> None:
    # 25 g of 1150 kg/m3 lose water's density (IAPWS-95) times their volume; the scale's own rounding is small here
    for celsius in (18, 20, 26):
        immersed = 25.0 - 25.0 / 1150.0 * WATER[celsius]
        unknown = density(Weighing(25.0, immersed, resolution_g=0.001), Water()).estimate
        assert unknown.low < 1150.0 < unknown.high
        taken = density(Weighing(25.0, immersed, resolution_g=0.001), Water.of(23.0)).estimate
        assert not taken.low < 1150.0 < taken.high
        stated = density(Weighing(25.0, immersed, resolution_g=0.001), Water.of(celsius)).estimate
        assert stated.low < 1150.0 < stated.high


def test_pieces_without_voids_are_not_refused_for_what_a_coarse_scale_rounds() -> None:
    rng, step, held = np.random.default_rng(5), 0.1, 0

    water = water_density_kg_m3(23.0)
    for _ in range(400):
        pieces = (rng.uniform(90.0, 110.0), rng.uniform(25.0, 35.0))
        one, other = (
            density(
                Weighing(
                    *(repeated(rng, each, step) for each in (mass, mass - mass / 1150.0 * water)), resolution_g=step
                ),
                Water.of(23.0),
            )
            for mass in pieces
        )
        share = void_content(one, other, in_air_g=pieces[0], same_water=True).share
        held += share.low <= 0.0 <= share.high
    assert 0.92 < held / 400 < 0.99


def test_a_piece_much_denser_than_its_reference_is_refused() -> None:
    with pytest.raises(InputError, match=r"1160.0 kg/m3, more than the 1150.0 kg/m3 of the reference"):
        void_content(Density(1160.0, 0.3), Density(1150.0, 0.3), in_air_g=20.0, same_water=True)


def test_a_piece_less_than_half_as_dense_as_its_reference_is_a_slip() -> None:
    with pytest.raises(InputError, match=r"500.0 kg/m3, less than half of the 1150.0 kg/m3 of the reference"):
        void_content(Density(500.0, 0.3), Density(1150.0, 0.3), in_air_g=20.0, same_water=True)


def test_missing_ballast_is_more_than_the_missing_mass_for_resin_took_its_place() -> None:
    # 1 g of lead out of its place: resin of 1100 kg/m3 fills it, and the piece is 1 - 1100/11340 g lighter
    lighter = 1.0 - 1100.0 / 11340.0
    found = mass_difference(24.8 - lighter, 24.8, resolution_g=0.001, resin_kg_m3=1100.0, ballast_kg_m3=11340.0)
    assert found.as_ballast_g.value == pytest.approx(1.0)
    assert found.as_void_mm3.value == pytest.approx(lighter / 1.1e-3)
    assert found.as_ballast_g.low < 1.0 < found.as_ballast_g.high


def test_ballast_lighter_than_resin_is_a_slip() -> None:
    with pytest.raises(InputError, match="ballast of 900 kg/m3 is no heavier than the resin"):
        mass_difference(24.0, 24.8, resolution_g=0.01, resin_kg_m3=1100.0, ballast_kg_m3=900.0)


def test_a_mass_is_uncertain_by_two_readings_that_round_and_repeat() -> None:
    rng = np.random.default_rng(1)
    off = [repeated(rng, true, 0.01) - true for true in rng.uniform(5.0, 6.0, 20_000)]
    assert reading_err_g(0.01) == pytest.approx(np.std(off), rel=0.02)


@pytest.mark.parametrize(
    ("air", "water", "words"), [(20.0, 21.0, "water lifts every piece"), (1.0, -20.0, "lighter than cork")]
)
def test_masses_that_contradict_each_other_are_refused(air: float, water: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        density(Weighing(air, water), Water())


@pytest.mark.parametrize("celsius", [-1.0, 296.0, 60.0])
def test_water_that_nobody_weighs_in_is_refused(celsius: float) -> None:
    with pytest.raises(InputError, match=r"give 5 to 40 C, such as 23C"):
        water_density_kg_m3(celsius)


def test_what_was_not_weighed_is_not_told() -> None:
    found = weigh(WeighQuestion(None, Water(), 24.0, 0.01, reference=Density(1150.0, 0.5), master_g=24.8))
    assert found.density is None
    assert found.voids is None
    assert found.against_master is not None
    assert not found.against_master.as_ballast_g.known
