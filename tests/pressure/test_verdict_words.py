"""A comparison in plain words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.findings import Flag, Verdict
from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.trial import Trial
from bubblegrade.pressure.verdict_words import (
    ALL_TOGETHER,
    FLAG_WORDS,
    MORE_THAN_CHANCE,
    ONE_OF_MANY,
    SIZES_ALONE,
    VERDICT_WORDS,
    naive_sentence,
    remarks,
    verdict_sentence,
)

MakePoured = Callable[..., Poured]
MakeTrial = Callable[..., Trial]


def test_a_verdict_under_an_assumption_names_it(known_trial: MakeTrial, poured: MakePoured) -> None:
    said = known_trial(cups=(poured(0.0), poured(60.0, pressure_share=0.1)), cup_spread=0.05).comparison
    assert said.verdict is Verdict.NOT_CONSISTENT
    sentence = verdict_sentence(said)
    assert sentence.startswith(
        "If cups differ by no more than 5 % in diameter, the voids are not consistent with Boyle"
    )
    turns = float(sentence.split("; from ")[1].split(" % on they are.")[0])
    assert 100.0 * said.spread_to_agree <= turns < 100.0 * said.spread_to_agree + 0.1001
    assert remarks(said)[-1] == "Intervals assume that cups differ by 5 % in diameter (standard deviation)."


def test_a_misfit_that_no_setting_shows_alone_says_so(known_trial: MakeTrial) -> None:
    said = known_trial(pressure_share=0.3).comparison
    quiet = replace(said, setting_verdicts=tuple(
        Verdict.CANNOT_TELL if each is Verdict.SHRANK_LESS else each for each in said.setting_verdicts
    ))  # fmt: skip
    assert Verdict.SHRANK_LESS in said.setting_verdicts
    assert ALL_TOGETHER not in remarks(said)
    assert ALL_TOGETHER in remarks(quiet)


def test_a_misfit_asks_for_a_pressure_log(known_trial: MakeTrial) -> None:
    assert remarks(known_trial(pressure_share=0.3).comparison) == (SIZES_ALONE,)
    assert remarks(known_trial().comparison) == ()


def test_a_ratio_of_means_that_voids_out_of_sight_flatter_is_explained(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    cups = tuple(poured(psig, name=name, smallest=0.25) for psig in (0.0, 60.0) for name in "abc")
    sentence = naive_sentence(known_trial(cups=cups).comparison)
    assert sentence is not None
    assert "above the measured one" in sentence
    assert "drop out of it" in sentence


def test_a_ratio_of_means_that_hardly_differs_is_not_worth_a_sentence(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    cups = tuple(poured(psig, name=name, smallest=0.01) for psig in (0.0, 60.0) for name in "abc")
    assert naive_sentence(known_trial(cups=cups).comparison) is None


def test_sentences_of_verdicts_are_whole(known_trial: MakeTrial) -> None:
    assert verdict_sentence(known_trial().comparison) == (
        "The voids shrank as Boyle's law says, as far as these cups can tell."
    )
    assert pytest.approx(0.5, abs=0.05) == known_trial(pressure_share=0.5).comparison.effective_share.value


def test_a_misfit_that_one_of_two_intervals_calls_names_that_interval(
    known_trial: MakeTrial,
) -> None:
    said = known_trial(pressure_share=0.3).comparison
    borderline = replace(said, flags=(*said.flags, Flag.BORDERLINE))
    low, high = said.findings.pooled.low, said.findings.pooled.high
    assert remarks(borderline)[0].startswith(f"The verdict goes by the exponent's interval of {low:.3f} to {high:.3f}")


def test_an_agreement_that_half_the_pressure_would_share_says_so(known_trial: MakeTrial) -> None:
    said = known_trial().comparison
    loose = replace(said, effective_share=Estimate(0.95, 0.31, 2.0))
    assert remarks(loose) == ("Half the gauge pressure would agree as well, down to a share of 0.31.",)


def test_every_verdict_and_flag_has_its_sentence() -> None:
    assert set(VERDICT_WORDS) == set(Verdict)
    assert set(FLAG_WORDS) == set(Flag)
    assert all(text.endswith(".") for text in [*VERDICT_WORDS.values(), *FLAG_WORDS.values()])


def test_one_setting_that_is_off_may_be_chance_and_several_are_not(known_trial: MakeTrial) -> None:
    said = known_trial().comparison
    reference, *others = said.setting_verdicts
    one = replace(said, setting_verdicts=(reference, Verdict.SHRANK_LESS, *others[1:]))
    both = replace(said, setting_verdicts=(reference, *[Verdict.SHRANK_LESS] * len(others)))
    assert remarks(one) == (ONE_OF_MANY,)
    assert remarks(both) == (MORE_THAN_CHANCE,)


def test_settings_that_contradict_each_other_are_not_laid_to_chance_nor_to_the_whole_interval(
    known_trial: MakeTrial,
) -> None:
    said = known_trial().comparison
    off = (said.setting_verdicts[0], *[Verdict.SHRANK_LESS] * len(said.setting_verdicts[1:]))
    untold = replace(said, flags=(Flag.UNEVEN,), verdict=Verdict.CANNOT_TELL, setting_verdicts=off)
    told = replace(untold, flags=(Flag.UNEVEN, Flag.BORDERLINE), verdict=Verdict.SHRANK_LESS)
    assert remarks(untold) == ()
    assert remarks(told) == (SIZES_ALONE,)
