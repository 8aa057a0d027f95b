"""The judgement and its flags, on findings of known kind."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.by_setting import by_setting, chance_of_line
from bubblegrade.pressure.casting_sizes import log_castings
from bubblegrade.pressure.checks import Recuts, recut, spread_trend, void_trend
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.findings import Findings, Flag, Verdict
from bubblegrade.pressure.free_check import FreeCheck, free_check
from bubblegrade.pressure.shrinkage import fit_shrinkage, pooled_exponent
from bubblegrade.pressure.verdict import flags, judge, judge_setting, uneven

Cups = Callable[..., list[Cup]]


def found_in(cups: list[Cup], **changes: object) -> Findings:
    """Return the findings on cups, some of them changed."""
    fit = fit_shrinkage(gather(cups))
    facts = {
        "fit": fit,
        "pooled": pooled_exponent(fit),
        "rows": by_setting(fit),
        "chance_of_line": chance_of_line(fit),
        "check": free_check(fit.trial, fit.grouping),
        "recuts": recut(cups, fit),
        "spread_trend": spread_trend(fit),
        "void_trend": void_trend(fit),
        "empty": (),
        "log_castings": log_castings(fit),
        "sound": None,
    }
    return Findings(**{**facts, **changes})  # type: ignore[arg-type]


def judged(found: Findings) -> Verdict:
    """Return the verdict on findings."""
    return judge(found, flags(found))


@pytest.mark.parametrize(
    ("what", "verdict"),
    [
        ({}, Verdict.AGREES),
        ({"pressure_share": 0.5}, Verdict.SHRANK_LESS),
        ({"exponent": 0.5}, Verdict.SHRANK_MORE),
        ({"exponent": 0.0}, Verdict.SHRANK_LESS),
        ({"settings": (0.0, 60.0), "offsets": (0.0,)}, Verdict.CONSISTENT),
        ({"settings": (0.0, 60.0), "offsets": (0.0,), "pressure_share": 0.3}, Verdict.NOT_CONSISTENT),
        ({"settings": (0.0, 3.0), "offsets": (0.0,)}, Verdict.CANNOT_TELL),
    ],
)
def test_even_trials_are_judged_for_what_they_are(even_cups: Cups, what: dict[str, object], verdict: Verdict) -> None:
    assert judged(found_in(even_cups(**what))) is verdict


def test_a_trial_that_obeys_the_law_raises_no_flag(even_cups: Cups) -> None:
    assert flags(found_in(even_cups())) == ()


def test_a_trial_of_which_most_is_hidden_is_flagged_as_extrapolated(even_cups: Cups) -> None:
    assert Flag.EXTRAPOLATED in flags(found_in(even_cups(median=0.12)))


def test_each_setting_has_a_verdict_of_its_own(even_cups: Cups) -> None:
    found = found_in(even_cups(exponent=0.5))
    verdicts = [judge_setting(row, found) for row in found.rows]
    assert verdicts == [Verdict.REFERENCE, *[Verdict.SHRANK_MORE] * 4]
    near = found_in(even_cups(settings=(0.0, 5.0, 60.0)))
    assert judge_setting(near.rows[1], near) is Verdict.CANNOT_TELL  # 5 psi move a diameter by 9 %


def test_without_an_open_cup_the_reader_is_told(even_cups: Cups) -> None:
    assert Flag.NO_OPEN_CUP in flags(found_in(even_cups(settings=(15.0, 30.0, 60.0))))


def test_cups_left_out_are_told(even_cups: Cups) -> None:
    assert flags(found_in(even_cups(), empty=("60psi",))) == (Flag.EMPTY_CUPS,)


def test_two_cups_are_told(even_cups: Cups) -> None:
    assert flags(found_in(even_cups(settings=(0.0, 60.0), offsets=(0.0,)))) == (Flag.FEW_CUPS,)


@pytest.mark.parametrize(
    ("change", "flag", "verdict"),
    [
        ({"check": FreeCheck(Estimate(0.33, 0.2, math.inf))}, Flag.CHECK_OPEN, Verdict.CANNOT_TELL),
        ({"check": FreeCheck(Estimate(0.25, 0.2, 0.3))}, Flag.CHECKS_DIFFER, Verdict.AGREES),
        ({"recuts": Recuts((), Estimate(0.03, 0.01, 0.05))}, Flag.CUT_DRIFT, Verdict.AGREES),
        ({"spread_trend": Estimate(0.1, 0.05, 0.15)}, Flag.SPREAD_GROWS, Verdict.AGREES),
        ({"spread_trend": Estimate(-0.1, -0.15, -0.05)}, Flag.SPREAD_FALLS, Verdict.AGREES),
        ({"void_trend": Estimate(0.3, 0.1, 0.5)}, Flag.VOIDS_MORE, Verdict.AGREES),
        ({"void_trend": Estimate(-0.3, -0.5, -0.1)}, Flag.VOIDS_FEWER, Verdict.AGREES),
        ({"pooled": Estimate(0.334, 0.3335, 0.38)}, Flag.BORDERLINE, Verdict.SHRANK_MORE),
    ],
)
def test_what_stands_beside_the_verdict_is_flagged(
    even_cups: Cups, change: dict[str, object], flag: Flag, verdict: Verdict
) -> None:
    found = found_in(even_cups(), **change)
    assert flags(found) == (flag,)
    assert judged(found) is verdict


def test_a_misfit_by_the_jackknife_alone_cannot_be_told(even_cups: Cups) -> None:
    found = found_in(even_cups(pressure_share=0.5), pooled=Estimate(0.2274, 0.12, 0.335))
    assert Flag.BORDERLINE in flags(found)
    assert judged(found) is Verdict.CANNOT_TELL


def test_a_misfit_that_hangs_on_hidden_voids_takes_the_check_to_call(even_cups: Cups) -> None:
    cups = even_cups(median=0.25, pressure_share=0.4)
    assert judged(found_in(cups)) is Verdict.SHRANK_LESS
    found = found_in(cups, check=FreeCheck(Estimate(0.2, 0.1, 0.4)))
    assert Flag.UNCONFIRMED in flags(found)
    assert judged(found) is Verdict.CANNOT_TELL
    extrapolated = [row for row in found.rows if row.extrapolated]
    assert extrapolated
    assert all(judge_setting(row, found) is Verdict.CANNOT_TELL for row in extrapolated)


def test_a_spread_at_its_bound_forbids_a_verdict(even_cups: Cups) -> None:
    found = found_in(even_cups())
    bound = found_in(even_cups(), fit=replace(found.fit, at_bound=True))
    assert flags(bound) == (Flag.SPREAD_AT_BOUND,)
    assert judged(bound) is Verdict.CANNOT_TELL
    assert judge_setting(bound.rows[-1], bound) is Verdict.CANNOT_TELL


def test_a_wide_interval_forbids_a_verdict(even_cups: Cups) -> None:
    found = found_in(even_cups(offsets=(-0.3, 0.0, 0.3)))
    assert Flag.WIDE in flags(found)
    assert judged(found) is Verdict.CANNOT_TELL


def test_an_interval_far_from_boyle_is_a_misfit_however_wide(even_cups: Cups) -> None:
    # 60 psi written down as 4.1, as bar without the word: ln(74.7 / 14.7) / (3 ln(18.8 / 14.7)) = 2.2
    found = found_in(even_cups(settings=(0.0, 4.1), pressure_share=60.0 / 4.1))
    assert found.fit.exponent.value == pytest.approx(2.2, abs=0.02)
    assert Flag.WIDE not in flags(found)
    assert judged(found) is Verdict.SHRANK_MORE
    assert judge_setting(found.rows[-1], found) is Verdict.SHRANK_MORE


def leaked(even_cups: Cups, *names: float) -> list[Cup]:
    """Return an even trial in which no pressure stood at the settings named."""
    open_cups = even_cups(settings=(0.0,))
    kept = even_cups(settings=[psig for psig in (0.0, 15.0, 30.0, 45.0, 60.0) if psig not in names])
    lost = [replace(cup, setting=f"{psig:g}psi", gauge_ratio=psig / 14.696) for psig in names for cup in open_cups]
    return kept + lost


@pytest.mark.parametrize("names", [(45.0, 60.0), (60.0,), (30.0,)])
def test_a_pot_that_leaked_at_some_settings_is_told_from_cups_that_differ(
    even_cups: Cups, names: tuple[float, ...]
) -> None:
    found = found_in(leaked(even_cups, *names))
    assert Flag.UNEVEN in flags(found)
    assert Flag.WIDE not in flags(found)
    assert judged(found) is Verdict.SHRANK_LESS
    verdicts = {row.name: judge_setting(row, found) for row in found.rows}
    assert {name for name, verdict in verdicts.items() if verdict is Verdict.SHRANK_LESS} == {
        f"{psig:g}psi" for psig in names
    }


def test_a_pressure_let_off_at_one_setting_is_told_where_the_others_lie_on_a_line(even_cups: Cups) -> None:
    found = found_in([*even_cups(settings=(0.0, 15.0, 30.0, 45.0)), *even_cups(settings=(60.0,), pressure_share=0.45)])
    assert found.chance_of_line < 0.01
    assert uneven(found) is Verdict.SHRANK_LESS
    assert uneven(replace(found, chance_of_line=0.02)) is None
    assert judged(found) is Verdict.SHRANK_LESS


def test_settings_off_the_line_do_not_agree_where_no_single_one_is_told_from_the_law(even_cups: Cups) -> None:
    offsets = (-0.07, 0.0, 0.07)
    kept = even_cups(settings=(0.0, 30.0, 45.0, 60.0), offsets=offsets)
    found = found_in([*kept, *even_cups(settings=(15.0,), pressure_share=0.0, offsets=offsets)])
    assert uneven(found) is None
    assert Flag.UNEVEN in flags(found)
    assert judged(found) is Verdict.CANNOT_TELL


def test_cups_of_one_line_lie_on_it_by_chance(even_cups: Cups) -> None:
    assert chance_of_line(fit_shrinkage(gather(even_cups(pressure_share=0.5)))) > 0.9
    assert chance_of_line(fit_shrinkage(gather(even_cups(settings=(0.0, 60.0))))) == 1.0  # two settings have one
    assert chance_of_line(fit_shrinkage(gather(even_cups(offsets=(0.0,))))) == 1.0  # one cup each tells no spread


def test_voids_that_shrank_less_and_spread_less_are_not_laid_to_the_pressure(even_cups: Cups) -> None:
    # as many new voids of half the size in the cups at 0 and 15 psi: gas that more pressure kept dissolved
    cups = even_cups()
    low = even_cups(median=0.3, settings=(0.0, 15.0))
    gassy = [
        replace(cup, diameters=np.concatenate([cup.diameters, small.diameters]))
        for cup, small in zip(cups, low, strict=False)
    ]
    found = found_in([*gassy, *cups[len(low) :]])
    assert found.pooled.high < 1 / 3
    assert Flag.SMALL_GONE in flags(found)
    assert judged(found) is Verdict.CANNOT_TELL
    assert Verdict.SHRANK_LESS not in {judge_setting(row, found) for row in found.rows}
    assert judged(replace(found, void_trend=Estimate(0.1, -0.1, 0.3))) is Verdict.SHRANK_LESS


def test_few_cups_whose_small_voids_are_gone_have_no_verdict_on_a_setting_either(even_cups: Cups) -> None:
    few = found_in(even_cups(settings=(0.0, 60.0), offsets=(0.0,), pressure_share=0.3))
    assert [judge_setting(row, few) for row in few.rows] == [Verdict.REFERENCE, Verdict.NOT_CONSISTENT]
    gone = replace(few, spread_trend=Estimate(-0.1, -0.15, -0.05))
    assert Flag.SMALL_GONE in flags(gone)
    assert judged(gone) is Verdict.CANNOT_TELL
    assert [judge_setting(row, gone) for row in gone.rows] == [Verdict.REFERENCE, Verdict.CANNOT_TELL]


def test_of_settings_that_left_the_law_both_ways_the_plainest_is_said(even_cups: Cups) -> None:
    lost = [cup for cup in leaked(even_cups, 15.0, 60.0) if cup.setting != "60psi"]
    found = found_in([*lost, *even_cups(settings=(60.0,), pressure_share=4.0)])
    verdicts = {row.name: judge_setting(row, found) for row in found.rows}
    assert (verdicts["15psi"], verdicts["60psi"]) == (Verdict.SHRANK_LESS, Verdict.SHRANK_MORE)
    assert uneven(found) is Verdict.SHRANK_MORE


@pytest.mark.parametrize("what", [{}, {"pressure_share": 0.0}, {"pressure_share": 0.5}, {"exponent": 0.5}])
def test_settings_that_leave_the_law_alike_do_not_contradict_each_other(
    even_cups: Cups, what: dict[str, float]
) -> None:
    assert Flag.UNEVEN not in flags(found_in(even_cups(**what)))
