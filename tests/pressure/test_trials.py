"""Simulated trials: how often intervals hold the truth, how often verdicts are right. Seeds are fixed.

Five settings from open air to 60 psi, three cups each, 200 voids a cup, spread of sizes 0.5 in ln d; cups differ by
0.05 or 0.15 in ln d. The limit is given as a share of the open cups' median.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import stdtrit

from bubblegrade.errors import InputError
from bubblegrade.grading.estimate import UNKNOWN
from bubblegrade.pressure.by_setting import by_setting, chance_of_line
from bubblegrade.pressure.casting_sizes import log_castings
from bubblegrade.pressure.checks import Recuts, spread_trend, void_trend
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.findings import Findings, Verdict
from bubblegrade.pressure.free_check import free_check
from bubblegrade.pressure.shrinkage import Shrinkage, fit_shrinkage, pooled_exponent, variance_from_voids
from bubblegrade.pressure.verdict import flags, judge

Cups = Callable[..., list[Cup]]
BOYLE = 1 / 3
pytestmark = pytest.mark.long
TRIALS = 500
MEDIAN = 0.6


def judged(fit: Shrinkage) -> Verdict:
    """Return the verdict, from those findings that it can depend on."""
    found = Findings(
        fit=fit,
        pooled=pooled_exponent(fit),
        rows=by_setting(fit),
        chance_of_line=chance_of_line(fit),
        check=free_check(fit.trial, fit.grouping),
        recuts=Recuts((), UNKNOWN),
        spread_trend=UNKNOWN,
        void_trend=UNKNOWN,
        empty=(),
        log_castings=log_castings(fit),
        sound=None,
    )
    return judge(found, flags(found))


@pytest.mark.parametrize(("cup_spread", "seed"), [(0.05, 101), (0.15, 102)])
def test_boyles_law_is_held_and_seldom_called_broken_with_any_limit_up_to_the_median(
    drawn_cups: Cups, cup_spread: float, seed: int
) -> None:
    random = np.random.default_rng(seed)
    held, called = 0, Counter[Verdict]()
    for _ in range(TRIALS):
        limit = MEDIAN * random.uniform(0.05, 1.0)
        fit = fit_shrinkage(gather(drawn_cups(random, cup_spread=cup_spread, limit=limit)))
        held += fit.exponent.low <= BOYLE <= fit.exponent.high
        called[judged(fit)] += 1
    assert 0.91 <= held / TRIALS <= 0.98
    assert (called[Verdict.SHRANK_LESS] + called[Verdict.SHRANK_MORE]) / TRIALS <= 0.06


@pytest.mark.parametrize(
    ("what", "verdict", "seed"),
    [({"pressure_share": 0.5}, Verdict.SHRANK_LESS, 103), ({"exponent": 0.5}, Verdict.SHRANK_MORE, 104)],
)
def test_half_the_pressure_and_another_exponent_are_told_while_the_limit_is_below_a_third_of_the_median(
    drawn_cups: Cups, what: dict[str, float], verdict: Verdict, seed: int
) -> None:
    random = np.random.default_rng(seed)
    found = 0
    for _ in range(TRIALS):
        limit = MEDIAN * random.uniform(0.05, 1 / 3)
        found += judged(fit_shrinkage(gather(drawn_cups(random, limit=limit, **what)))) is verdict
    assert found / TRIALS >= 0.90


@pytest.mark.parametrize(("limit_share", "cups", "seed"), [(0.2, 3, 105), (0.7, 3, 106), (0.2, 2, 113), (0.7, 2, 114)])
def test_intervals_of_ratios_and_trends_hold_the_truth(
    drawn_cups: Cups, limit_share: float, cups: int, seed: int
) -> None:
    random, trials = np.random.default_rng(seed), 150
    held = Counter[str]()
    for _ in range(trials):
        fit = fit_shrinkage(gather(drawn_cups(random, cup_spread=0.1, limit=limit_share * MEDIAN, cups=cups)))
        for row in by_setting(fit)[1:]:
            held[row.name] += row.log_ratio.low <= row.boyle_log_ratio <= row.log_ratio.high
        for name, found in (("spread", spread_trend(fit)), ("voids", void_trend(fit))):
            held[name] += found.low <= 0.0 <= found.high
    assert len(held) == 6
    assert all(0.88 <= count / trials <= 0.99 for count in held.values()), held


def test_one_mix_poured_over_all_pressures_more_than_halves_the_interval(drawn_cups: Cups) -> None:
    random, trials = np.random.default_rng(107), 200
    halves: dict[bool, list[float]] = {True: [], False: []}
    held = 0
    for _ in range(trials):
        for blocked, found in halves.items():
            fit = fit_shrinkage(gather(drawn_cups(random, cup_spread=0.03, mix_spread=0.15, blocked=blocked)))
            found.append((fit.exponent.high - fit.exponent.low) / 2.0)
            held += blocked and fit.exponent.low <= BOYLE <= fit.exponent.high
    assert np.median(halves[True]) < 0.5 * np.median(halves[False])
    assert 0.91 <= held / trials <= 0.99


def test_mixes_that_stand_at_one_pressure_each_need_to_be_left_out_whole(drawn_cups: Cups) -> None:
    random, trials = np.random.default_rng(108), 200
    whole, single = 0, 0
    for _ in range(trials):
        first, second = (drawn_cups(random, cup_spread=0.03) for _ in range(2))
        mixes = np.exp(random.normal(0.0, 0.1, len(first)))
        paired = [
            Cup(c.setting, c.gauge_ratio, c.diameters * mix, c.smallest, mix=f"{i}")
            for i, (twins, mix) in enumerate(zip(zip(first, second, strict=True), mixes, strict=True))
            for c in twins
        ]
        fit = fit_shrinkage(gather(paired))
        whole += fit.exponent.low <= BOYLE <= fit.exponent.high
        unnamed = fit_shrinkage(gather([Cup(c.setting, c.gauge_ratio, c.diameters, c.smallest) for c in paired]))
        single += unnamed.exponent.low <= BOYLE <= unnamed.exponent.high
    assert 0.91 <= whole / trials <= 0.98
    assert single / trials < 0.90


def test_sizes_that_a_settings_photographs_share_are_held_where_they_are_stated(drawn_cups: Cups) -> None:
    # without it 73 of 100 ratios of cups moved by 5 px were held, whose sizes are stated to 5 % and read 5 % too large
    random, trials, err = np.random.default_rng(112), 150, 0.06
    held = Counter[float]()
    for _ in range(trials):
        cups = drawn_cups(random, settings=(0.0, 20.0, 40.0, 60.0))
        shared = {name: math.exp(random.normal(0.0, err)) for name in ("0psi", "20psi", "40psi", "60psi")}
        for stated in (0.0, err):
            photographed = [
                replace(cup, diameters=shared[cup.setting] * cup.diameters, size_err=stated) for cup in cups
            ]
            for row in by_setting(fit_shrinkage(gather(photographed)))[1:]:
                held[stated] += (row.log_ratio.low <= row.boyle_log_ratio <= row.log_ratio.high) / (3 * trials)
    assert held[0.0] < 0.85
    assert 0.90 <= held[err] <= 0.99


def test_two_cups_hold_the_truth_if_cups_differ_as_assumed(drawn_cups: Cups) -> None:
    random, trials = np.random.default_rng(109), 300
    held, wilder = 0, 0
    for _ in range(trials):
        for spread in (0.05, 0.15):
            fit = fit_shrinkage(gather(drawn_cups(random, cup_spread=spread, cups=1, settings=(0.0, 60.0))))
            inside = fit.exponent.low <= BOYLE <= fit.exponent.high
            held += spread == 0.05 and inside
            wilder += spread == 0.15 and inside
    assert 0.91 <= held / trials <= 0.98
    assert wilder / trials < 0.75  # which is why no more than 'consistent' is said


def test_voids_alone_would_make_the_interval_far_too_narrow(drawn_cups: Cups) -> None:
    # intervals that ignore cups hold the truth 38 to 77 times in 100 (simulated)
    random, trials = np.random.default_rng(110), 200
    held = 0
    for _ in range(trials):
        fit = fit_shrinkage(gather(drawn_cups(random, cup_spread=0.1)))
        half = float(stdtrit(1e6, 0.975)) * math.sqrt(variance_from_voids(fit))
        held += abs(fit.exponent.value - BOYLE) <= half
    assert 0.3 < held / trials < 0.77


def test_a_trial_with_voids_too_fine_for_the_photographs_is_refused_or_not_told(drawn_cups: Cups) -> None:
    random = np.random.default_rng(111)
    verdicts = Counter[str]()
    for _ in range(60):
        try:
            fit = fit_shrinkage(gather(drawn_cups(random, limit=4.0 * MEDIAN, cup_spread=0.15)))
        except InputError:
            verdicts["refused"] += 1
            continue
        verdicts[judged(fit)] += 1
    assert verdicts[Verdict.SHRANK_LESS] + verdicts[Verdict.SHRANK_MORE] <= 2
    assert verdicts["refused"] + verdicts[Verdict.CANNOT_TELL] >= 54
