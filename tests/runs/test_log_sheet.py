"""Sheets as spreadsheets write them, and the whole log as CSV and JSON and back."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.errors import InputError
from bubblegrade.runs.log_sheet import log_json, read_castings, read_export, table_csv

TYPES = {"note": {"id": "INTEGER", "text": "TEXT", "x": "REAL"}}
CELLS = st.text(st.characters(exclude_categories=["Cs"]))
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return tmp_path / "castings.csv"


def typed(sheet: Path, text: str, *, encoding: str = "utf-8") -> list[dict[str, str]]:
    sheet.write_bytes(text.encode(encoding))
    return [dict(each.typed) for each in read_castings(sheet)]


def test_columns_come_in_any_order_and_may_be_missing(sheet: Path) -> None:
    found = typed(sheet, "Mould,Gauge gel\nlure 3,58psi\n\nlure 4,\n")
    assert found == [{"mould": "lure 3", "gauge_gel": "58psi"}, {"mould": "lure 4"}]


def test_a_byte_order_mark_semicolons_and_decimal_commas_are_read(sheet: Path) -> None:
    found = typed(sheet, "part_a;gel time\r\n12,5 g;7,5min\r\n", encoding="utf-8-sig")
    assert found == [{"part_a": "12,5 g", "gel_time": "7,5min"}]


def test_a_unit_may_stand_in_the_heading_for_bare_numbers(sheet: Path) -> None:
    found = typed(sheet, "gauge_gel (psi)\tmould temperature [C]\tlot (maker)\n58\t24,5 C\tA 7\n")
    assert found == [{"gauge_gel": "58 psi", "mould_temperature": "24,5 C", "lot": "A 7"}]


def test_a_photograph_that_is_not_there_is_said_with_its_line(sheet: Path) -> None:
    sheet.write_text("resin,photo\nClear One,gone.jpg\n", "utf-8")
    with pytest.raises(InputError, match=r"line 2: gone\.jpg does not exist: check the name"):
        read_castings(sheet)


def test_a_photograph_counts_from_the_sheet(sheet: Path) -> None:
    (sheet.parent / "photos").mkdir()
    (sheet.parent / "photos" / "a.jpg").touch()
    sheet.write_text("resin,photo\nClear One,photos\\a.jpg\n", "utf-8")
    (found,) = read_castings(sheet)
    assert (dict(found.typed), found.photo) == ({"resin": "Clear One"}, sheet.parent / "photos/a.jpg")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("resin\n", "has no row below its heading"),
        ("resin,mold\na,b\n", r"castings\.csv line 1: mold is no field of the log: did you mean mould\?"),
        ("resin,Resin\na,b\n", "line 1: resin stands there twice"),
        ("resin,\na,b\n", "line 1: a column without a name is no field"),
        ("resin,gauge_gel\na,58psi\nb,58\n", "line 3: gauge gel 58 has no unit"),
        ("part_a,resin\n12,5g,a\n", "line 2: 3 cells, the heading has 2: put quotes around a cell with a comma"),
        ('resin\n"a\n', "is no CSV"),
    ],
)
def test_what_cannot_be_used_is_said_with_its_line(sheet: Path, text: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        typed(sheet, text)


def test_what_is_no_text_in_utf8_is_said(sheet: Path) -> None:
    with pytest.raises(InputError, match="is not text in UTF-8"):
        typed(sheet, "resin\nKl\xe4r\n", encoding="latin-1")
    with pytest.raises(InputError, match="cannot be opened"):
        read_castings(sheet.parent / "none.csv")


@given(st.lists(st.tuples(st.integers(), CELLS | st.none(), NUMBERS), max_size=5))
def test_every_cell_comes_back_from_csv_as_it_was(tmp_path_factory: Any, rows: list[tuple[object, ...]]) -> None:
    folder = tmp_path_factory.mktemp("export")
    (folder / "casting.csv").write_text(table_csv((["id"], [])), "utf-8")
    (folder / "note.csv").write_bytes(table_csv((["id", "text", "x"], rows)).encode())
    columns, found = read_export(folder, {**TYPES, "casting": {}})["note"]
    assert columns == ["id", "text", "x"]
    assert [tuple(row) for row in found] == rows


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-A1", "@now", "\t=1", "\r=1", "\n=1"])
def test_no_cell_runs_in_a_spreadsheet(text: str) -> None:
    ((_,), (cell,)) = csv.reader(io.StringIO(table_csv((["text"], [(text,)])), newline=""))
    assert not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


def test_a_cell_kept_from_running_is_read_from_a_sheet_without_the_apostrophe(sheet: Path) -> None:
    assert typed(sheet, "remarks,altitude\n'=1+1,'-5m\n'tis clear,\n") == [
        {"remarks": "=1+1", "altitude": "-5m"}, {"remarks": "'tis clear"},
    ]  # fmt: skip


def test_json_comes_back_as_it_was(tmp_path: Path) -> None:
    rows = [(1, "=1\n", 0.1 + 0.2), (2, None, None)]
    (tmp_path / "log.json").write_text(log_json(iter([("note", (["id", "text", "x"], rows))])), "utf-8")
    for place in (tmp_path, tmp_path / "log.json"):
        columns, found = read_export(place, TYPES)["note"]
        assert (columns, [tuple(row) for row in found]) == (["id", "text", "x"], rows)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ('id,text,x\n1,a,"1,234"\n', "1,234 can be read in two ways"),
        ("id\ttext\tx\n1\ta\t1,234\n", "1,234 can be read in two ways"),
        ('id,text,x\n1,a,"1,234,567.5"\n', "1,234,567.5 is no number"),
        ("id,text,x\n1.5,a,0.5\n", "1.5 is no number"),
    ],
)
def test_a_number_of_an_export_that_a_spreadsheet_spoilt_is_named_as_it_stands(
    tmp_path: Path, row: str, words: str
) -> None:
    (tmp_path / "casting.csv").write_text("id\n1\n", "utf-8")
    (tmp_path / "note.csv").write_text(row, "utf-8")
    with pytest.raises(InputError) as told:
        list(read_export(tmp_path, {**TYPES, "casting": {}})["note"][1])
    assert f"note.csv line 2 is not as exported ({words}" in str(told.value)


def test_an_export_saved_with_semicolons_and_decimal_commas_is_read(tmp_path: Path) -> None:
    (tmp_path / "casting.csv").write_text("id\n1\n", "utf-8")
    (tmp_path / "note.csv").write_text("id;text;x\n1;a,b;0,30000000000000004\n", "utf-8")
    columns, rows = read_export(tmp_path, {**TYPES, "casting": {}})["note"]
    assert (columns, list(rows)) == (["id", "text", "x"], [[1, "a,b", 0.1 + 0.2]])
    (tmp_path / "note.csv").write_text("id;text;x\n1;a;1,234\n", "utf-8")
    assert list(read_export(tmp_path, {**TYPES, "casting": {}})["note"][1]) == [[1, "a", 1.234]]
    (tmp_path / "note.csv").write_text("id,text,x\n1,a\n", "utf-8")
    with pytest.raises(InputError, match=r"note\.csv line 2 is not as exported \(2 cells, the heading has 3\)"):
        list(read_export(tmp_path, {**TYPES, "casting": {}})["note"][1])


def test_of_two_exports_in_one_folder_none_is_taken_unseen(tmp_path: Path) -> None:
    for name in ("log.json", "casting.csv"):
        (tmp_path / name).write_text("id\n1\n")
    with pytest.raises(
        InputError, match=r"holds two exports, log\.json and casting\.csv: take the older one out of it"
    ):
        read_export(tmp_path, {})


def test_what_is_no_export_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no export of a log"):
        read_export(tmp_path, {})
    for text in ("{", "[]", '{"tables": {"note": 3}}', "{}"):
        (tmp_path / "log.json").write_text(text, "utf-8")
        with pytest.raises(InputError, match="is no export of a log"):
            read_export(tmp_path, {})
    (tmp_path / "log.json").unlink()
    (tmp_path / "casting.csv").write_text("id\nmany\n", "utf-8")
    _, rows = read_export(tmp_path, {"casting": {"id": "INTEGER"}, **{t: {} for t in ("note", "history")}})["casting"]
    with pytest.raises(InputError, match=r"casting\.csv line 2 is not as exported"):
        list(rows)
