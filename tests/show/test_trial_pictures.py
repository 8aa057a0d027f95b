"""The pictures of a trial."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.trial import Trial
from bubblegrade.show.trial_pictures import trial_pictures
from bubblegrade.units import PSI_KPA, GaugePressure

MakePoured = Callable[..., Poured]
MakeTrial = Callable[..., Trial]

RATED = Limits(rated=GaugePressure(70.0 * PSI_KPA))


def test_a_trial_has_three_pictures_with_the_fit_and_the_limits(known_trial: MakeTrial) -> None:
    pictures = trial_pictures(known_trial(limits=RATED, visible_mm=0.6))
    assert list(pictures) == ["sizes-by-pressure", "sizes-at-each-setting", "gain"]
    assert "fit: exponent 0.33" in pictures["sizes-by-pressure"].svg
    assert "300 voids" not in pictures["sizes-by-pressure"].svg
    assert "rated working pressure: 70 psi" in pictures["gain"].svg
    assert "chosen: " in pictures["gain"].svg


def test_nothing_is_foretold_above_the_lowest_limit(known_trial: MakeTrial) -> None:
    trial = known_trial(limits=RATED, visible_mm=0.6)
    assert trial.rows[-1].gauge.psig == pytest.approx(70.0)
    assert known_trial(visible_mm=0.6).rows[-1].gauge.psig == pytest.approx(80.0)


def test_against_a_stop_no_pressure_is_chosen(known_trial: MakeTrial) -> None:
    limits = Limits(rated=GaugePressure(50.0 * PSI_KPA))
    gain = trial_pictures(known_trial(limits=limits, visible_mm=0.6))["gain"]
    assert "chosen: " not in gain.svg


def test_without_a_rating_no_pressure_above_usual_plates_is_chosen(known_trial: MakeTrial, poured: MakePoured) -> None:
    cups = tuple(poured(psig, name=name) for psig in (0.0, 60.0, 120.0) for name in "abc")
    trial = known_trial(cups=cups, visible_mm=0.4)
    assert trial.decision is not None
    assert 80.0 < trial.decision.recommended_psig < 120.0
    assert "chosen: " not in trial_pictures(trial)["gain"].svg
    rated = known_trial(cups=cups, visible_mm=0.4, limits=Limits(rated=GaugePressure(150.0 * PSI_KPA)))
    assert "chosen: " in trial_pictures(rated)["gain"].svg


def test_a_target_out_of_reach_has_no_pressure_chosen(known_trial: MakeTrial) -> None:
    assert "chosen: " not in trial_pictures(known_trial(visible_mm=0.1, tolerated=1.0))["gain"].svg


def test_in_px_there_is_no_gain(known_trial: MakeTrial) -> None:
    pictures = trial_pictures(known_trial(unit="px"))
    assert list(pictures) == ["sizes-by-pressure", "sizes-at-each-setting"]
    assert "diameter, px" in pictures["sizes-by-pressure"].svg


def test_voids_without_a_population_are_drawn_without_a_fit(known_trial: MakeTrial, poured: MakePoured) -> None:
    sizes = 0.1 / (1.0 - (np.arange(200) + 0.5) / 200)
    cups = tuple(poured(psig, name=name, diameters=sizes) for psig in (0.0, 60.0) for name in "abc")
    pictures = trial_pictures(known_trial(cups=cups))
    assert "fit: exponent" not in pictures["sizes-by-pressure"].svg
    assert "gain" not in pictures
