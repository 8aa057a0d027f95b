"""Cautions as they stand on the terminal."""

from __future__ import annotations

import io

import pytest
from rich.console import Console

from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.situation import Level
from bubblegrade.show.cautions import show_cautions


def shown(*, width: int = 10_000, terminal: bool = False, resin: bool = True) -> str:
    file = io.StringIO()
    show_cautions(Console(file=file, width=width, force_terminal=terminal, color_system=None), resin=resin)
    return file.getvalue()


@pytest.mark.parametrize("width", [1, 30, 80, 100, 10_000])
def test_lines_keep_to_the_width_of_a_terminal_and_lose_no_word(width: int) -> None:
    text = shown(width=width, terminal=True)
    assert max(len(line) for line in text.splitlines()) <= max(20, min(width, 100))
    assert text.split() == [
        "Take",
        "care:",
        *(word for each in (*PRESSURE, *RESIN) for word in ("-", *each.text.split())),
    ]


def test_in_a_file_every_caution_is_one_line() -> None:
    assert shown().splitlines() == ["Take care:", *(f"- {each.text}" for each in (*PRESSURE, *RESIN))]


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
    assert words in shown(resin=False)


@pytest.mark.parametrize("words", ["isocyanates", "respirator", "gloves", "first reaction", "dust", "filter mask"])
def test_resin_is_never_without_these_words(words: str) -> None:
    assert words in shown().removeprefix(shown(resin=False))


def test_every_caution_has_a_name_of_its_own_a_ground_and_a_source() -> None:
    every = (*PRESSURE, *RESIN)
    assert len({each.rule for each in every}) == len(every)
    assert all(each.level is Level.CAUTION and each.ground and each.source for each in every)


def test_no_caution_calls_anything_safe() -> None:
    assert not any("safe" in (each.text + each.ground).lower() for each in (*PRESSURE, *RESIN))


def test_those_for_resin_stand_only_where_some_is_poured() -> None:
    assert shown(resin=False).splitlines() == ["Take care:", *(f"- {each.text}" for each in PRESSURE)]
