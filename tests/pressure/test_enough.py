"""Which pressure is enough, against closed forms and even trials."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, t

from bubblegrade.errors import InputError
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.enough import Decision, decide, log_expected, resolved_mm
from bubblegrade.pressure.shrinkage import Shrinkage, fit_shrinkage
from bubblegrade.units import PSI_KPA

Cups = Callable[..., list[Cup]]
AIR_KPA = 14.696 * PSI_KPA
FINE = {"log_median": math.log(0.12), "exponent": 1 / 3, "spread": 0.3, "total": 100.0, "size": 0.1}


def fitted(cups: list[Cup]) -> Shrinkage:
    """Return the fit to cups."""
    return fit_shrinkage(gather(cups))


def decided(cups: list[Cup], **asked: float) -> Decision:
    """Return the decision on cups: no more than 80 voids above 0.2 mm, unless asked otherwise."""
    target = {"visible_mm": 0.2, "tolerated": 80.0, "atmosphere_kpa": AIR_KPA, **asked}
    return decide(fitted(cups), **target)  # type: ignore[arg-type]


def squeeze_enough(
    tolerated: float, *, log_median: float, exponent: float, spread: float, total: float, size: float
) -> float:
    """Return the u at which `tolerated` of one population's voids are larger than `size`, 0 where open air is enough.

    u* = (m - ln D - s PhiInv(T / L)) / b.
    """
    return max(log_median - math.log(size) - spread * float(norm.ppf(tolerated / total)), 0.0) / exponent


@pytest.mark.parametrize(("psig", "voids"), [(0, 72.8), (15, 43.1), (30, 26.5), (45, 17.1), (60, 11.5), (80, 7.2)])
def test_the_expected_voids_of_a_fine_population(psig: float, voids: float) -> None:
    # computed: median 0.12, spread 0.3, 100 voids, visible from 0.1
    found = log_expected(
        [math.log1p(psig / 14.696)], levels=[math.log(0.12)], exponent=1 / 3, spread=0.3, total=100.0, size=0.1
    )
    assert math.exp(found[0]) == pytest.approx(voids, abs=0.05)


@given(st.floats(0.5, 99.0), st.floats(0.05, 0.5))
def test_at_the_pressure_that_is_enough_the_target_is_met(tolerated: float, size: float) -> None:
    facts = {**FINE, "size": size}
    squeeze = squeeze_enough(tolerated, **facts)
    found = math.exp(
        log_expected([squeeze], levels=[facts["log_median"]], exponent=1 / 3, spread=0.3, total=100.0, size=size)[0]
    )
    assert found == pytest.approx(tolerated, rel=1e-6) if squeeze > 0.0 else found <= tolerated * (1.0 + 1e-9)


@pytest.mark.parametrize(("mm", "size"), [(250, 0.072722), (300, 0.087266), (400, 0.116355), (500, 0.145444)])
def test_an_eye_resolves_one_minute_of_arc(mm: float, size: float) -> None:
    # normal acuity is one minute of arc (IES definition); computed
    assert resolved_mm(mm) == pytest.approx(size, abs=6e-7)


def test_a_published_example_of_five_minutes_at_one_metre() -> None:
    assert resolved_mm(1000.0, minutes=5.0) == pytest.approx(1.45, abs=0.005)


def test_the_decision_on_an_even_trial_is_the_closed_form_of_its_fit(even_cups: Cups) -> None:
    cups = even_cups(median=0.3)
    fit, found = fitted(cups), decided(cups)
    closed = squeeze_enough(
        80.0,
        log_median=math.log(fit.median),
        exponent=fit.exponent.value,
        spread=fit.spread,
        total=fit.voids_per_cup,
        size=0.2,
    )
    assert found.enough_psig.value == pytest.approx(14.696 * math.expm1(closed), abs=0.01)
    assert found.enough_psig.low < found.enough_psig.value < found.recommended_psig
    assert found.reachable
    assert not found.below_limit
    assert found.beyond_tested == (found.recommended_psig > 60.0)


def test_the_table_has_a_row_every_5_psi_with_what_the_next_brings(even_cups: Cups) -> None:
    found = decided(even_cups(median=0.3))
    assert [round(row.gauge.psig, 6) for row in found.rows] == list(range(0, 85, 5))
    first, last = found.rows[0], found.rows[12]
    assert first.diameter_ratio == 1.0
    assert last.diameter_ratio == pytest.approx(0.5816, abs=0.008)
    assert first.next_gain_share == pytest.approx(0.093, abs=0.003)  # 9.30 % by Boyle's law
    assert last.next_gain_share == pytest.approx(0.0214, abs=0.001)  # 2.14 %
    assert all(row.voids.low < row.voids.value < row.voids.high for row in found.rows)
    falling = [row.voids.value for row in found.rows]
    assert falling == sorted(falling, reverse=True)


def test_a_cup_of_whose_population_no_share_is_seen_leaves_no_pressure_known(even_cups: Cups) -> None:
    cups = [cup for cup in even_cups(median=0.3) if cup.gauge_ratio == 0.0]
    found = decided([*cups, Cup("60 psi", 4.0, np.array([0.05, 0.0501, 0.0505]), 0.05)])
    assert math.isinf(found.recommended_psig)


def test_the_limits_meet_the_target_at_the_intervals_ends(even_cups: Cups) -> None:
    cups = even_cups(median=0.3)
    found = decided(cups)
    above = [row for row in found.rows if row.gauge.psig < found.enough_psig.low]
    below = [row for row in found.rows if row.gauge.psig > found.recommended_psig]
    assert all(row.voids.low > 80.0 for row in above)
    assert all(row.voids.high < 80.0 for row in below)


def test_a_casting_twice_as_large_holds_twice_the_voids(even_cups: Cups) -> None:
    cups = [replace(cup, volume_cm3=20.0) for cup in even_cups(median=0.3)]
    same, twice = decided(cups, casting_cm3=20.0), decided(cups, casting_cm3=40.0)
    assert same.enough_psig.value == pytest.approx(decided(cups).enough_psig.value)
    for row, double in zip(same.rows, twice.rows, strict=True):
        assert double.voids.value == pytest.approx(2.0 * row.voids.value, rel=1e-9)
    assert twice.enough_psig.value > same.enough_psig.value
    assert twice.casting_cm3 == 40.0


def test_open_air_is_enough_for_little(even_cups: Cups) -> None:
    found = decided(even_cups(median=0.3), tolerated=300.0)
    assert (found.enough_psig.value, found.recommended_psig) == (0.0, 0.0)


def test_coarse_voids_are_beyond_pressure(even_cups: Cups) -> None:
    found = decided(even_cups(), tolerated=5.0)
    assert not found.reachable
    assert found.recommended_psig == math.inf
    assert len(found.rows) == 17


def test_a_visible_size_below_the_limit_is_extrapolated(even_cups: Cups) -> None:
    assert decided(even_cups(median=0.3), visible_mm=0.15).below_limit


def test_the_expected_number_is_the_mean_over_the_mixes(drawn_cups: Cups) -> None:
    fit = fitted(drawn_cups(np.random.default_rng(41), mix_spread=0.3, cup_spread=0.02, blocked=True))
    found = decide(fit, visible_mm=0.5, tolerated=50.0, atmosphere_kpa=AIR_KPA)
    shares = norm.cdf((fit.levels - math.log(0.5)) / fit.spread)
    assert found.rows[0].voids.value == pytest.approx(fit.voids_per_cup * shares.mean(), rel=1e-9)


def test_of_no_fewer_voids_than_were_counted_is_a_number_known_better_than_by_chance(even_cups: Cups) -> None:
    cups = even_cups()
    chance = norm.ppf(0.95) / math.sqrt(sum(len(cup.diameters) for cup in cups))  # Poisson's, relative
    assert all(np.log(row.voids.high / row.voids.low) >= 1.999 * chance for row in decided(cups).rows)


def test_two_cups_decide_with_a_wide_interval(even_cups: Cups) -> None:
    two = decided(even_cups(median=0.3, settings=(0.0, 60.0), offsets=(0.0,)))
    many = decided(even_cups(median=0.3))
    assert two.enough_psig.value == pytest.approx(many.enough_psig.value, rel=0.1)
    assert two.rows[12].voids.high > many.rows[12].voids.high


def test_the_recommended_pressure_is_enough_as_often_as_promised(drawn_cups: Cups) -> None:
    # the upper end of the 90 % interval: 95 of 100
    random, spread = np.random.default_rng(42), math.hypot(0.3, 0.05)
    truth = 14.696 * math.expm1(squeeze_enough(20.0, **{**FINE, "spread": spread}))
    held, enough = 0, 0
    for _ in range(200):
        fit = fitted(drawn_cups(random, median=0.12, spread=0.3, voids=100, limit=0.05))
        found = decide(fit, visible_mm=0.1, tolerated=20.0, atmosphere_kpa=AIR_KPA).enough_psig
        held += found.low <= truth <= found.high
        enough += truth <= found.high
    assert held >= 0.85 * 200
    assert enough >= 0.92 * 200


def test_a_casting_of_a_further_mix_has_as_many_voids_as_promised(drawn_cups: Cups) -> None:
    # mixes of spread 0.15 poured over all pressures; the truth is that of the median mix
    random = np.random.default_rng(43)
    truth = 14.696 * math.expm1(squeeze_enough(60.0, log_median=math.log(0.6), exponent=1 / 3, spread=0.5, total=200.0,
                                               size=0.6))  # fmt: skip
    held, enough = 0, 0
    for _ in range(60):
        fit = fitted(drawn_cups(random, mix_spread=0.15, cup_spread=0.03, blocked=True))
        found = decide(fit, visible_mm=0.6, tolerated=60.0, atmosphere_kpa=AIR_KPA).enough_psig
        held += found.low <= truth <= found.high
        enough += truth <= found.high
    assert held >= 0.82 * 60
    assert enough >= 0.88 * 60


def test_what_few_mixes_leave_open_is_students_interval_of_their_numbers(even_cups: Cups) -> None:
    # three mixes of fixed log-medians, cups at the quantiles: their numbers in open air, by the fitted spread
    shifts = (-0.3, 0.0, 0.3)
    cups = [
        replace(cup, diameters=cup.diameters * math.exp(shift), mix=f"mix {shift}")
        for shift in shifts
        for cup in even_cups(offsets=(0.0,), limit=0.01)
    ]
    fit = fitted(cups)
    row = decide(fit, visible_mm=0.5, tolerated=50.0, atmosphere_kpa=AIR_KPA).rows[0].voids
    numbers = np.log(200.0 * norm.cdf((math.log(0.6) + np.array(shifts) - math.log(0.5)) / 0.5))
    half = t.ppf(0.95, 2) * np.std(numbers, ddof=1) / math.sqrt(3)
    assert math.log(row.high / row.low) / 2.0 == pytest.approx(half, rel=0.05)


def test_two_mixes_are_taken_to_differ_by_what_is_assumed_at_least(even_cups: Cups) -> None:
    alike = [replace(cup, mix=mix) for mix in "ab" for cup in even_cups(offsets=(0.0,), limit=0.01)]
    row = decide(fitted(alike), visible_mm=0.6, tolerated=50.0, atmosphere_kpa=AIR_KPA).rows[0].voids
    # at the median the number falls by phi(0) / Phi(0) / 0.5 for each step of ln d: 1.596
    half = norm.ppf(0.95) * 1.596 * 0.10 / math.sqrt(2)
    assert math.log(row.high / row.low) / 2.0 >= 0.97 * half


@pytest.mark.parametrize("asked", [{"visible_mm": 0.0}, {"tolerated": 0.0}, {"tolerated": -3.0}])
def test_no_target_is_refused(even_cups: Cups, asked: dict[str, float]) -> None:
    with pytest.raises(InputError, match=r"is no target: give a number and a size above 0$"):
        decided(even_cups(), **asked)


def test_a_casting_without_volume_is_refused(even_cups: Cups) -> None:
    with pytest.raises(InputError, match=r"^a casting of 0 cm3 has no volume"):
        decided(even_cups(), casting_cm3=0.0)


def test_cups_without_volume_cannot_tell_of_another_casting(even_cups: Cups) -> None:
    with pytest.raises(InputError, match=r"^15 of 15 cups have no known volume, so the voids of 40 cm3 cannot be told"):
        decided(even_cups(), casting_cm3=40.0)


def test_voids_without_a_population_decide_nothing(even_cups: Cups) -> None:
    fit = replace(fitted(even_cups()), at_bound=True)
    with pytest.raises(InputError, match=r"^the voids thin out so slowly .*: photograph the cups from closer$"):
        decide(fit, visible_mm=0.2, tolerated=10.0, atmosphere_kpa=AIR_KPA)


def test_castings_are_taken_to_warm_up_as_the_cups_did(even_cups: Cups) -> None:
    # Cups that all warm up alike show the same sizes, and tell the same of castings made like them.
    cold = even_cups(median=0.3)
    warm = [replace(cup, warmth=1.1) for cup in cold]
    one, other = decided(cold), decided(warm)
    assert other.enough_psig.value == pytest.approx(one.enough_psig.value, rel=1e-4)
    assert other.recommended_psig == pytest.approx(one.recommended_psig, rel=1e-4)
    assert [row.diameter_ratio for row in other.rows] == pytest.approx([row.diameter_ratio for row in one.rows])
