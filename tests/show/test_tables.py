"""The table on the terminal."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pytest
from rich.console import Console

from bubblegrade.casting.curved import BY_FORM, Magnified
from bubblegrade.fitness import outlined
from bubblegrade.fitness.check import Fitness, Verdict
from bubblegrade.grading.remarks import THICKER, UNUSUAL
from bubblegrade.grading_run import Casting
from bubblegrade.photo.on_card import OTHER_LENS
from bubblegrade.photo.reading import UNTOLD
from bubblegrade.photo.tone import NOT_UNDERSTOOD
from bubblegrade.show.tables import notes, show_castings, table_console
from bubblegrade.voids.table import Voids
from tests.conftest import known_check

MakeCasting = Callable[..., Casting]


def shown(castings: Sequence[Casting], **terminal: Any) -> str:
    """Return what is printed for `castings`."""
    file = io.StringIO()
    show_castings(castings, Console(file=file, **terminal))
    return file.getvalue()


def test_a_pipe_gets_plain_text(known_casting: MakeCasting, empty_casting: MakeCasting) -> None:
    castings = [
        known_casting(),
        known_casting(photo="b.jpg", unfit=("cut by the frame",)),
        empty_casting(photo="c.jpg"),
    ]
    assert shown(castings, width=10_000) == (
        "photo    voids  largest       D50          clarity  word        judged  notes\n"
        "cup.jpg      3  1.50 mm  0.800 mm    45 (31 to 58)  bubbly    1.00 cm2  1 unsure, 20 % not judged\n"
        "b.jpg        3  1.50 mm  0.800 mm    45 (31 to 58)  bubbly    1.00 cm2"
        "  UNFIT: cut by the frame, 1 unsure, 20 % not judged\n"
        "c.jpg        0        -         -  100 (98 to 100)  spotless  40000 px\n"
    )


def test_without_a_scale_every_length_says_px(known_casting: MakeCasting) -> None:
    text = shown([known_casting(scale=None)], width=10_000)
    assert "30.0 px" in text
    assert "mm" not in text


@pytest.mark.parametrize("width", [40, 60, 80, 99, 120])
def test_no_line_is_wider_than_the_terminal(known_casting: MakeCasting, width: int) -> None:
    text = shown(
        [known_casting(photo="a/long/name/of/a/photograph.jpg")], width=width, force_terminal=True, color_system=None
    )
    assert max(len(line) for line in text.splitlines()) <= width


def test_notes_stand_below_the_table_on_a_narrow_terminal(known_casting: MakeCasting) -> None:
    castings = [known_casting(set_aside=Voids.none(), not_judged=()), known_casting()]
    text = shown(castings, width=80, force_terminal=True, color_system=None)
    assert text.splitlines()[-2].split()[0] == "cup.jpg"
    assert text.splitlines()[-1] == "cup.jpg: 1 unsure, 20 % not judged"


def test_a_very_narrow_terminal_keeps_count_largest_and_clarity(known_casting: MakeCasting) -> None:
    heading = shown([known_casting()], width=60, force_terminal=True, color_system=None).splitlines()[0]
    assert heading.split() == ["photo", "voids", "largest", "clarity", "word"]


def test_brackets_in_a_name_are_no_markup(known_casting: MakeCasting) -> None:
    assert "[bold]<a>.jpg" in shown([known_casting(photo="[bold]<a>.jpg")], width=10_000)


def test_nothing_worth_a_note_has_none(empty_casting: MakeCasting) -> None:
    assert notes(empty_casting()) == ""


def test_voids_under_the_countable_size_are_noted(known_casting: MakeCasting) -> None:
    casting = known_casting()
    small = replace(casting.sizes_px, below=2)
    assert "2 voids under the smallest countable size" in notes(known_casting(sizes_px=small))


def test_a_curved_body_of_unknown_thickness_and_too_large_a_thickness_are_noted(known_casting: MakeCasting) -> None:
    unknown = known_casting(magnified=Magnified(1.1, 0.11, "curved body"), thickness_mm=None)
    assert "if curved, mm are good to 10 % only: give --thickness" in notes(unknown)
    by_form = known_casting(magnified=Magnified(1.1, 0.33, f"curved body: {BY_FORM}, 9 of them"), thickness_mm=None)
    assert "so bent that mm of a single void are good to 30 % only" in notes(by_form)
    assert THICKER in notes(known_casting(warnings=(THICKER,)))
    assert UNUSUAL in notes(known_casting(warnings=(UNUSUAL,)))
    assert f"{OTHER_LENS} 12 mm" in notes(known_casting(warnings=(f"{OTHER_LENS} 12 mm",)))
    assert notes(known_casting(warnings=(UNTOLD, NOT_UNDERSTOOD))).endswith(f"{NOT_UNDERSTOOD}, {UNTOLD}")
    deep = known_casting(magnified=Magnified(1.85, 0.8, "curved body"))
    assert "so thick for its width that mm are good to 43 % only: check both" in notes(deep)
    assert "only" not in notes(known_casting(magnified=Magnified(1.27, 0.2, "curved body")))


@pytest.mark.parametrize("name", [test.name for test in outlined.TESTS])
def test_a_doubt_about_the_outline_is_noted_and_another_care_is_not(name: str, known_casting: MakeCasting) -> None:
    care = known_check("more than one casting in view", name=name, verdict=Verdict.CARE, cure="crop")
    assert "more than one casting in view: crop" in notes(known_casting(fitness=Fitness((care,))))
    assert "crop" not in notes(known_casting(fitness=Fitness((replace(care, name="bands"),))))


def test_what_is_no_terminal_is_never_broken(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdout", io.StringIO())
    console = table_console()
    assert console.width >= 1000
    assert console.color_system is None
