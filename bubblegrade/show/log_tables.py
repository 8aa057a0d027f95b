"""The log on the terminal: lists of castings, and one casting in full."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.show.printable import printable
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import print_table

OWN: Final = ("id", "date")  # fields that tell castings apart
UNPARTED: Final = ("id", "date", "word")  # columns whose cells stay on one line
DAY_LETTERS: Final = 10  # of a date: what follows is the time of day
UNKNOWN: Final = "-"  # how what is not known is shown

Row = Mapping[str, Any]


def show_list(rows: Sequence[Row], names: Sequence[str], console: Console) -> None:
    """Print castings, one a line; a field that is alike in all of several is said once below them."""
    own, alike = told_apart(rows, names)
    print_table(list_table(rows, own, console), console)
    if alike:
        say(alike, console)


def told_apart(rows: Sequence[Row], names: Sequence[str]) -> tuple[list[str], str]:
    """Return the fields that tell castings apart, and a sentence of those that are alike in all of several."""
    alike = [] if len(rows) == 1 else [name for name in names if name not in OWN and _same(rows, name)]
    own = [name for name in names if name not in alike]
    same = ", ".join(f"{name} {_cell(rows[0][name])}" for name in alike)
    return own, f"All of them: {same}." if same else ""


def list_table(rows: Sequence[Row], names: Sequence[str], console: Console) -> Table:
    """Return castings with their days, one a line; fields that none of them has are left out."""
    known = [name for name in names if name in OWN or any(row[name] is not None for row in rows)]
    graded = any(row["verdict"] is not None or row["voids"] is not None for row in rows)
    table = new_table(console, [*known, *(("voids", "clarity", "word") if graded else ())])
    for row in rows:
        result = [_estimate(row, "voids", 0), _estimate(row, "clarity", 0), _judgement(row)] if graded else []
        day = {name: str(row[name])[:DAY_LETTERS] for name in ("date",) if name in known and row[name] is not None}
        add_row(table, [*(_cell({**row, **day}[name]) for name in known), *result])
    return table


def show_fields(lines: Iterable[tuple[str, str | None, str]], console: Console) -> None:
    """Print what is known of a casting, and what is not."""
    every = list(lines)
    print_table(field_table(every, console), console)
    if unknown := unknown_words(every):
        say(unknown, console)


def field_table(lines: Iterable[tuple[str, str | None, str]], console: Console) -> Table:
    """Return what is known of a casting: field, as typed, and in the log's unit."""
    table = new_table(console, ["field", "as typed", "kept as"])
    for name, typed, number in lines:
        if typed is not None:
            add_row(table, [name.replace("_", " "), typed, number])
    return table


def unknown_words(lines: Iterable[tuple[str, str | None, str]]) -> str:
    """Return which fields of a casting are not known, in a sentence; empty where all are."""
    unknown = [name for name, typed, _ in lines if typed is None]
    return f"Not known: {names_in_words(unknown)}." if unknown else ""


def show_results(rows: Sequence[Row], console: Console) -> None:
    """Print the results tied to a casting."""
    print_table(result_table(rows, console), console)


def result_table(rows: Sequence[Row], console: Console) -> Table:
    """Return the results tied to a casting."""
    table = new_table(console, ["kind", "photograph", "verdict", "voids", "clarity", "shrinkage b", "file", "SHA-256"])
    for row in rows:
        numbers = [_estimate(row, "voids", 0), _estimate(row, "clarity", 0), _estimate(row, "shrinkage", 3)]
        ends = [row["file"], row["file_sha256"][:12]]
        add_row(table, [row["kind"], _cell(row["photo"]), _judgement(row), *numbers, *ends])
    return table


def show_rows(rows: Sequence[Row], names: Sequence[str], console: Console) -> None:
    """Print rows of the log."""
    print_table(row_table(rows, names, console), console)


def row_table(rows: Sequence[Row], names: Sequence[str], console: Console) -> Table:
    """Return rows of the log, such as notes, in these columns."""
    table = new_table(console, names)
    for row in rows:
        add_row(table, [_cell(row[name]) for name in names])
    return table


def _same(rows: Sequence[Row], name: str) -> bool:
    """Say whether a field is known and alike in all rows."""
    return rows[0][name] is not None and all(row[name] == rows[0][name] for row in rows)


def names_in_words(fields: Sequence[str]) -> str:
    """Return fields one after the other, as people write them."""
    return ", ".join(field.replace("_", " ") for field in fields)


def new_table(console: Console, names: Sequence[str]) -> Table:
    """Return a table with these columns and no rows."""
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    for name in names:
        table.add_column(name.replace("_", " "), overflow="fold", no_wrap=name in UNPARTED)
    return table


def add_row(table: Table, cells: Sequence[str]) -> None:
    """Add a row of what users wrote: remarks may have several lines, and a terminal acts on nothing else in them."""
    lines = (cell.replace("\r\n", "\n").split("\n") for cell in cells)
    table.add_row(*(Text("\n".join(map(printable, each))) for each in lines))


def _cell(value: object) -> str:
    """Return a value in one line."""
    return UNKNOWN if value is None else printable(" ".join(str(value).split()))


def _judgement(row: Row) -> str:
    """Return a result's own word; an unfit photograph is said so."""
    return f"{_cell(row['verdict'])} (UNFIT)" if row["unfit"] else _cell(row["verdict"])


def _estimate(row: Row, name: str, decimals: int) -> str:
    """Return a number with its limits."""
    value, low, high = (row[f"{name}{end}"] for end in ("", "_low", "_high"))
    if value is None:
        return UNKNOWN
    if low is None or high is None:
        return f"{value:.{decimals}f}"
    return f"{value:.{decimals}f} ({low:.{decimals}f} to {high:.{decimals}f})"
