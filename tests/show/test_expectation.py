"""A prediction on the terminal and as a picture."""

from __future__ import annotations

import io
import math
from typing import Any

import pytest
from rich.console import Console

from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.pressure.expectation import Expectation, Question, expect
from bubblegrade.pressure.prediction import Premises
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.trial_plan import Assumed
from bubblegrade.show.expectation import show_expectation
from bubblegrade.show.expectation_picture import expectation_picture
from tests.conftest import psi


def found(*asked: float, size_mm: float = math.nan, trial: Assumed | None = None) -> Expectation:
    """Return what is expected of a pot rated at 60 psi."""
    premises = Premises(SEA_LEVEL.kpa, psi(0.0), size_mm=size_mm)
    pressures = tuple(psi(each) for each in asked)
    return expect(Question(pressures, premises, SEA_LEVEL, Limits(rated=psi(60.0)), trial))


def shown(expected: Expectation, **terminal: Any) -> str:
    """Return what is printed."""
    file = io.StringIO()
    show_expectation(expected, Console(file=file, **terminal))
    return file.getvalue()


def test_a_pipe_gets_plain_text() -> None:
    assert shown(found(10.0, size_mm=0.2), width=10_000).startswith(
        "pressure  absolute kPa  volume left  diameter left  area left  next 5 psi  0.200 mm becomes  0.200 mm was\n"
        "   0 psi           101        100 %          100 %      100 %      -9.3 %          0.200 mm      0.200 mm\n"
        "   5 psi           136       74.6 %         90.7 %     82.3 %      -7.3 %          0.181 mm      0.221 mm\n"
        "> 10 psi           170       59.5 %         84.1 %     70.7 %      -6.0 %          0.168 mm      0.238 mm\n"
        "\n"
        "Shares of what it was at open air, where the air has 101.3 kPa at sea level, for neither --altitude "
        "nor --barometer is given. What counts is the pressure that stands at gel.\n"
    )


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_no_line_is_wider_than_its_terminal(width: int) -> None:
    text = shown(found(40.0, 60.0, trial=Assumed()), width=width, force_terminal=True, color_system=None)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= width
    assert "60 psi" in text
    assert "Plan." in text


def test_a_size_fits_80_columns() -> None:
    text = shown(found(60.0, size_mm=0.2), width=80, force_terminal=True, color_system=None)
    assert max(len(line.rstrip()) for line in text.splitlines()) <= 80
    (last,) = (line for line in text.splitlines() if line.strip().startswith(">"))
    assert " ".join(last.split()) == "> 60 psi 515 19.7 % 58.2 % 33.8 % - 0.116 mm 0.344 mm"


def test_a_stop_comes_first() -> None:
    assert shown(found(40.0, 70.0), width=10_000).startswith("STOP: 70 psi is above the pot's rated working pressure")


def test_the_picture_points_out_what_was_asked_for() -> None:
    picture = expectation_picture(found(40.0, 60.0))
    assert picture is not None
    assert "40 psi: 64.5 % of the diameter" in picture.svg
    assert 'id="asked-60"' in picture.svg
    assert "Never above the rated working pressure" in picture.svg


def test_many_settings_are_lines_without_words() -> None:
    picture = expectation_picture(found(10.0, 20.0, 30.0, 40.0, 50.0))
    assert picture is not None
    assert "of the diameter" not in picture.svg
    assert 'id="asked-50"' in picture.svg


def test_one_row_is_no_picture() -> None:
    assert expectation_picture(found(0.0)) is None
