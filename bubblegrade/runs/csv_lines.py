"""CSV tables as spreadsheets write them: with a byte-order mark or without, parted by commas, semicolons or tabs."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError

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
