"""Photographs that are unlike: what a trial says where castings look unlike, or some photographs are unfit."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.pressure.casting_sizes import exponent_by_castings, log_castings
from bubblegrade.pressure.comparison import Comparison, compare
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.findings import Flag, Verdict
from bubblegrade.pressure.shrinkage import fit_shrinkage

Cups = Callable[..., list[Cup]]


def seen(cups: list[Cup], near: dict[str, float]) -> list[Cup]:
    """Return cups of one mould, those of some settings seen this many times as large."""
    each = [(cup, near.get(cup.setting, 1.0)) for cup in cups]
    return [
        replace(cup, diameters=times * cup.diameters, smallest=times * cup.smallest, casting=44.0 * times)
        for cup, times in each
    ]


def spoiled(cups: list[Cup], *names: str, times: float, which: slice = slice(None)) -> list[Cup]:
    """Return cups of which some settings' photographs are unfit, and their voids seen larger than they are."""
    unfit = [cup for name in names for cup in [cup for cup in cups if cup.setting == name][which]]
    return [replace(cup, diameters=times * cup.diameters, unfit=True) if cup in unfit else cup for cup in cups]


def said(cups: list[Cup], flag: Flag) -> tuple[Verdict, bool]:
    """Return the verdict, and whether the flag stands beside it."""
    found: Comparison = compare(cups)
    return found.verdict, flag in found.flags


@pytest.mark.parametrize("times", [0.8, 1.25])
def test_a_zoom_at_some_pressures_is_not_taken_for_a_pressure(even_cups: Cups, times: float) -> None:
    cups = seen(even_cups(), {"45psi": times, "60psi": times})
    assert said(cups, Flag.CASTINGS_UNLIKE) == (Verdict.CANNOT_TELL, True)
    misfit = Verdict.SHRANK_MORE if times < 1.0 else Verdict.SHRANK_LESS
    assert compare([replace(cup, casting=np.nan) for cup in cups]).verdict is misfit


def test_a_zoom_does_not_hide_a_leak(even_cups: Cups) -> None:
    near = {"15psi": 0.93, "30psi": 0.89, "45psi": 0.87, "60psi": 0.86}
    assert compare(even_cups(pressure_share=0.5)).verdict is Verdict.SHRANK_LESS
    assert said(seen(even_cups(pressure_share=0.5), near), Flag.CASTINGS_UNLIKE) == (Verdict.CANNOT_TELL, True)


def test_a_misfit_that_castings_of_one_size_would_leave_stands(even_cups: Cups) -> None:
    cups = seen(even_cups(pressure_share=0.3), {"60psi": 1.06})
    assert said(cups, Flag.CASTINGS_UNLIKE) == (Verdict.SHRANK_LESS, True)


def test_cups_filled_to_unlike_heights_are_alike(even_cups: Cups) -> None:
    cups = [replace(cup, casting=44.0 * (1.02 if cup.setting == "60psi" else 1.0)) for cup in even_cups()]
    assert said(cups, Flag.CASTINGS_UNLIKE) == (Verdict.AGREES, False)


def test_castings_that_say_nothing_move_nothing(even_cups: Cups) -> None:
    cups = seen(even_cups(), {"60psi": 1.3})
    fit = fit_shrinkage(gather([replace(cup, casting=np.nan) if cup.setting == "60psi" else cup for cup in cups]))
    assert log_castings(fit).tolist() == [0.0] * 5
    assert exponent_by_castings(fit, log_castings(fit)) == 0.0


def test_castings_undo_the_zoom_in_the_exponent(even_cups: Cups) -> None:
    zoomed = fit_shrinkage(gather(seen(even_cups(), {"30psi": 1.2, "60psi": 0.9})))
    undone = zoomed.exponent.value + exponent_by_castings(zoomed, log_castings(zoomed))
    assert undone == pytest.approx(fit_shrinkage(gather(even_cups())).exponent.value, abs=0.003)


def test_what_sizes_of_a_setting_may_share_widens_its_ratio_and_the_exponent(even_cups: Cups) -> None:
    err = 0.08
    plain, carried = (compare([replace(cup, size_err=each) for cup in even_cups()]) for each in (0.0, err))
    for one, other in zip(plain.rows[1:], carried.rows[1:], strict=True):
        halves = [(row.log_ratio.high - row.log_ratio.low) / 2.0 for row in (one, other)]
        added = math.sqrt(halves[1] ** 2 - halves[0] ** 2) / plain.fit.replicas.quantile()
        assert added == pytest.approx(math.sqrt(2.0) * err, rel=0.05)  # the setting's own and the reference's
        assert other.log_ratio.value == one.log_ratio.value
    by_setting = np.bincount(plain.fit.trial.setting, weights=plain.fit.influence)
    added = math.sqrt(carried.fit.exponent_err**2 - plain.fit.exponent_err**2)
    assert added == pytest.approx(err * math.sqrt(float(np.sum(by_setting**2))), rel=0.05)
    assert carried.findings.pooled.high > plain.findings.pooled.high


def test_one_cup_at_each_pressure_shares_its_sizes_with_nobody(even_cups: Cups) -> None:
    alone = [replace(cup, size_err=0.08) for cup in even_cups(settings=(0.0, 60.0), offsets=(0.0,))]
    (row,) = compare(alone).rows[1:]
    half = (row.log_ratio.high - row.log_ratio.low) / 2.0
    assert half == pytest.approx(1.96 * math.sqrt(2.0 * (0.08**2 + 0.05**2)), rel=0.1)  # the voids bring little


def test_unfit_photographs_of_one_pressure_bear_no_verdict(even_cups: Cups) -> None:
    two = (0.0, 60.0)
    assert said(spoiled(even_cups(settings=two), "60psi", times=1.0), Flag.HANGS_ON_UNFIT)[0] is Verdict.CANNOT_TELL
    wrong = spoiled(even_cups(), "45psi", "60psi", times=1.3)
    assert said(wrong, Flag.HANGS_ON_UNFIT) == (Verdict.CANNOT_TELL, True)
    assert compare([replace(cup, unfit=False) for cup in wrong]).verdict is Verdict.SHRANK_LESS


def test_a_verdict_that_the_fit_photographs_give_alone_stands(even_cups: Cups) -> None:
    for times in (1.0, 1.02):
        cups = spoiled(even_cups(), "0psi", "60psi", times=times, which=slice(1))
        assert said(cups, Flag.HANGS_ON_UNFIT) == (Verdict.AGREES, False)


def test_photographs_that_are_all_unfit_are_alike(even_cups: Cups) -> None:
    assert said([replace(cup, unfit=True) for cup in even_cups()], Flag.HANGS_ON_UNFIT) == (Verdict.AGREES, False)


def test_a_setting_of_unfit_photographs_has_no_verdict_of_its_own(even_cups: Cups) -> None:
    found = compare(spoiled(even_cups(), "60psi", times=1.0))
    told = dict(zip((row.name for row in found.rows), found.setting_verdicts, strict=True))
    assert (told["60psi"], told["45psi"]) == (Verdict.CANNOT_TELL, Verdict.AGREES)
