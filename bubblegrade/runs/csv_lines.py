"""CSV tables as spreadsheets write them: with a byte-order mark or without, parted by commas, semicolons or tabs."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.results.tables import unguarded
from bubblegrade.show.printable import printable

LONGEST_CELL: Final = 131_072  # characters, Python's usual limit
MOST_SAID: Final = 8  # photographs that do not exist: more make no readable line
DELIMITERS: Final = (";", "\t", ",")  # the first that stands in the heading; others may stand in texts
_BARE: Final = re.compile(r"[-+]?[\d.,]+")


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

    Columns at the right end that are empty in every line, as spreadsheets leave them, are no columns.

    Raises
    ------
    InputError
        The text is no CSV, or a cell has more than `longest` characters; the line is named.
    """
    table = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter_of(text), strict=True)
    usual = csv.field_size_limit(longest)
    try:
        lines = [(table.line_num, cells) for cells in table if any(cell.strip() for cell in cells)]
    except csv.Error as error:
        raise InputError(f"{name} line {table.line_num} is no CSV ({error}): save the sheet as CSV again") from error
    finally:
        csv.field_size_limit(usual)
    wide = max((at for _, cells in lines for at, cell in enumerate(cells, 1) if cell.strip()), default=0)
    return [(number, cells[:wide]) for number, cells in lines]


def delimiter_of(text: str) -> str:
    """Return what parts the columns of a table."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return next((sign for sign in DELIMITERS if sign in first), ",")


def stripped_lines(path: Path, name: str) -> list[tuple[int, list[str]]]:
    """Return the lines of a table that hold anything, each with its number, its cells without blanks around them.

    What our own tables guard against spreadsheets is read as it was meant.

    Raises
    ------
    InputError
        It cannot be opened, is not UTF-8, or is no CSV.
    """
    lines = csv_lines(csv_text(path, name), name)
    return [(number, [unguarded(cell.strip()) for cell in cells]) for number, cells in lines]


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


def with_unit(cell: str, unit: str) -> str:
    """Return a cell as one would write it alone: a bare number with the unit that its column states.

    >>> with_unit("40", "psi"), with_unit("3 bar", "psi"), with_unit("40", "")
    ('40 psi', '3 bar', '40')
    """
    return f"{cell} {unit}" if unit and _BARE.fullmatch(cell) else cell


@dataclass
class Photographs:
    """The photographs that a sheet names; those that do not exist are refused together."""

    folder: Path  # of the sheet, from which places count
    missing: list[tuple[str, int]] = field(default_factory=list)  # as written, with its line

    def named(self, text: str, number: int) -> Path:
        """Return the place of a photograph that line `number` names, as any system writes places.

        Raises
        ------
        InputError
            The cell is empty, or names a folder.
        """
        if not text:
            raise InputError("photo is empty: name the photograph")
        usual = self.folder / text.replace("\\", "/")
        found = next((path for path in (self.folder / text, usual) if os.path.lexists(path)), None)
        if found is None:
            self.missing.append((text, number))
            return usual
        if found.is_dir():
            raise InputError(f"{printable(text)} is a folder: name one photograph in each row")
        return found

    def check(self, name: str) -> None:
        """Refuse a sheet, `name` for messages, that names photographs which do not exist.

        Raises
        ------
        InputError
            It names some; up to MOST_SAID of them are said, each with its line.
        """
        if len(self.missing) == 1:
            ((text, number),) = self.missing
            raise InputError(
                f"{name} line {number}: {printable(text)} does not exist: check the name, which counts from the "
                "sheet's folder"
            )
        if self.missing:
            said = ", ".join(f"{printable(text)} (line {number})" for text, number in self.missing[:MOST_SAID])
            more = len(self.missing) - MOST_SAID
            raise InputError(
                f"{name}: {len(self.missing)} rows name photographs that do not exist: {said}"
                f"{f' and {more} more' if more > 0 else ''}: check the names, which count from the sheet's folder"
            )
