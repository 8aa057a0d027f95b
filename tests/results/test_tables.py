"""Tables as CSV."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.results.tables import cell_text, csv_of_columns, csv_pieces, csv_text, unguarded


@pytest.mark.parametrize(
    ("cell", "text"),
    [
        (None, ""),
        (math.nan, ""),
        (np.float32("nan"), ""),
        (math.inf, "inf"),
        (True, "true"),
        (np.False_, "false"),
        (12, "12"),
        (np.int64(1234567), "1234567"),
        (12.0, "12"),
        (-0.0, "0"),
        (0.1234567, "0.123457"),
        (np.float32(0.1), "0.1"),
        (4000.123, "4000.12"),
        (-3.5, "-3.5"),
        ("cup a.jpg", "cup a.jpg"),
        (np.str_("void"), "void"),
    ],
)
def test_a_cell_is_written_plainly(cell: object, text: str) -> None:
    assert cell_text(cell) == text


@pytest.mark.parametrize("text", ["=1+1", "+cmd|'/c calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "-"])
def test_text_that_a_spreadsheet_would_run_gets_an_apostrophe(text: str) -> None:
    # OWASP, "CSV Injection": cells that begin with = + - @ tab or carriage return
    assert cell_text(text) == f"'{text}"


def test_nothing_runs_where_a_semicolon_begins_the_next_cell() -> None:
    # OWASP, "CSV Injection": field separators that start a new cell; and signs in full width (from memory)
    assert cell_text("cup;=1+1;2") == "cup;'=1+1;2"
    assert cell_text("\uff1d1") == "'\uff1d1"
    for text in ("=1;-2", "a;=1", "-rf.jpg"):
        assert unguarded(cell_text(text)) == text


def test_a_cell_stays_on_one_line() -> None:
    assert cell_text("a\r\nb") == "a  b"
    assert cell_text("\r=1") == "' =1"


@pytest.mark.parametrize("text", ["-3.5", "+4", "a=1", "1-2", ""])
def test_numbers_and_harmless_text_stay_as_they_are(text: str) -> None:
    assert cell_text(text) == text


def test_columns_keep_their_order_and_lines_end_in_one_way() -> None:
    rows = [{"b": 1, "a": "x,y"}, {"a": 'say "so"'}]
    assert csv_text(["a", "b"], rows) == 'a,b\n"x,y",1\n"say ""so""",\n'


def test_a_table_of_nothing_is_its_heading() -> None:
    assert csv_text(["a", "b"], []) == "a,b\n"


def test_a_column_without_a_place_and_a_cell_of_another_kind_are_broken_promises() -> None:
    with pytest.raises(AssertionError, match=r"columns without a place in the table: \['c'\]"):
        csv_text(["a"], [{"a": 1, "c": 2}])
    with pytest.raises(AssertionError, match=r"a cell is text, a number or a truth value: \[1\]"):
        cell_text([1])


@given(st.lists(st.lists(st.text(st.characters(exclude_categories=["Cs"]), max_size=8), min_size=2, max_size=2)))
def test_text_comes_back_from_the_file(rows: list[list[str]]) -> None:
    text = csv_text(["a", "b"], [dict(zip("ab", row, strict=True)) for row in rows])
    read = list(csv.reader(io.StringIO(text, newline="")))[1:]
    assert read == [[cell_text(cell) for cell in row] for row in rows]


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_come_back_to_six_digits(number: float) -> None:
    assert float(cell_text(number)) == pytest.approx(number, rel=5.1e-6, abs=1e-320)


@given(st.lists(st.tuples(st.integers(-(2**40), 2**40), st.floats(), st.none() | st.text(max_size=4))))
def test_columns_give_the_same_table_as_rows(rows: list[tuple[int, float, str | None]]) -> None:
    numbers, values, texts = zip(*rows, strict=True) if rows else ((), (), ())
    columns = {"n, of all": np.array(numbers, np.int64), "value": np.array(values, np.float64), "text": texts}
    assert csv_of_columns(columns) == csv_text(list(columns), [dict(zip(columns, row, strict=True)) for row in rows])


def test_a_large_table_comes_in_pieces_of_whole_lines() -> None:
    rows = [{"a": "x" * 1000, "b": number} for number in range(100)]
    pieces = list(csv_pieces(["a", "b"], rows))
    assert [piece.endswith("\n") for piece in pieces] == [True, True]
    assert "".join(pieces) == "a,b\n" + "".join(f"{'x' * 1000},{number}\n" for number in range(100))
