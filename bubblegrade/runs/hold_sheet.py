"""The sheet of a hold test: a CSV table with one row a reading, as spreadsheets write it.

A unit may stand in the heading, as in `gauge (psi)` or `temperature_c`, for cells that are bare numbers.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.runs.csv_lines import Photographs, check_width, stripped_lines, with_unit
from bubblegrade.runs.hold_cells import Words
from bubblegrade.settings import nearest
from bubblegrade.show.printable import printable

COLUMNS: Final = ("time", "gauge", "photo", "temperature", "barometer", "remark")
_HEADING: Final = re.compile(r"([a-z]+)[\s_]*[(\[]?\s*([^()\[\]]*?)\s*[)\]]?")

Cells = Sequence[str]


def read_hold_sheet(path: Path) -> tuple[Words, ...]:
    """Return the readings of a sheet as written; photographs count from the sheet's folder.

    Raises
    ------
    InputError
        The sheet cannot be read, or a heading or row of it cannot be used; the line is named.
    """
    name = printable(str(path))
    lines = stripped_lines(path, name)
    if len(lines) < 2:  # noqa: PLR2004
        raise InputError(
            f"{name} has no row below its heading: write time,gauge,temperature and a row for each reading"
        )
    heading = _heading(lines[0][1], f"{name} line {lines[0][0]}")
    photographs = Photographs(path.parent)
    words = tuple(_words(heading, line, name, photographs) for line in lines[1:])
    photographs.check(name)
    return words


def _heading(cells: Cells, at: str) -> list[tuple[str, str]]:
    """Return name and unit of each column, checked."""
    columns = []
    for cell in cells:
        parts = _HEADING.fullmatch(cell.strip().lower())
        name = "" if parts is None else parts[1]
        if parts is None or name not in COLUMNS:
            raise InputError(
                f"{at}: {printable(cell) or 'a column without a name'} is not known of a reading: "
                f"{nearest(name, list(COLUMNS))}"
            )
        columns.append((name, parts[2].replace("_", " ")))
    names = [name for name, _ in columns]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise InputError(f"{at}: {twice} stands there twice: keep one of the columns")
    if "time" not in names or not {"gauge", "photo"} & set(names):
        raise InputError(f"{at} has no column {'gauge' if 'time' in names else 'time'}: add it, each reading needs one")
    return columns


def _words(heading: Sequence[tuple[str, str]], line: tuple[int, Cells], name: str, photographs: Photographs) -> Words:
    """Return a row as written, each bare number with the unit of its column."""
    number, cells = line
    at = f"{name} line {number}"
    check_width(cells, heading, at)
    row = dict.fromkeys(COLUMNS, "")
    for (column, unit), cell in zip(heading, cells, strict=False):
        row[column] = with_unit(cell, unit)
    if not row["time"]:
        raise InputError(f"{at}: time is empty: write when the dial was read, such as 2h or 08:15")
    try:
        photo = photographs.named(row["photo"], number) if row["photo"] else None
    except InputError as error:
        raise InputError(f"{at}: {error}") from error
    return Words(row["time"], row["gauge"], photo, row["temperature"], row["barometer"], row["remark"], at)
