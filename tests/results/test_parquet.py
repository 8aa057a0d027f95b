"""The tables as Parquet, held against the CSV beside them."""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pyarrow import parquet, types

from bubblegrade.errors import InputError
from bubblegrade.grading_run import Casting, Request
from bubblegrade.results.entry import entry_of
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.parquet import PARQUET_TABLES, check_parquet
from bubblegrade.results.run import Run, write_run
from bubblegrade.settings import Settings

MakeCasting = Callable[..., Casting]

TABLES = ("castings", "voids", "set-aside")


def written(folder: Path, *castings: Casting, parquet: bool = True, resume: bool = False) -> Path:
    """Write a run of `castings` and return its folder."""
    entries = tuple(entry_of(casting) for casting in castings)
    run = Run("0.1.0", Request(mm_per_px=0.05), Settings(), None, entries, (), ())
    with ResultFolder.prepare(folder, replace=not resume, resume=resume) as out:
        write_run(out, run, parquet=parquet)
    return folder


def as_meant(text: str, kind: Any) -> object:
    """Return a cell of a CSV as a column of this kind holds it."""
    if types.is_boolean(kind):
        return {"true": True, "false": False}[text]
    if types.is_floating(kind):
        return float(text) if text else None
    return text


@pytest.mark.parametrize("name", TABLES)
def test_rows_and_columns_are_those_of_the_csv(tmp_path: Path, known_casting: MakeCasting, name: str) -> None:
    written(
        tmp_path,
        known_casting(photo="a/cup.jpg"),
        known_casting(photo="b/ü.jpg", scale=None),
        known_casting(photo="c.jpg"),
    )
    table = parquet.read_table(tmp_path / f"{name}.parquet")
    with (tmp_path / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert table.num_rows == len(rows) >= 3
    assert table.column_names == list(rows[0])
    kinds = {field.name: field.type for field in table.schema}
    assert table.to_pylist() == [
        {column: as_meant(text, kinds[column]) for column, text in row.items()} for row in rows
    ]


def test_numbers_are_numbers_and_truth_values_truth_values_whatever_stands_in_them(
    tmp_path: Path, known_casting: MakeCasting
) -> None:
    with_scale, without = written(tmp_path / "a", known_casting()), written(tmp_path / "b", known_casting(scale=None))
    for name in TABLES:
        schema = parquet.read_schema(with_scale / f"{name}.parquet")
        assert schema == parquet.read_schema(without / f"{name}.parquet")
        for field in schema:
            ends = ("_px", "_mm", "_low", "_high", "_err", "_count", "contrast")
            assert types.is_floating(field.type) or not field.name.endswith(ends)
    voids = parquet.read_schema(with_scale / "voids.parquet")
    assert [types.is_boolean(voids.field(name).type) for name in ("judged", "cut", "kind")] == [True, True, False]
    assert all(types.is_floating(voids.field(name).type) for name in ("x_px", "diameter_mm", "contrast"))


def test_a_name_that_a_spreadsheet_would_run_is_itself(tmp_path: Path, known_casting: MakeCasting) -> None:
    written(tmp_path, known_casting(photo="=cup.jpg"))
    for name in TABLES:
        assert set(parquet.read_table(tmp_path / f"{name}.parquet")["photo"].to_pylist()) == {"=cup.jpg"}


def test_many_rows_are_written_in_groups_that_a_reader_joins(
    tmp_path: Path, known_casting: MakeCasting, monkeypatch: pytest.MonkeyPatch
) -> None:
    castings = [known_casting(photo=f"{number}.jpg") for number in range(4)]
    whole = parquet.read_table(written(tmp_path / "whole", *castings) / "voids.parquet")
    monkeypatch.setattr("bubblegrade.results.parquet.GROUP_ROWS", 5)  # of 3 voids each
    grouped = parquet.ParquetFile(written(tmp_path / "grouped", *castings) / "voids.parquet")
    assert grouped.num_row_groups == 2
    assert grouped.read() == whole


def test_the_same_run_gives_the_same_bytes(tmp_path: Path, known_casting: MakeCasting) -> None:
    one, two = (written(tmp_path / name, known_casting()) for name in "ab")
    for name in PARQUET_TABLES:
        assert (one / name).read_bytes() == (two / name).read_bytes()


def test_run_json_lists_them_and_replacing_without_them_takes_them_away(
    tmp_path: Path, known_casting: MakeCasting
) -> None:
    written(tmp_path, known_casting())
    assert {*PARQUET_TABLES} <= {file.name for file in tmp_path.iterdir()}
    written(tmp_path, known_casting(), parquet=False)
    assert not list(tmp_path.glob("*.parquet"))


def test_a_result_that_is_added_to_keeps_them(tmp_path: Path, known_casting: MakeCasting) -> None:
    written(tmp_path, known_casting())
    written(tmp_path, known_casting(), known_casting(photo="new.jpg"), parquet=False, resume=True)
    assert parquet.read_table(tmp_path / "castings.parquet")["photo"].to_pylist() == ["cup.jpg", "new.jpg"]


def test_without_the_extra_one_line_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setitem(sys.modules, "pyarrow.parquet", None)
    with pytest.raises(InputError, match=r"^--parquet needs what writes Parquet: pip install 'bubblegrade\[parquet\]'"):
        check_parquet()
