"""The picture of where faults lie and the table on the terminal."""

from __future__ import annotations

import io

import cv2
import numpy as np
from rich.console import Console

from bubblegrade.fitness.check import Check, Checked, Fitness, Limit, Place, Verdict
from bubblegrade.show.fitness_picture import COLOURS, LONGEST_PX, fitness_jpeg, fitness_picture
from bubblegrade.show.fitness_words import show_checked

GREY = np.full((200, 300), 128, np.uint8)


def check(verdict: Verdict = Verdict.UNFIT, place: Place | None = None, fault: str = "it is cut") -> Check:
    facts = (
        "cut",
        "frame that cuts",
        12.0,
        "px",
        Limit(0.0, 0.0),
        verdict,
        fault,
        "voids are missing",
        "show it whole",
    )
    return Check(*facts, place or Place())


def shown(*checks: Check) -> str:
    console = Console(file=io.StringIO(), width=10_000, color_system=None, highlight=False)
    show_checked([Checked("a.jpg", "0" * 64, (200, 300), Fitness(checks))], console)
    assert isinstance(console.file, io.StringIO)
    return console.file.getvalue()


def test_a_box_is_drawn_around_its_place_and_nothing_elsewhere() -> None:
    picture = fitness_picture(GREY, [check(place=Place("box", (np.array([[100.0, 50.0], [200.0, 150.0]]),)))])
    assert (picture[150, 150] != 128).any()
    assert (picture[100, 150] == 128).all()
    assert (picture[180, 250] == 128).all()


def test_a_region_is_shaded_and_its_holes_are_not() -> None:
    outer = np.array([[100.0, 50.0], [200.0, 50.0], [200.0, 150.0], [100.0, 150.0]])
    inner = np.array([[140.0, 90.0], [160.0, 90.0], [160.0, 110.0], [140.0, 110.0]])
    picture = fitness_picture(GREY, [check(place=Place("region", (outer, inner)))])
    assert (picture[120, 180] != 128).any()
    assert (picture[100, 150] == 128).all()


def test_the_number_of_a_region_stands_in_it() -> None:
    slanted = np.array([[100.0, 50.0], [200.0, 150.0], [30.0, 170.0]])
    picture = fitness_picture(GREY, [check(place=Place("region", (slanted,)))])
    assert (picture[60, 35] == 128).all()
    assert tuple(picture[55, 105][::-1]) == COLOURS[Verdict.UNFIT]


def test_a_line_is_drawn_along_its_place() -> None:
    picture = fitness_picture(GREY, [check(place=Place("line", (np.array([[20.0, 100.0], [280.0, 100.0]]),)))])
    assert (picture[100, 150] != 128).any()
    assert (picture[120, 150] == 128).all()


def test_lines_that_are_not_known_frame_the_whole_picture() -> None:
    picture = fitness_picture(GREY, [check(place=Place("line"))])
    assert tuple(picture[100, 3][::-1]) == COLOURS[Verdict.UNFIT]
    assert (picture[100, 150] == 128).all()


def test_a_large_photograph_is_shown_smaller() -> None:
    picture = fitness_picture(np.full((1000, 3000), 60_000, np.uint16), [check(Verdict.CARE)])
    assert picture.shape[1] == LONGEST_PX


def test_a_photograph_without_a_fault_has_no_picture() -> None:
    assert fitness_jpeg(GREY, Fitness((check(Verdict.FIT), check(Verdict.CANNOT_TELL)))) is None
    data = fitness_jpeg(GREY, Fitness((check(),)))
    assert data is not None
    assert cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR).shape[1] >= 300


def test_a_fault_stands_with_its_limit_its_cost_and_its_cure() -> None:
    line = shown(check()).splitlines()[1]
    for words in ("a.jpg", "unfit", "it is cut", "at most 0 px", "voids are missing", "show it whole"):
        assert words in line


def test_what_cannot_be_told_is_said_with_the_reason() -> None:
    text = shown(check(Verdict.CANNOT_TELL, fault="no scale was given"))
    assert "cannot be told: frame that cuts (no scale was given) in 1 photograph" in text
    assert "fit" in text.splitlines()[1]
