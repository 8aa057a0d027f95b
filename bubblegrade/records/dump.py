"""The whole log as plain tables, out and in again: what leaves comes back the same, number for number."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

from bubblegrade.errors import InputError
from bubblegrade.records.opening import writing
from bubblegrade.records.schema import GRADED_FROM_RECORD

# Those that others name come first.
TABLES: Final = ("casting", "note", "history", "photo", "result", "record", "untied")
UNFIT: Final = (sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.InterfaceError)  # a row does not fit
FORMAT: Final = 1  # of an export; grows when a table or column goes or changes its meaning

Table = tuple[Sequence[str], Iterable[Sequence[Any]]]  # its columns, its rows


def columns_of(connection: sqlite3.Connection, table: str) -> dict[str, str]:
    """Return the columns of a table with their types."""
    rows = connection.execute("SELECT name, type FROM pragma_table_info(?)", (table,))
    return {str(name): str(kind) for name, kind in rows}


def tables_out(connection: sqlite3.Connection) -> Iterator[tuple[str, Table]]:
    """Yield each table by name, its rows in their order; all as they are at one moment."""
    connection.execute("BEGIN")
    try:
        for table in TABLES:
            rows = connection.execute(f"SELECT * FROM {table} ORDER BY 1")  # noqa: S608 - one of ours
            yield table, (list(columns_of(connection, table)), (tuple(row) for row in rows))
    finally:
        connection.execute("COMMIT")


def tables_in(connection: sqlite3.Connection, tables: Mapping[str, Table]) -> int:
    """Fill an empty log with exported tables, all or nothing, and return how many castings came.

    Raises
    ------
    InputError
        The log holds castings, a table or column is not known, or a row does not fit.
    """
    with writing(connection):
        if connection.execute("SELECT 1 FROM casting LIMIT 1").fetchone():
            raise InputError("the log holds castings already: import into a new one, named with --log")
        try:
            for table in TABLES:
                if table in tables:
                    fill(connection, table, *tables[table])
            connection.execute(GRADED_FROM_RECORD)  # of an export that an older version has written
        except (*UNFIT, TypeError, OverflowError) as error:
            raise InputError(f"the export's table {table} cannot be used ({error}): export it again") from error
    return int(connection.execute("SELECT count(*) FROM casting").fetchone()[0])


def fill(connection: sqlite3.Connection, table: str, columns: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Insert rows into a table of the log.

    Raises
    ------
    InputError
        A column is not known.
    """
    known = columns_of(connection, table)
    unknown = [column for column in columns if column not in known]
    if not columns:
        raise InputError(f"{table} has no columns: import what 'bubblegrade log export' has written")
    if unknown:
        raise InputError(f"{unknown[0]} is no column of {table}: import what 'bubblegrade log export' has written")
    names, marks = ", ".join(columns), ", ".join("?" * len(columns))
    connection.executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", rows)  # noqa: S608 - checked above
