r"""The log's sheets: castings from a CSV table as spreadsheets write it, and the whole log as CSV or JSON and back.

What leaves as CSV runs in no spreadsheet: text that would be taken for a formula gets an apostrophe before it, which is
taken off again when it comes back; within a text it is a backslash. Line ends in a text are written as \n.
"""

from __future__ import annotations

import csv
import io
import json
import re
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from bubblegrade.errors import InputError, UnitError
from bubblegrade.records.dump import FORMAT, TABLES, Table
from bubblegrade.records.fields import BY_NAME, cells_of, plain_name
from bubblegrade.records.schema import VERSION
from bubblegrade.results.tables import FORMULA_SIGN, GUARD, INNER_FORMULA, cell_text, unguarded
from bubblegrade.runs.csv_lines import Photographs, csv_lines, csv_text, delimiter_of, with_unit
from bubblegrade.settings import nearest
from bubblegrade.show.printable import printable
from bubblegrade.units.written import decimal, quoted

PHOTO: Final = "photo"  # a column beside the fields: the casting's photograph, by its place from the sheet
TELLING: Final = ("date", "batch")  # fields that tell castings of one recipe and mould apart
JSON_FILE: Final = "log.json"
CSV_ENDING: Final = ".csv"
_HEADING: Final = re.compile(r"([^()\[\]]*?)\s*(?:[(\[]\s*([^()\[\]]*?)\s*[)\]])?", re.DOTALL)
_ESCAPES: Final = {"\\": "\\\\", "\n": "\\n", "\r": "\\r"}
_ESCAPED: Final = re.compile(rf"\\([\\nr]|(?={FORMULA_SIGN}))")
_MEANT: Final = {"\\": "\\", "n": "\n", "r": "\r", "": ""}


@dataclass(frozen=True)
class Written:
    """One casting as a sheet has it."""

    typed: Mapping[str, str]  # by field
    photo: Path | None
    line: int  # of the sheet, from 1

    @property
    def is_told_apart(self) -> bool:
        """Whether it says what no two castings share as a rule: its date, its batch or its photograph."""
        return self.photo is not None or any(self.typed.get(name) for name in TELLING)


def read_castings(path: Path) -> tuple[Written, ...]:
    """Return the castings of a sheet, one a row; columns that it lacks, and empty cells, are unknown.

    Columns are split at semicolons, tabs or commas; decimal signs may be points or commas. A unit may stand in the
    heading, as in `gauge gel (psi)`, for cells that are bare numbers.

    Raises
    ------
    InputError
        The sheet cannot be read, or a heading or cell of it cannot be used; the line is named.
    """
    name = printable(str(path))
    lines = csv_lines(csv_text(path, name), name)
    if len(lines) < 2:  # noqa: PLR2004
        raise InputError(f"{name} has no row below its heading: write date,resin,mould and a row for each casting")
    heading = _heading(lines[0][1], f"{name} line {lines[0][0]}")
    photographs, castings = Photographs(path.parent), []
    for number, cells in lines[1:]:
        try:
            row = _typed(heading, cells)
            photo = row.pop(PHOTO, None)
            cells_of(row)  # so that faults have their line
            castings.append(Written(row, None if photo is None else photographs.named(photo, number), number))
        except InputError as error:
            raise type(error)(f"{name} line {number}: {error}") from error
    photographs.check(name)
    return tuple(castings)


def table_csv(table: Table) -> str:
    """Return one table of the log as CSV, every number with all its digits."""
    columns, rows = table
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return lines.getvalue()


def log_json(tables: Iterator[tuple[str, Table]]) -> str:
    """Return the whole log as JSON: each table as columns and rows."""
    held = {name: {"columns": list(columns), "rows": [list(row) for row in rows]} for name, (columns, rows) in tables}
    return json.dumps({"format": FORMAT, "log_version": VERSION, "tables": held}, ensure_ascii=False, indent=1) + "\n"


