"""The sheet of a trial: a CSV table with one row a cup, as spreadsheets write it.

A unit may stand in the heading, as in `pressure (psi)`, for cells that are bare numbers.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from bubblegrade.errors import InputError
from bubblegrade.pressure.atmosphere import Atmosphere, atmosphere, gauge
from bubblegrade.pressure.gas import kelvin
from bubblegrade.pressure.poured import Stated
from bubblegrade.runs.csv_lines import Photographs, check_width, stripped_lines, with_unit
from bubblegrade.runs.poured import Named, Names
from bubblegrade.settings import nearest
from bubblegrade.show.printable import printable
from bubblegrade.units import altitude_m, barometer, celsius, duration_s, pressure

NEEDED: Final = ("photo", "pressure")
TEXTS: Final = ("mix", "recipe", "resin", "cup")
TIMES: Final = ("gel_time", "pressurised_after", "released_after")
COLUMNS: Final = (*NEEDED, "altitude", "barometer", "temperature_close", "temperature_gel", *TEXTS, *TIMES)

_WITH_UNIT: Final = re.compile(r"(.*?)\s*[(\[]\s*([^()\[\]]*?)\s*[)\]]\s*")

Heading = Sequence[tuple[str, str]]  # name and unit of each column, the unit empty where none is told
Row = Mapping[str, str]


def read_sheet(path: Path, air: Atmosphere) -> tuple[Named, ...]:
    """Return the cups of a sheet; `air` is that of rows which say nothing of theirs. Paths count from the sheet.

    Raises
    ------
    InputError
        The sheet cannot be read, or a row of it cannot be used; the line is named.
    """
    name = printable(str(path))
    lines = stripped_lines(path, name)
    heading = _heading(lines, name)
    names, photographs, cups = Names(), Photographs(path.parent), []
    for number, cells in lines[1:]:
        at = f"line {number}"
        row = _row(heading, cells, f"{name} {at}")
        try:
            cups.append(Named(photographs.named(row["photo"], number), _stated(row, air, names), at))
        except InputError as error:
            raise type(error)(f"{name} {at}: {error}") from error
    photographs.check(name)
    if not cups:
        raise InputError(f"{name} has no row below its heading: add a row for each cup")
    return tuple(cups)


def _heading(lines: Sequence[tuple[int, list[str]]], name: str) -> Heading:
    """Return name and unit of each column, checked."""
    if not lines:
        raise InputError(f"{name} is empty: write a heading such as photo,pressure,mix and a row for each cup")
    number, cells = lines[0]
    parts = [found.groups() if (found := _WITH_UNIT.fullmatch(cell)) else (cell, "") for cell in cells]
    names = ["_".join(cell.lower().replace("-", " ").replace("_", " ").split()) for cell, _ in parts]
    for written, column in zip(cells, names, strict=True):
        if column not in COLUMNS:
            raise InputError(
                f"{name} line {number}: {printable(written) or 'a column without a name'} is not known of a cup: "
                f"{nearest(column, list(COLUMNS))}"
            )
        if names.count(column) > 1:
            raise InputError(f"{name} line {number}: {column} stands there twice: keep one of the columns")
    for column in NEEDED:
        if column not in names:
            raise InputError(f"{name} line {number} has no column {column}: add it, each cup needs one")
    return [(column, unit) for column, (_, unit) in zip(names, parts, strict=True)]


def _row(heading: Heading, cells: Sequence[str], at: str) -> Row:
    """Return a row by its columns; those that it does not reach, or that the sheet lacks, are empty."""
    check_width(cells, heading, at)
    row = dict.fromkeys(COLUMNS, "")
    for (column, unit), cell in zip(heading, cells, strict=False):
        row[column] = with_unit(cell, unit)
    return row


def _stated(row: Row, air: Atmosphere, names: Names) -> Stated:
    """Return what a row says of its cup."""
    local = _air(row, air)
    said = pressure(row["pressure"])
    closed, gelled = (
        _read(row, column, lambda text, what: kelvin(celsius(text, what=what), what=what))
        for column in ("temperature_close", "temperature_gel")
    )
    if (closed is None) != (gelled is None):
        given, missing = ("close", "gel") if gelled is None else ("gel", "close")
        raise InputError(f"temperature_{given} says nothing without temperature_{missing}: give both or neither")
    gel, full, let_off = (_read(row, column, lambda text, what: duration_s(text, what=what)) for column in TIMES)
    if full is not None and let_off is not None and let_off < full:
        raise InputError(
            f"released_after {row['released_after']} is before pressurised_after {row['pressurised_after']}: "
            "both count from the end of mixing, check them"
        )
    return Stated(
        setting=names.of(row["pressure"], said, local),
        gauge=gauge(said, local.kpa),
        air=local,
        closed_k=closed,
        gelled_k=gelled,
        gel_s=gel,
        full_pressure_s=full,
        let_off_s=let_off,
        **{column: row[column] for column in TEXTS},
    )


def _air(row: Row, air: Atmosphere) -> Atmosphere:
    """Return the air around the pot of a row."""
    height = _read(row, "altitude", lambda text, what: altitude_m(text, what=what))
    read = _read(row, "barometer", lambda text, what: barometer(text, what=what))
    return air if height is None and read is None else atmosphere(altitude_m=height, barometer=read)


def _read(row: Row, column: str, read: Callable[[str, str], Any]) -> Any:
    """Return a cell as `read` takes it; None where it is empty."""
    return read(row[column], column) if row[column] else None
