"""The resin's window in words."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from bubblegrade.pressure.resin import GelPoint
from bubblegrade.pressure.window import Flow, Steps, WindowQuestion, resin_window
from bubblegrade.show.window_tables import ground_lines, time_words, verdict_words

ASKED = WindowQuestion(
    (GelPoint(298.15, 600.0),), 298.15, Steps(400.0), (), 101.325, 0.1, flow=Flow(0.6, 298.15, 100.0, 12.0)
)


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.0, "0 s"), (59.0, "59 s"), (90.0, "1.5 min"), (600.0, "10 min"), (7200.0, "2 h"), (-300.0, "-5 min")],
)
def test_times_are_said_as_people_say_them(seconds: float, words: str) -> None:
    assert time_words(seconds) == words


def test_a_pressure_in_the_second_half_is_said_to_come_late() -> None:
    assert "second half of the time to the earliest gel" in verdict_words(resin_window(ASKED))


def test_an_assumed_viscosity_at_gel_is_said_to_be_assumed() -> None:
    (line,) = [line for line in ground_lines(resin_window(ASKED)) if "thickens" in line]
    assert "100 Pa s at gel, as we take it" in line


@pytest.mark.parametrize("activation", [None, 50e3])
def test_the_temperature_that_a_gel_time_is_taken_at_is_said(activation: float | None) -> None:
    """A data sheet's time without one is taken at 25 C."""
    said = " ".join(ground_lines(resin_window(replace(ASKED, room_k=293.15, activation_j_mol=activation))))
    assert "Gel time at 20 C from 10 min at 25 C by the " in said


def test_a_step_that_takes_no_time_is_said_to_be_taken_so() -> None:
    assert ground_lines(resin_window(ASKED))[0] == (
        "Taken to need no time: pouring (--pour), closing (--close), filling (--fill). "
        "State what each takes: the pressure stands that much later."
    )
    timed = replace(ASKED, steps=Steps(100.0, 100.0, 100.0, 100.0))
    assert "no time" not in " ".join(ground_lines(resin_window(timed)))


def test_no_line_says_that_a_pot_may_be_opened() -> None:
    said = " ".join((verdict_words(resin_window(ASKED)), *ground_lines(resin_window(ASKED)))).lower()
    assert "safe" not in said
    assert "open the" not in said
    assert math.isfinite(resin_window(ASKED).too_fast_mm)