def read_export(place: Path, types: Mapping[str, Mapping[str, str]]) -> dict[str, Table]:
    """Return the tables of an export: a folder that it wrote, or its log.json. `types` are those of the columns.

    Raises
    ------
    InputError
        It is no export of a log, or two.
    """
    name = printable(str(place))
    first = place / f"{TABLES[0]}{CSV_ENDING}"
    if first.is_file() and (place / JSON_FILE).is_file():
        raise InputError(f"{name} holds two exports, {JSON_FILE} and {first.name}: take the older one out of it")
    if place.is_dir() and not (place / JSON_FILE).is_file():
        if not first.is_file():
            raise InputError(f"{name} holds no export of a log: name the folder that 'bubblegrade log export' wrote")
        files = {table: place / f"{table}{CSV_ENDING}" for table in TABLES}
        return {table: _table_in(file, types[table]) for table, file in files.items() if file.is_file()}
    file = place / JSON_FILE if place.is_dir() else place
    try:
        held = json.loads(csv_text(file, name))
        return {table: (each["columns"], each["rows"]) for table, each in held["tables"].items() if table in TABLES}
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError) as error:
        raise InputError(f"{name} is no export of a log: name what 'bubblegrade log export' wrote") from error


def _heading(cells: Sequence[str], at: str) -> list[tuple[str, str]]:
    """Return field and unit of each column, checked."""
    known, columns = [*BY_NAME, PHOTO], list[tuple[str, str]]()
    for cell in cells:
        parts = _HEADING.fullmatch(cell.strip())
        name = plain_name(parts[1]) if parts else ""
        if parts is None or name not in known:
            written = printable(cell.strip()) or "a column without a name"
            raise InputError(f"{at}: {written} is no field of the log: {nearest(name, known)}")
        if name in [column for column, _ in columns]:
            raise InputError(f"{at}: {name} stands there twice: keep one of the columns")
        columns.append((name, parts[2] or ""))
    return columns


def _typed(heading: Sequence[tuple[str, str]], cells: Sequence[str]) -> dict[str, str]:
    """Return the cells of a row that hold anything, each bare number with the unit of its column."""
    if any(cell.strip() for cell in cells[len(heading) :]):
        raise InputError(
            f"{len(cells)} cells, the heading has {len(heading)}: put quotes around a cell with a comma in it"
        )
    row = {}
    for (name, unit), cell in zip(heading, cells, strict=False):
        plain = unguarded(cell.strip())
        if plain:
            row[name] = with_unit(plain, unit)
    return row


def _table_in(file: Path, types: Mapping[str, str]) -> Table:
    """Return a table from its CSV."""
    name = printable(str(file))
    text = csv_text(file, name)
    commas_are_decimal = delimiter_of(text) == ";"  # as spreadsheets of many countries save it
    lines = iter(csv_lines(text, name, longest=sys.maxsize))
    _, columns = next(lines, (0, list[str]()))
    kinds = [types.get(column, "TEXT") for column in columns]

    def rows() -> Iterator[list[Any]]:
        for number, cells in lines:
            try:
                if len(cells) != len(kinds):
                    raise ValueError(f"{len(cells)} cells, the heading has {len(kinds)}")
                yield [
                    _value(cell, kind, commas_are_decimal=commas_are_decimal)
                    for cell, kind in zip(cells, kinds, strict=True)
                ]
            except (ValueError, UnitError) as error:
                raise InputError(f"{name} line {number} is not as exported ({error}): export the log again") from error

    return columns, rows()


def _cell(value: str | float | None) -> str:
    """Return a value as a cell that `_value` reads back."""
    if not isinstance(value, str):
        return "" if value is None else repr(value)
    line = INNER_FORMULA.sub(r";\\", "".join(_ESCAPES.get(sign, sign) for sign in value))
    return GUARD + line if not line or line.startswith(GUARD) else cell_text(line)


def _value(cell: str, kind: str, *, commas_are_decimal: bool) -> str | float | None:
    """Return what a cell stands for."""
    if not cell:
        return None
    try:
        if kind == "INTEGER":
            return int(cell)
        if kind == "REAL":
            return float(cell.replace(",", ".")) if commas_are_decimal else decimal(cell)
    except ValueError:
        raise ValueError(f"{quoted(cell)} is no number") from None
    return _ESCAPED.sub(lambda sign: _MEANT[sign[1]], cell.removeprefix(GUARD))
