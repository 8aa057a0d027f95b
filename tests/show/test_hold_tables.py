"""A hold test on the terminal and as a picture."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from PIL import Image
from rich.console import Console

from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.pressure.cautions import PRESSURE
from bubblegrade.pressure.hold import Held, hold
from bubblegrade.pressure.hold_readings import Hold, Reading
from bubblegrade.pressure.pot import Dial, Pot
from bubblegrade.pressure.situation import Limits
from bubblegrade.show.hold_picture import hold_picture
from bubblegrade.show.hold_tables import show_hold, verdict_words
from bubblegrade.units import PSI_KPA
from tests.conftest import psi

HOUR_S = 3600.0


def held(last_psig: float, *, hours: float = 12.0, turn_deg: float = float("nan"), celsius: float = 24.0) -> Held:
    """Return a test from 60 psi on, with gel, release and a described pot."""
    readings = (
        Reading(0.0, psi(60.0), 24.0),
        Reading(hours * HOUR_S, psi(last_psig), celsius, turn_deg=turn_deg, turn_err_deg=0.1),
    )
    pot = Pot(limits=Limits(rated=psi(70.0)), dial=Dial(psi(0.0), psi(100.0), "B"), free_volume_cm3=7500.0)
    return hold(Hold(readings, SEA_LEVEL, pot, PSI_KPA, settled_s=1800.0, gel_s=1200.0, release_s=12.0 * HOUR_S))


def shown(found: Held, width: int = 100) -> str:
    """Return what a terminal without colour shows."""
    console = Console(file=io.StringIO(), width=width, force_terminal=True, color_system=None, highlight=False)
    show_hold(found, console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


@pytest.mark.parametrize(
    ("psig", "hours", "words"),
    [
        (60.0, 12.0, "The pot holds. The drop until release, 12 h after the first reading, is at most "),
        (50.0, 12.0, "The pot leaks. The drop until release, 12 h after the first reading, is at least "),
        (60.0, 0.25, "It cannot be told in this time. The drop until release, 12 h after the first reading, may be "),
        (70.0, 12.0, "It cannot be told in this time. The pressure rises, which no leak does."),
    ],
)
def test_the_verdict_stands_first_with_its_meaning(psig: float, hours: float, words: str) -> None:
    found = held(psig, hours=hours)
    assert verdict_words(found).startswith(words)
    assert " ".join(shown(found).split()).startswith(words)


def test_what_no_closed_pot_can_show_is_not_printed() -> None:
    text = shown(held(59.5, hours=0.25))
    assert "are drawn in to it" in " ".join(text.split())
    foretold = text[text.index("dial at gel") : text.index("What the dial")]
    assert " -" not in foretold
    assert "drawn in" not in shown(held(50.0))
    rising = shown(held(70.0))
    for words in ("leak rate", "dial at release", "grows by"):
        assert words not in rising


def test_a_pot_that_is_empty_long_before_its_release_shows_nothing_then() -> None:
    text = " ".join(shown(held(8.0, hours=2.0)).split())
    assert "The pot leaks." in text
    assert "dial at release, 12 h 0 0 to 0 psi" in text


def test_the_report_has_the_rates_the_stages_and_the_cautions() -> None:
    text = shown(held(58.0, turn_deg=-5.4))
    for words in ("psi/h", "Pa m3/s", "std cm3/min", "dial at gel, 20 min", "dial at release, 12 h", "needle turned"):
        assert words in text
    assert " ".join(text.split()).endswith(" - ".join(each.text for each in PRESSURE))
    assert "No source is known for the drop" in " ".join(text.split())


@pytest.mark.parametrize("width", [64, 80, 120])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    assert max(len(line) for line in shown(held(58.0), width).splitlines()) <= max(width, 66)


def test_the_picture_has_band_readings_limits_and_the_same_bytes() -> None:
    picture = hold_picture(held(58.0, celsius=22.0))
    root = ET.fromstring(picture.svg)  # noqa: S314 - our own picture
    names = {element.get("id") for element in root.iter()}
    assert {"band", "fall", "read", "allowed", "past-allowed"} <= names
    words = " ".join("".join(element.itertext()) for element in root.iter() if element.tag.endswith("text"))
    for each in ("Does the pot hold?", "lowest that is allowed", "gel, 20 min", "release, 12 h", "gauge pressure, psi"):
        assert each in words
    assert np.asarray(Image.open(io.BytesIO(picture.png))).std() > 5.0
    assert hold_picture(held(58.0, celsius=22.0)) == picture


def test_a_short_test_is_drawn_in_minutes_and_near_limits_are_drawn() -> None:
    readings = (Reading(0.0, psi(69.0), 24.0), Reading(HOUR_S, psi(60.0), 24.0))
    test = Hold(readings, SEA_LEVEL, Pot(limits=Limits(rated=psi(70.0))), PSI_KPA)
    svg = hold_picture(hold(test)).svg
    assert "first reading, min" in svg
    assert "rated working pressure: 70 psi" in svg
