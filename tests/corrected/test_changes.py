"""Changes that cannot be made are refused in one line."""

from __future__ import annotations

import math

import pytest

from bubblegrade.corrected.changes import (
    Added,
    Change,
    LeftOut,
    Removed,
    Renamed,
    Resized,
    Scaled,
    Zone,
    check_change,
    check_name,
)
from bubblegrade.errors import InputError
from bubblegrade.photo.scale import Span

FINDS, SHAPE = {"v0", "s1"}, (200, 300)
SQUARE = ((10.0, 10.0), (60.0, 10.0), (60.0, 60.0), (10.0, 60.0))


@pytest.mark.parametrize(
    "change",
    [
        Added(299.4, 199.4, 12.0),
        Added(0.0, 0.0, 1.0, "flake"),
        Removed("v0"),
        Resized("s1", 200.0),
        Renamed("v0", "unsure"),
        LeftOut(SQUARE),
        Zone("head", SQUARE),
        Scaled(Span(0.0, 0.0, 300.0 - 1, 0.0, 15.0)),
    ],
)
def test_what_can_be_done_is_let_through(change: Change) -> None:
    check_change(change, FINDS, SHAPE)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (Removed("v9"), "'v9' is not in this casting: load the page again"),
        (Resized("v0", 0.5), "0.5 px cannot be: give 1 to 200 px"),
        (Resized("v0", math.nan), "nan px cannot be"),
        (Added(300.0, 10.0, 9.0), "300,10 lies outside the photograph of 300 x 200 px: point inside it"),
        (Added(math.inf, 10.0, 9.0), "lies outside"),
        (Renamed("v0", "froth"), "kind 'froth' is not known: use one of void, flake"),
        (LeftOut(SQUARE[:2]), "2 corners cannot be: set 3 to 500"),
        (LeftOut(SQUARE * 200), "800 corners cannot be"),
        (Zone(" ", SQUARE), "a zone's name ' ' cannot be used"),
        (Zone("x" * 41, SQUARE), "write 1 to 40 plain characters"),
        (Scaled(Span(0.0, 0.0, 10.0, 0.0, 5.0)), "take two points at least 20 px apart"),
        (Scaled(Span(0.0, 0.0, 100.0, 0.0, -5.0)), "a length of -5 mm cannot be"),
        (Scaled(Span(0.0, 0.0, 100.0, 0.0, 1e9)), "give up to 5000 mm"),
    ],
)
def test_what_cannot_be_is_refused_with_its_cure(change: Change, words: str) -> None:
    with pytest.raises(InputError) as caught:
        check_change(change, FINDS, SHAPE)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_name_may_hold_any_letters_but_no_line_end() -> None:
    check_name('Zoë "<b>" 李', "who")
    with pytest.raises(InputError, match="who 'a"):
        check_name("a\nb", "who")
