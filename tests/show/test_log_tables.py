"""The log on the terminal: unknown is shown as such, and nothing is told that the numbers do not tell."""

from __future__ import annotations

import io

from rich.console import Console

from bubblegrade.show.log_tables import show_fields, show_list, show_results, show_rows
from tests.command_line import said

ROW = {
    "id": 1, "date": None, "mould": "lure 3", "resin": None, "voids": 57, "voids_low": 43.2, "voids_high": 73.9,
    "clarity": None, "clarity_low": None, "clarity_high": None, "unfit": 1, "verdict": "bubbly",
}  # fmt: skip


def test_a_list_shows_results_with_limits_and_leaves_out_what_no_casting_has(console: Console) -> None:
    show_list([ROW], ("id", "date", "mould", "resin"), console)
    head, line = said(console).splitlines()
    assert head.split() == ["id", "date", "mould", "voids", "clarity", "word"]
    assert line.split("  ") == ["1 ", " -  ", " lure 3", "57 (43 to 74)", "-      ", " bubbly (UNFIT)"] or (
        " ".join(line.split()) == "1 - lure 3 57 (43 to 74) - bubbly (UNFIT)"
    )


def test_castings_without_results_have_no_columns_for_them(console: Console) -> None:
    show_list([{**ROW, "voids": None, "verdict": None}], ("id", "mould"), console)
    assert "voids" not in said(console)


def test_what_all_castings_have_alike_is_said_once(console: Console) -> None:
    rows = [{**ROW, "id": number, "resin": "Clear", "mould": f"m{number}"} for number in (1, 2)]
    show_list(rows, ("id", "date", "mould", "resin"), console)
    assert said(console).splitlines()[0].split() == ["id", "date", "mould", "voids", "clarity", "word"]
    assert "All of them: resin Clear." in said(console)


def test_a_day_is_not_parted_in_a_narrow_list() -> None:
    narrow = Console(file=io.StringIO(), width=80, color_system=None, highlight=False)
    row = {**ROW, "date": "2026-03-01 08:15+01:00", "resin": "a clear resin of a long name", "operator": "somebody"}
    show_list([row], ("id", "date", "mould", "resin", "operator"), narrow)
    assert "2026-03-01 " in said(narrow)
    assert "bubbly " in said(narrow)


def test_unknown_fields_are_named_below(console: Console) -> None:
    show_fields([("gauge_gel", "58psi", "399.896 kPa gauge"), ("resin", None, "")], console)
    lines = [" ".join(line.split()) for line in said(console).splitlines()]
    assert lines == ["field as typed kept as", "gauge gel 58psi 399.896 kPa gauge", "Not known: resin."]


def test_the_lines_of_a_remark_may_end_as_those_of_sheets_do(console: Console) -> None:
    show_fields([("remarks", "one\r\ntwo\nthree\rfour", "")], console)
    lines = [" ".join(line.split()) for line in said(console).splitlines()]
    assert lines == ["field as typed kept as", "remarks one", "two", "three\\rfour"]


def test_results_and_rows_stand_on_one_line_each(console: Console) -> None:
    result = {
        **ROW, "kind": "grade", "photo": "a.jpg", "file": "run.json", "file_sha256": "f" * 64,
        "shrinkage": 0.3333, "shrinkage_low": None, "shrinkage_high": None,
    }  # fmt: skip
    show_results([result], console)
    assert " ".join(said(console).splitlines()[1].split()) == (
        "grade a.jpg bubbly (UNFIT) 57 (43 to 74) - 0.333 run.json ffffffffffff"
    )
    show_rows([{"text": "two\nlines", "by": None}], ("text", "by"), console)
    assert "two lines" in said(console)
