"""Sentences are wrapped on a terminal, and whole lines in a file."""

from __future__ import annotations

import pytest
from rich.console import Console

from bubblegrade.show.sentences import say
from bubblegrade.show.tables import table_console

LINE = "castings were graded with another refractive index " * 4


@pytest.mark.parametrize(("terminal", "lines"), [(True, 3), (False, 1)])
def test_a_sentence_is_wrapped_on_a_terminal_and_stays_a_line_elsewhere(
    capsys: pytest.CaptureFixture[str], *, terminal: bool, lines: int
) -> None:
    say(LINE, Console(force_terminal=True, width=80) if terminal else table_console())
    assert len(capsys.readouterr().out.splitlines()) == lines


def test_an_option_is_never_broken_at_its_hyphens(capsys: pytest.CaptureFixture[str]) -> None:
    said = "state the height of the lens with --camera-height, and what the card's check length is"
    say(said, Console(force_terminal=True, width=len("state the height of the lens with --camera-")))
    assert capsys.readouterr().out.splitlines()[1].startswith("--camera-height,")


def test_what_stands_after_a_bullet_is_indented_under_it(capsys: pytest.CaptureFixture[str]) -> None:
    say("one two three four five six seven eight", Console(force_terminal=True, width=20), bullet="- ")
    first, *others = capsys.readouterr().out.splitlines()
    assert first.startswith("- one")
    assert others
    assert all(line.startswith("  ") and not line.startswith("   ") for line in others)


@pytest.mark.parametrize("words", ["a casting of [red]resin[/red]", "cup :warning: at 12:30"])
def test_what_a_person_wrote_is_no_markup(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    say(words, table_console())
    assert capsys.readouterr().out == f"{words}\n"
