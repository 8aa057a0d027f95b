"""CSV tables as spreadsheets write them: with a byte-order mark or without, parted by commas, semicolons or tabs."""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.runs.inputs import printable

LONGEST_CELL: Final = 131_072  # characters, Python's usual limit
DELIMITERS: Final = (";", "\t", ",")  # the first that stands in the heading; others may stand in texts


def csv_text(path: Path, name: str) -> str:
    """Return a table's text; `name` is the file's, for messages.

    Raises
    ------
    InputError
        It cannot be opened, or is not UTF-8.
    """
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise InputError(f"{name} cannot be opened ({error.strerror}): check its name") from error
    except UnicodeDecodeError as error:
        raise InputError(f"{name} is not text in UTF-8: save the sheet as CSV in UTF-8") from error


def csv_lines(text: str, name: str, *, longest: int = LONGEST_CELL) -> list[tuple[int, list[str]]]:
    """Return the lines that hold anything, each with its number and its cells as they stand.

    Raises
    ------
    InputError
        The text is no CSV, or a cell has more than `longest` characters; the line is named.
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = next((sign for sign in DELIMITERS if sign in first), ",")
    table = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    usual = csv.field_size_limit(longest)
    try:
        return [(table.line_num, cells) for cells in table if any(cell.strip() for cell in cells)]
    except csv.Error as error:
        raise InputError(f"{name} line {table.line_num} is no CSV ({error}): save the sheet as CSV again") from error
    finally:
        csv.field_size_limit(usual)


def stripped_lines(path: Path, name: str) -> list[tuple[int, list[str]]]:
    """Return the lines of a table that hold anything, each with its number, its cells without blanks around them.

    Raises
    ------
    InputError
        It cannot be opened, is not UTF-8, or is no CSV.
    """
    lines = csv_lines(csv_text(path, name), name)
    return [(number, [cell.strip() for cell in cells]) for number, cells in lines]


def check_width(cells: Sequence[str], heading: Sequence[object], at: str) -> None:
    """Refuse a row that goes on beyond its heading.

    Raises
    ------
    InputError
        It does; `at` says where it stands.
    """
    if any(cells[len(heading) :]):
        raise InputError(
            f"{at} has {len(cells)} cells, the heading {len(heading)}: put quotes around a cell with a comma in it"
        )


def photograph_named(text: str, folder: Path) -> Path:
    """Return the place of a photograph that a sheet in `folder` names, as any system writes places.

    Raises
    ------
    InputError
        The cell is empty, or names nothing, or a folder.
    """
    if not text:
        raise InputError("photo is empty: name the photograph")
    written = [folder / text, folder / text.replace("\\", "/")]
    found = next((path for path in written if os.path.lexists(path)), None)
    if found is None:
        raise InputError(f"{printable(text)} does not exist: check the name, which counts from the sheet's folder")
    if found.is_dir():
        raise InputError(f"{printable(text)} is a folder: name one photograph in each row")
    return found
