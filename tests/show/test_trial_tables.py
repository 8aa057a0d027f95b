"""A trial on the terminal."""

from __future__ import annotations

import io
from collections.abc import Callable

import numpy as np
import pytest
from rich.console import Console

from bubblegrade.grading.pattern_casting import Pouring, casting_pattern, judged_ground
from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.trial import Trial
from bubblegrade.show.tables import UNBROKEN
from bubblegrade.show.trial_tables import paragraphs, show_trial, weight_of
from bubblegrade.units import PSI_KPA, GaugePressure

MakePoured = Callable[..., Poured]
MakeTrial = Callable[..., Trial]

SQUARE = np.array([[0.0, 0.0], [399.0, 0.0], [399.0, 299.0], [0.0, 299.0]])


def shown(trial: Trial, width: int = 120) -> str:
    """Return what a terminal without colour shows."""
    console = Console(file=io.StringIO(), width=width, force_terminal=True, color_system=None, highlight=False)
    show_trial(trial, console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def flat(text: str) -> str:
    """Return text as one line."""
    return " ".join(text.split())


@pytest.mark.parametrize("width", [80, 100, 120, 200])
def test_no_line_is_wider_than_the_terminal_and_nothing_is_cut(known_trial: MakeTrial, width: int) -> None:
    text = shown(known_trial(pressure_share=0.3), width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "\N{HORIZONTAL ELLIPSIS}" not in text
    for words in ("shrank less", "effective psi", "diameter left", "Boyle", "naive", "seen"):
        assert words in text


def test_the_verdict_comes_first_and_the_cautions_last(known_trial: MakeTrial) -> None:
    lines = shown(known_trial()).splitlines()
    assert lines[0] == "The voids shrank as Boyle's law says, as far as these cups can tell."
    assert (
        lines[-1]
        == "- The maker's plate and manual, local codes and licensed practice decide; nothing printed here does."
    )


def test_a_row_has_the_ratio_with_its_interval_beside_boyle_s(known_trial: MakeTrial) -> None:
    text = shown(known_trial())
    (row,) = [line for line in text.splitlines() if line.startswith("60 psi")]
    assert " 0.582 " in row  # Boyle's
    assert "agrees with Boyle" in row
    assert "Exponent of diameters on pressure: 0.33" in text
    assert "Boyle's law says 0.333" in text


def test_a_misfit_has_ranked_suspects_and_asks_for_a_log(known_trial: MakeTrial) -> None:
    text = flat(shown(known_trial(pressure_share=0.3)))
    assert "Suspects, the likeliest first: 1. " in text
    assert "log the pressure from closing to gel" in text
    assert "Advice: Find the cause of the misfit before changing the pressure" in text


def test_what_speaks_against_a_suspect_is_told_as_such(known_trial: MakeTrial, poured: MakePoured) -> None:
    logged = {"pressure_share": 0.3, "gel_s": 1200.0, "let_off_s": 2400.0}
    cups = tuple(poured(psig, name=name, **logged) for psig in (0.0, 60.0) for name in "abc")
    assert "the voids grew back. (but held beyond gel, by the log)" in flat(shown(known_trial(cups=cups)))


def test_above_a_limit_there_is_a_stop_with_its_ground_and_no_advice(known_trial: MakeTrial) -> None:
    trial = known_trial(limits=Limits(rated=GaugePressure(50.0 * PSI_KPA)))
    text = flat(shown(trial))
    assert "STOP: 60 psi is above the pot's rated working pressure of 50 psi: do not cast at it. The plate is" in text
    assert "Advice:" not in text
    lines = [line for group in paragraphs(trial) for line in group]
    assert [line[:5] for line in lines if weight_of(line) == "alarm"] == ["STOP:"]


def test_one_open_cup_and_one_from_the_pot_have_an_answer(known_trial: MakeTrial, poured: MakePoured) -> None:
    text = flat(shown(known_trial(cups=(poured(0.0), poured(60.0)))))
    assert text.startswith("The voids are consistent with Boyle's law; so few cups cannot show more.")
    assert "Without a distribution: cannot be told." in text
    assert "Note: Intervals assume that cups differ by 5 % in diameter" in text
    assert "Advice: To tell it, cast" in text


def test_an_effective_pressure_beyond_any_vessel_is_no_limit(known_trial: MakeTrial, poured: MakePoured) -> None:
    text = shown(known_trial(cups=(poured(0.0), poured(60.0)), cup_spread=0.9))
    (row,) = [line for line in text.splitlines() if line.startswith("60 psi")]
    assert " to no limit)" in row


def test_what_hardly_a_void_tells_is_shown_as_what_no_pressure_does(known_trial: MakeTrial, poured: MakePoured) -> None:
    few = poured(60.0, diameters=np.array([0.1, 0.1002, 0.101]))
    text = shown(known_trial(cups=(*(poured(0.0, name=name) for name in "abc"), few)))
    (row,) = [line for line in text.splitlines() if line.startswith("60 psi")]
    assert "under 0.01 (under 0.01 to " in row
    assert "over 1000 (" in row
    assert "The plain ratio of mean diameters" not in text


def test_a_setting_without_voids_keeps_its_row(known_trial: MakeTrial, poured: MakePoured) -> None:
    cups = [poured(psig, name=name) for psig in (0.0, 20.0) for name in "abc"]
    text = shown(known_trial(cups=(*cups, poured(60.0, diameters=np.array([0.05])))))
    (row,) = [line for line in text.splitlines() if line.startswith("60 psi")]
    assert row.split()[2:5] == ["1", "0", "-"]
    assert "no void to tell by" in row


def test_where_voids_lie_is_told_over_all_cups(known_trial: MakeTrial, poured: MakePoured) -> None:
    random = np.random.default_rng(3)
    crowd = np.concatenate([random.uniform(30.0, 270.0, (60, 2)), random.normal((200.0, 150.0), 6.0, (20, 2))])
    even = random.uniform((10.0, 10.0), (390.0, 290.0), (40, 2))
    ground = judged_ground([SQUARE], (300, 400))
    told = [
        casting_pattern(
            np.column_stack([points, np.full(len(points), 3.0)]),
            ground,
            hardware_px=np.empty((0, 3)),
            pouring=Pouring(),
            seed=1,
        )
        for points in (crowd, even)
    ]
    unknown, crowded, calm = (
        flat(shown(known_trial(cups=(poured(0.0, pattern=pattern), poured(60.0, pattern=pattern)))))
        for pattern in (None, *told)
    )
    assert "Where the voids lie cannot be told" in unknown
    assert "suspect moisture" in crowded
    assert "(In 2 of 2 cups; chance alone raises such an alarm in 5 of 100.)" in crowded
    assert "speaks for no cause: 0 of 2 cups" in calm


def test_what_is_no_terminal_gets_unbroken_lines(known_trial: MakeTrial) -> None:
    console = Console(file=io.StringIO(), width=UNBROKEN, color_system=None, highlight=False)
    show_trial(known_trial(), console)
    assert isinstance(console.file, io.StringIO)
    lines = console.file.getvalue().splitlines()
    assert any(line.startswith("Ratios are to 0 psi;") and line.endswith("limits are of 95 %.") for line in lines)
    assert all(line == line.rstrip() for line in lines)


def test_voids_a_little_larger_than_in_open_air_report_no_pressure(known_trial: MakeTrial, poured: MakePoured) -> None:
    cups = tuple(poured(psig, name=name, pressure_share=-0.005) for psig in (0.0, 60.0) for name in "abc")
    text = flat(shown(known_trial(cups=cups), 200))
    assert " 0 (" in text
    assert "-0 " not in text


def test_settings_that_contradict_each_other_have_no_share_of_the_pressure_in_common(
    known_trial: MakeTrial, poured: MakePoured
) -> None:
    leaked = {30.0: 0.0}
    cups = tuple(
        poured(psig, name=name, pressure_share=leaked.get(psig, 1.0))
        for psig in (0.0, 15.0, 30.0, 45.0, 60.0)
        for name in "abc"
    )
    for trial, told in ((known_trial(cups=cups), False), (known_trial(), True)):
        assert ("of the gauge pressure stood at gel" in flat(shown(trial, 200))) == told
