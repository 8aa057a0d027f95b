"""Cautions as they stand on the terminal."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.situation import Level
from bubblegrade.show.cautions import pressure_cautions, resin_cautions, show_cautions


@pytest.mark.parametrize("width", [1, 30, 80, 100, 10_000])
def test_lines_keep_to_the_width_and_lose_no_word(width: int) -> None:
    for text, cautions in ((pressure_cautions(width=width), PRESSURE), (resin_cautions(width=width), RESIN)):
        assert max(len(line) for line in text.splitlines()) <= max(20, min(width, 100))
        assert text.replace("- ", "", 1).split() == " - ".join(each.text for each in cautions).split()


@pytest.mark.parametrize(
    "words",
    [
        "rated working pressure",
        "relief valve",
        "home-made or altered vessel",
        "Never open a lid, loosen a clamp or lean over a lid under pressure",
        "vent to 0 on the gauge and open the vent first",
        "plate and manual",
        "local codes",
        "licensed practice",
    ],
)
def test_pressure_is_never_without_these_words(words: str) -> None:
    assert words in " ".join(pressure_cautions().split())


@pytest.mark.parametrize("words", ["isocyanates", "respirator", "gloves", "first reaction", "dust", "filter mask"])
def test_resin_is_never_without_these_words(words: str) -> None:
    assert words in " ".join(resin_cautions().split())


def test_every_caution_has_a_name_of_its_own_a_ground_and_a_source() -> None:
    every = (*PRESSURE, *RESIN)
    assert len({each.rule for each in every}) == len(every)
    assert all(each.level is Level.CAUTION and each.ground and each.source for each in every)


def test_no_caution_calls_anything_safe() -> None:
    assert not any("safe" in (each.text + each.ground).lower() for each in (*PRESSURE, *RESIN))


def test_the_terminal_gets_those_for_resin_only_where_some_is_poured() -> None:
    shown = {}
    for resin in (False, True):
        file = io.StringIO()
        show_cautions(Console(file=file, width=60), resin=resin)
        shown[resin] = file.getvalue()
    assert shown[False] == f"Take care:\n{pressure_cautions(width=60)}\n"
    assert shown[True] == f"{shown[False]}{resin_cautions(width=60)}\n"
