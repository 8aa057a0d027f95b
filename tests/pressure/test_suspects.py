"""Suspects for a misfit, ranked by clues."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.comparison import compare
from bubblegrade.pressure.cups import Cup
from bubblegrade.pressure.findings import Findings, Verdict
from bubblegrade.pressure.suspects import (
    SHRANK_LESS,
    SHRANK_MORE,
    SUSPECT_WORDS,
    Circumstances,
    Clue,
    Ranked,
    Suspect,
    rank,
)

Cups = Callable[..., list[Cup]]


@pytest.fixture(name="less", scope="module")
def _less(even_cups: Cups) -> Findings:
    return compare(even_cups(pressure_share=0.5)).findings


@pytest.fixture(name="more", scope="module")
def _more(even_cups: Cups) -> Findings:
    return compare(even_cups(exponent=0.5)).findings


def ranked(found: Findings, verdict: Verdict = Verdict.SHRANK_LESS, **given: object) -> list[Suspect]:
    """Return the suspects in their order."""
    return [each.suspect for each in rank(found, verdict, Circumstances(**given))]  # type: ignore[arg-type]


def test_without_a_misfit_nobody_is_suspected(less: Findings) -> None:
    for verdict in (Verdict.AGREES, Verdict.CANNOT_TELL, Verdict.CONSISTENT):
        assert ranked(less, verdict) == []


def test_where_settings_contradict_each_other_a_pressure_comes_before_what_dissolves(even_cups: Cups) -> None:
    cups = [*even_cups(settings=(0.0, 15.0, 45.0, 60.0)), *even_cups(settings=(30.0,), pressure_share=4.0)]
    found = compare(cups)
    assert found.verdict is Verdict.SHRANK_MORE
    assert found.suspects[0].suspect is Suspect.GAUGE_LOW
    assert found.suspects[0].clues == (Clue.UNEVEN,)


def test_bar_written_as_psi_is_laid_to_the_number_and_not_to_gas(even_cups: Cups) -> None:
    found = compare(even_cups(settings=(0.0, 2.1, 4.1), pressure_share=14.5))
    assert found.verdict is Verdict.SHRANK_MORE
    assert found.suspects[0].suspect is Suspect.GAUGE_LOW
    assert found.suspects[0].clues == (Clue.FAR_MORE,)


def test_sizes_that_spread_alike_speak_for_the_pressure(less: Findings) -> None:
    assert ranked(less) == list(SHRANK_LESS)
    assert set(ranked(less, Verdict.NOT_CONSISTENT)) == set(SHRANK_LESS)


@pytest.mark.parametrize(("pressure_share", "first"), [(0.4, Suspect.CUPS_UNLIKE), (0.0, Suspect.LEAK)])
def test_cups_of_several_mixes_come_first_where_they_would_explain_a_misfit(
    even_cups: Cups, pressure_share: float, first: Suspect
) -> None:
    """Mixes differ by 10 % in diameter (assumed)."""
    found = compare(even_cups(settings=(0.0, 60.0), offsets=(0.0,), pressure_share=pressure_share))
    assert found.verdict is Verdict.NOT_CONSISTENT
    assert (found.spread_to_agree <= 0.10) == (first is Suspect.CUPS_UNLIKE)
    assert found.suspects[0].suspect is first
    assert found.suspects[-1].suspect is not Suspect.CUPS_UNLIKE


def test_who_shrank_more_has_other_suspects(more: Findings) -> None:
    assert ranked(more, Verdict.SHRANK_MORE) == list(SHRANK_MORE)


def test_sizes_that_spread_more_speak_for_voids_that_do_not_scale(less: Findings) -> None:
    found = replace(less, spread_trend=Estimate(0.1, 0.05, 0.15))
    assert set(ranked(found)[:2]) == {Suspect.MOISTURE, Suspect.SHRINKAGE}


def test_clusters_and_new_voids_speak_for_moisture(less: Findings) -> None:
    found = replace(less, void_trend=Estimate(0.3, 0.1, 0.5))
    assert ranked(found, clustered=True)[0] is Suspect.MOISTURE


def test_fewer_voids_speak_against_the_gauge(more: Findings) -> None:
    found = replace(more, void_trend=Estimate(-0.3, -0.5, -0.1))
    last = rank(found, Verdict.SHRANK_MORE, Circumstances())[-1]
    assert last == Ranked(Suspect.GAUGE_LOW, 0.1, ())


@pytest.mark.parametrize(
    ("given", "first", "clue"),
    [
        ({"gel_s": 1200.0, "let_off_s": 600.0}, Suspect.LET_OFF, Clue.LET_OFF_EARLY),
        ({"gel_s": 1200.0, "full_pressure_s": 900.0}, Suspect.LEAK, Clue.LATE),
    ],
)
def test_the_log_speaks_loudest(less: Findings, given: dict[str, float], first: Suspect, clue: Clue) -> None:
    found = rank(less, Verdict.SHRANK_LESS, Circumstances(**given))
    assert found[0].suspect is first
    assert clue in found[0].clues


def test_who_the_log_clears_stands_last_but_in_the_list(less: Findings) -> None:
    found = ranked(less, gel_s=1200.0, let_off_s=4000.0, full_pressure_s=60.0)
    assert found[-1] is Suspect.LET_OFF
    assert set(found) == set(SHRANK_LESS)
    assert found[0] is Suspect.GAUGE_HIGH


def test_every_suspect_has_its_sentence() -> None:
    assert set(SUSPECT_WORDS) == set(Suspect)
    assert {Suspect.CUPS_UNLIKE, Suspect.THIN_AIR, *SHRANK_LESS, *SHRANK_MORE} == set(Suspect)
