"""Inspected pieces on the terminal."""

from __future__ import annotations

import io

from rich.console import Console

from bubblegrade.inspection.batch import Piece, Side
from bubblegrade.inspection.verdicts import Verdict
from bubblegrade.show.inspect_tables import show_pieces


def test_every_photograph_of_a_piece_is_listed_whether_it_has_a_reason_or_not() -> None:
    left = Side("a-left.jpg", "left", Verdict.FAIL, ("all: void of 2 mm", "all: 9 voids"))
    right = Side("a-right.jpg", "right", Verdict.PASS, ())
    held = io.StringIO()
    pieces = [Piece("a", (left, right)), Piece("b", (), missing=("b.jpg is empty",))]
    show_pieces(pieces, [], Console(file=held, width=120, color_system=None))
    assert [line.split() for line in held.getvalue().splitlines()][1:] == [
        ["a", "fail", "a-left.jpg", "all:", "void", "of", "2", "mm"],
        ["a-left.jpg", "all:", "9", "voids"],
        ["a-right.jpg"],
        ["b", "look", "again", "b.jpg", "is", "empty"],
        ["2", "inspected:", "1", "fail,", "1", "look", "again"],
    ]
