"""Settings from TOML."""

from __future__ import annotations

import pytest

from bubblegrade.errors import SettingsError
from bubblegrade.settings import GRADES, Settings, read_settings, with_index


def test_nothing_written_is_the_usual_settings() -> None:
    assert read_settings("", name="a.toml") == Settings()
    assert Settings().grades == GRADES


def test_what_is_written_is_taken_and_the_rest_stays() -> None:
    settings = read_settings("index = 1.55\nsmallest_px = 8", name="a.toml")
    assert (settings.index, settings.smallest_px, settings.accept) == (1.55, 8.0, Settings().accept)


def test_an_index_of_three_decimals_may_have_a_comma() -> None:
    assert with_index(Settings(), "1,555", what="--index").index == 1.555


def test_grade_words_are_ours_to_choose() -> None:
    settings = read_settings("[grades]\nclean = 90\nfoamy = 0", name="a.toml")
    assert settings.grades == (("clean", 90.0), ("foamy", 0.0))


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("index: 1.5", "a.toml is not TOML"),
        ("indx = 1.5", "a.toml: indx is not a setting: did you mean index?"),
        ("q = 1", "a.toml: q is not a setting: use one of index, smallest_px"),
        ("index = 15", "a.toml: index = 15 is out of range: give 1.3 to 1.7"),
        ("index = true", "a.toml: index = True is out of range"),
        ('index = "1.5"', "a.toml: index = '1.5' is text: write a number, without"),
        ("index = nan", "a.toml: index = nan is out of range"),
        ("unsure = 0.6", "a.toml: unsure 0.6 is above accept 0.5: make it smaller"),
        ("grades = 3", "a.toml: grades must be a table of words"),
        ("grades = {}", "a.toml: grades must be a table of words"),
        ("grades = {clean = 90, foamy = 10}", "a.toml: grades must be a table of words"),
        ("grades = {foamy = 0, clean = 90}", "a.toml: grades must be a table of words"),
        ("grades = {clean = true, foamy = 0}", "a.toml: grades must be a table of words"),
        ("grades = {clean = 101, foamy = 0}", "a.toml: grades must be a table of words"),
    ],
)
def test_what_cannot_be_used_is_one_line(text: str, line: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_settings(text, name="a.toml")
    assert str(caught.value).startswith(line)
    assert "\n" not in str(caught.value)
