"""A trial answered: comparison, decision and advice from what was said and seen of each cup."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.errors import InputError
from bubblegrade.pressure.atmosphere import SEA_LEVEL, Atmosphere, atmosphere
from bubblegrade.pressure.findings import Verdict
from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.situation import Level, Limits
from bubblegrade.pressure.suspects import Clue, Suspect
from bubblegrade.pressure.trial import (
    NO_EXPONENT,
    NO_POPULATION,
    NO_PRESSURES,
    NO_SCALE,
    NO_SHRINKING,
    SAME_SETUP,
    UNLIKE_PHOTOGRAPHS,
    Trial,
    circumstances,
)
from bubblegrade.units import PSI_KPA, GaugePressure

MakePoured = Callable[..., Poured]
MakeTrial = Callable[..., Trial]


def test_cups_that_obey_boyle_s_law_agree_with_it(known_trial: MakeTrial) -> None:
    trial = known_trial()
    assert trial.comparison.exponent.value == pytest.approx(1 / 3, abs=0.01)
    assert trial.comparison.verdict is Verdict.AGREES
    assert trial.warnings == ()


def test_settings_stand_from_the_lowest_pressure_on_with_what_their_voids_report(known_trial: MakeTrial) -> None:
    settings = known_trial(pressure_share=0.5).settings
    assert [told.name for told in settings] == ["0 psi", "20 psi", "60 psi"]
    assert settings[0].absolute_kpa == pytest.approx(101.325)
    assert not settings[0].effective_psig.known
    assert [told.effective_psig.value for told in settings[1:]] == pytest.approx([10.0, 30.0], rel=0.05)


def test_a_setting_without_voids_keeps_its_place_and_tells_nothing(known_trial: MakeTrial, poured: MakePoured) -> None:
    cups = tuple(poured(psig, name=name) for psig in (0.0, 20.0) for name in "abc")
    trial = known_trial(cups=(*cups, poured(60.0, diameters=np.array([0.05]))))
    last = trial.settings[-1]
    assert (last.name, last.voids, last.row, last.verdict) == ("60 psi", 0, None, Verdict.CANNOT_TELL)
    assert trial.warnings[0] == "60psi-a.jpg: no void above the smallest countable size."


def test_a_setting_without_the_voids_that_the_others_let_expect_is_named(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    # 100 voids of 0.4 mm and spread 0.4 at open air: at 60 psi 98 of them are larger than 0.1 mm, and 1.1 than 0.6 mm
    cups = tuple(poured(psig, name=name) for psig in (0.0, 20.0) for name in "abc")
    empty = poured(60.0, diameters=np.array([0.05]))
    (_, missing) = known_trial(cups=(*cups, empty)).warnings
    assert missing.startswith("At 60 psi no void was found, where the voids of the other cups let about 98 be expected")
    said = known_trial(cups=(*cups, replace(empty, smallest=0.6))).warnings
    assert not any(line.startswith("At 60 psi") for line in said)


def test_a_target_is_met_at_a_pressure_within_the_limits(known_trial: MakeTrial) -> None:
    trial = known_trial(visible_mm=0.6, tolerated=5.0, limits=Limits(rated=GaugePressure(70.0 * PSI_KPA)))
    assert trial.decision is not None
    assert 0.0 < trial.decision.recommended_psig < 60.0
    assert "enough" in {each.rule for each in trial.advice}
    assert not trial.stopped


def test_cups_cast_above_the_rating_are_compared_and_get_a_stop(known_trial: MakeTrial) -> None:
    trial = known_trial(limits=Limits(rated=GaugePressure(50.0 * PSI_KPA)))
    assert trial.comparison.verdict is Verdict.AGREES
    assert {each.level for each in trial.advice} == {Level.STOP}
    assert trial.stopped


def test_in_px_nothing_can_be_called_visible(known_trial: MakeTrial) -> None:
    trial = known_trial(unit="px")
    assert trial.decision is None
    assert {SAME_SETUP, NO_SCALE} <= set(trial.warnings)


def test_voids_without_a_population_get_no_decision(known_trial: MakeTrial, poured: MakePoured) -> None:
    # with the sizes falling as a power law no spread is large enough
    sizes = 0.1 / (1.0 - (np.arange(200) + 0.5) / 200)
    cups = tuple(poured(psig, name=name, diameters=sizes) for psig in (0.0, 60.0) for name in "abc")
    trial = known_trial(cups=cups)
    assert trial.decision is None
    assert NO_POPULATION in trial.warnings


def test_photographs_of_unlike_zoom_get_no_pressure_and_no_blame_on_the_pot(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    near = 1.2  # times as large: a camera moved nearer to see the small voids better
    cups = [poured(psig, name=name, casting=30.0) for psig in (0.0, 20.0) for name in "abc"]
    usual = [poured(60.0, name=name) for name in "abc"]
    cups += [replace(each, diameters=near * each.diameters, casting=near * 30.0) for each in usual]
    trial = known_trial(cups=tuple(cups))
    assert trial.comparison.verdict is Verdict.CANNOT_TELL
    assert (trial.decision, trial.comparison.suspects, trial.comparison.needed) == (None, (), None)
    assert UNLIKE_PHOTOGRAPHS in trial.warnings
    (said,) = [each.text for each in trial.advice if each.rule == "photographs first"]
    assert said.startswith("The castings at 60 psi look 1.20 times as wide as at 0 psi.")
    assert not {"misfit first", "check the pressures", "more cups"} & {each.rule for each in trial.advice}
    blind = known_trial(cups=tuple(replace(each, casting=np.nan) for each in cups))
    assert blind.comparison.verdict is Verdict.SHRANK_LESS  # what passes for a leak where nothing tells of the zoom


def test_no_pressure_is_named_by_cups_that_leave_open_whether_voids_shrink_at_all(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    # three voids just above the limit tell a size of next to nothing: 300 voids of 0.4 mm would pass in open air
    open_cups = tuple(poured(0.0, name=name) for name in "abc")
    few = poured(60.0, diameters=np.array([0.1, 0.1002, 0.101]))
    trial = known_trial(cups=(*open_cups, few))
    assert trial.comparison.exponent.low < 0.0 < trial.comparison.exponent.high
    assert trial.decision is None
    assert NO_EXPONENT in trial.warnings
    assert {each.rule for each in trial.advice}.isdisjoint({"open air is enough", "enough", "perhaps enough"})


def test_voids_that_plainly_did_not_shrink_are_not_said_to_leave_that_open(known_trial: MakeTrial) -> None:
    trial = known_trial(pressure_share=0.0, visible_mm=0.3)
    assert trial.comparison.verdict is Verdict.SHRANK_LESS
    assert NO_SHRINKING in trial.warnings
    assert NO_EXPONENT not in trial.warnings


@pytest.mark.parametrize(("said", "share"), [({}, 1.45), ({"air": atmosphere(altitude_m=3000.0)}, 2.2), ({}, 2.2)])
def test_air_that_was_not_stated_is_the_first_suspect_for_voids_that_shrank_more(
    known_trial: MakeTrial, poured: MakePoured, said: dict[str, Atmosphere], share: float
) -> None:
    # cast at 3000 m, 10.17 psi: the ratio of 60 psi is 1.45 times that at sea level
    cups = tuple(poured(psig, name=name, pressure_share=share, **said) for psig in (0.0, 20.0, 60.0) for name in "abc")
    trial = known_trial(cups=cups)
    assert trial.comparison.verdict is Verdict.SHRANK_MORE
    assert (trial.comparison.suspects[0].suspect is Suspect.THIN_AIR) == (not said and share < 2.0)
    leaked = known_trial(pressure_share=0.3).comparison
    assert Suspect.THIN_AIR not in {each.suspect for each in leaked.suspects}


def test_open_air_may_be_enough_whether_or_not_the_voids_are_known_to_shrink(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    trial = known_trial(cups=(poured(0.0), poured(60.0)), cup_spread=0.4, visible_mm=5.0)
    assert trial.comparison.exponent.low < 0.0
    assert trial.decision is not None
    assert trial.decision.recommended_psig == 0.0


def test_where_the_pot_leaked_at_one_setting_no_pressure_is_advised(known_trial: MakeTrial, poured: MakePoured) -> None:
    cups = tuple(
        poured(psig, name=name, pressure_share=0.0 if psig == 60.0 else 1.0)
        for psig in (0.0, 20.0, 40.0, 60.0)
        for name in "abc"
    )
    trial = known_trial(cups=cups)
    assert trial.comparison.verdict is Verdict.SHRANK_LESS
    assert trial.comparison.suspects[0].suspect is Suspect.LEAK
    assert NO_PRESSURES in trial.warnings
    rules = {each.rule for each in trial.advice}
    assert "misfit first" in rules
    assert rules.isdisjoint({"enough", "perhaps enough", "not by pressure alone", "test first"})


def test_no_pressure_is_enough_where_the_pressures_are_wrong(known_trial: MakeTrial) -> None:
    trial = known_trial(pressure_share=-0.15)  # voids larger under pressure, as of cups that changed places
    assert trial.decision is None
    assert NO_PRESSURES in trial.warnings


def test_cups_that_changed_places_are_named_before_more_are_asked_for(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    cups = [poured(psig, name=name) for psig in (0.0, 20.0, 60.0) for name in "abc"]
    cups[0], cups[8] = (replace(a, diameters=b.diameters) for a, b in ((cups[0], cups[8]), (cups[8], cups[0])))
    trial = known_trial(cups=tuple(cups))
    assert trial.warnings[0].startswith(
        "0psi-a.jpg (0 psi) and 60psi-c.jpg (60 psi) look as if they had changed places"
    )
    assert trial.comparison.verdict is Verdict.CANNOT_TELL
    assert NO_PRESSURES in trial.warnings
    assert "more cups" not in {each.rule for each in trial.advice}


def test_a_cup_that_is_unlike_all_others_is_named(known_trial: MakeTrial, poured: MakePoured) -> None:
    cups = [poured(psig, name=name) for psig in (0.0, 20.0, 60.0) for name in "abc"]
    cups[4] = replace(cups[4], diameters=1.5 * cups[4].diameters)
    empty = poured(20.0, name="d", diameters=np.array([0.05]))
    (said,) = (line for line in known_trial(cups=(empty, *cups)).warnings if "unlike all other cups" in line)
    assert said.startswith("20psi-b.jpg (20 psi) is unlike all other cups: check its label")


def test_castings_are_made_where_the_cups_were_unless_another_air_is_asked_for(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    # Boyle by hand at 84.56 kPa, 12.264 psi: 60 to 65 psi leave (72.264 / 77.264)^(1/3), 2.2 % less; at sea level 2.1
    high = atmosphere(altitude_m=1500.0)
    cups = tuple(poured(psig, name=name, air=high) for psig in (0.0, 60.0) for name in "abc")
    trial = known_trial(cups=cups)
    assert trial.question.air == high
    assert any("take only 2.2 % off" in each.text for each in trial.advice)
    other = atmosphere(altitude_m=300.0)
    assert known_trial(cups=cups, air=other).question.air == other
    mixed = (*cups, poured(60.0, name="d"))
    assert known_trial(cups=mixed).question.air == SEA_LEVEL


def test_the_number_for_a_casting_takes_the_cups_volume(known_trial: MakeTrial, poured: MakePoured) -> None:
    one, three = known_trial().decision, known_trial(casting_cm3=30.0).decision
    assert one is not None
    assert three is not None
    assert three.rows[0].voids.value == pytest.approx(3.0 * one.rows[0].voids.value)
    with pytest.raises(InputError, match="state the cups' thickness"):
        known_trial(cups=(poured(0.0, volume_cm3=np.nan), poured(60.0)), casting_cm3=30.0)


def test_an_unfit_photograph_is_named(known_trial: MakeTrial, poured: MakePoured) -> None:
    trial = known_trial(cups=(poured(0.0), poured(60.0, unfit=("expose less",))))
    assert trial.warnings == ("60psi-a.jpg is UNFIT: expose less.", UNLIKE_PHOTOGRAPHS)


def test_cups_counted_from_unlike_sizes_are_named(known_trial: MakeTrial, poured: MakePoured) -> None:
    cups = (poured(0.0), replace(poured(60.0), smallest=1.2 * poured(60.0).smallest))
    (said,) = (line for line in known_trial(cups=cups).warnings if "counted" in line)
    assert "0psi-a.jpg, from" in said
    assert "60psi-a.jpg: their numbers do not compare; the ratios allow for it." in said


def test_the_worst_share_of_the_time_to_gel_counts(poured: MakePoured) -> None:
    found = circumstances(
        [
            poured(0.0, gel_s=100.0, let_off_s=1.0),  # open: no pressure to let off
            poured(60.0, gel_s=1000.0, full_pressure_s=100.0, let_off_s=2000.0),
            poured(60.0, gel_s=2000.0, full_pressure_s=1000.0, let_off_s=1800.0),
        ]
    )
    assert (found.gel_s, found.full_pressure_s, found.let_off_s) == (1500.0, 750.0, 1350.0)
    assert found.clustered is None


def test_without_a_log_nothing_is_known_of_the_times(poured: MakePoured) -> None:
    found = circumstances([poured(0.0), poured(60.0)])
    assert (found.gel_s, found.full_pressure_s, found.let_off_s) == (None, None, None)


def test_pressure_let_off_before_gel_is_held_against_it(known_trial: MakeTrial, poured: MakePoured) -> None:
    timed = {"gel_s": 1200.0, "let_off_s": 600.0}
    cups = tuple(poured(psig, name=name, pressure_share=0.3, **timed) for psig in (0.0, 20.0, 60.0) for name in "abc")
    trial = known_trial(cups=cups)
    assert trial.comparison.verdict is Verdict.SHRANK_LESS
    (let_off,) = [each for each in trial.comparison.suspects if each.suspect is Suspect.LET_OFF]
    assert Clue.LET_OFF_EARLY in let_off.clues


def test_a_warmer_gel_makes_voids_larger_by_the_gas_law(poured: MakePoured) -> None:
    stated = poured(60.0, closed_k=290.0, gelled_k=319.0).stated
    assert stated.warmth == pytest.approx(1.1)
    assert poured(60.0).stated.warmth == 1.0
