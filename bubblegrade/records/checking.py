"""Whether a log is sound: its file, its ties, and every number against the text it was read from."""

from __future__ import annotations

import math
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final

from bubblegrade.errors import BubblegradeError, OutputError
from bubblegrade.records.fields import FIELDS, Field
from bubblegrade.records.opening import plainly
from bubblegrade.records.schema import NUMBERS, schema
from bubblegrade.records.tied import numbers_in

RATIO_OFF: Final = 0.03  # of a ratio: as much as a kitchen scale leaves open in a small mix (judgement)


def faults(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield what is wrong with a log, a line each; nothing where it is sound."""
    for (line,) in connection.execute("PRAGMA integrity_check"):
        if line != "ok":
            yield f"the file: {line}"
    yield from _column_faults(connection)
    for table, row, parent, _ in connection.execute("PRAGMA foreign_key_check"):
        yield f"row {row} of {table} is tied to a row that is not in {parent}"
    for row in connection.execute("SELECT * FROM casting"):
        for field in FIELDS:
            yield from _field_faults(field, row)
    read = f"SELECT id, kind, text, {', '.join(NUMBERS)} FROM result JOIN record ON result_id = id"  # noqa: S608 - ours
    for number, kind, text, *values in connection.execute(read):
        yield from _result_faults(number, kind, text, dict(zip(NUMBERS, values, strict=True)))
    lacking = "SELECT result.id FROM result LEFT JOIN record ON result_id = result.id WHERE result_id IS NULL"
    for (number,) in connection.execute(lacking):
        yield f"result {number} has no record"


def remarks(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield what of a sound log may be a slip of the pen: parts as weighed that are not those of the ratio."""
    columns = "ratio_b_per_a", "coalesce(ratio_error_share, 0.0)", "part_a_g", "part_b_g"
    query = f"SELECT id, ratio, {', '.join(columns)} FROM casting"  # noqa: S608 - names of our own
    for number, ratio, said, error, a_g, b_g in connection.execute(query):
        if None in (said, a_g, b_g) or not a_g:
            continue
        meant = said * (1.0 + error)
        if not math.isclose(b_g / a_g, meant, rel_tol=RATIO_OFF):
            yield (
                f"casting {number}: {b_g:g} g of B to {a_g:g} g of A, where the ratio {ratio} asks for "
                f"{meant * a_g:.3g} g: check them, unless the ratio is one by volume"
            )


def back_up(connection: sqlite3.Connection, to: Path, *, replace: bool) -> None:
    """Copy the log as it is at one moment, while others may write to it; the copy is whole or not there.

    Raises
    ------
    OutputError
        There is a file already and `replace` is not set, it is the log itself, or the copy cannot be written.
    """
    (own,) = connection.execute("SELECT file FROM pragma_database_list WHERE name = 'main'").fetchone()
    if to.exists() and to.samefile(own):
        raise OutputError(f"{to} is the log itself: name another file for its copy")
    if to.exists() and not replace:
        raise OutputError(f"{to} is there already: add --replace, or name another file")
    part = to.with_name(f".{to.name}.{os.getpid()}.part")
    journal = part.with_name(f"{part.name}-journal")  # SQLite leaves it where the disk is full
    try:
        with plainly(to):
            copy = sqlite3.connect(part)
            try:
                connection.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")  # one file, complete by itself
            finally:
                copy.close()
        for ending in ("-wal", "-shm"):  # of what is replaced: its last entries would be read into the copy
            to.with_name(f"{to.name}{ending}").unlink(missing_ok=True)
        os.replace(part, to)
    except OSError as error:
        raise OutputError(f"{to} cannot be written ({error.strerror}): name another file") from error
    finally:
        for left in (part, journal):
            left.unlink(missing_ok=True)


def _field_faults(field: Field, row: sqlite3.Row) -> Iterator[str]:
    """Yield whether a field's number is not what its text says."""
    at = f"casting {row['id']}: {field.name}"
    if field.number is None:
        return
    typed, held = row[field.name], row[field.number]
    if typed is None or held is None:
        if typed is not held:
            yield f"{at} has only one of text and number"
        return
    try:
        said = field.cells(typed)[field.number]
    except BubblegradeError as error:
        yield f"{at} cannot be read again ({error})"
        return
    if not isinstance(said, float) or not math.isclose(said, held, rel_tol=1e-9):
        yield f"{at} is {typed}, and its number {held:g} {field.kind.shown}"


def _column_faults(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield which columns are not those of a log of this version, as where some bytes of the file were written over."""
    columns = (
        "SELECT tables.name || '.' || columns.name || ' ' || columns.type FROM sqlite_schema AS tables "
        "JOIN pragma_table_info(tables.name) AS columns WHERE tables.type = 'table' AND tables.name NOT LIKE 'sqlite_%'"
    )
    with closing(sqlite3.connect(":memory:")) as empty:
        for statement in schema():
            empty.execute(statement)
        meant, held = ({name for (name,) in log.execute(columns)} for log in (empty, connection))
    yield from (f"the file: it lacks the column {name}" for name in sorted(meant - held))
    yield from (f"the file: {name} is no column of a log" for name in sorted(held - meant))


def _result_faults(number: int, kind: str, text: str, held: dict[str, float | None]) -> Iterator[str]:
    """Yield whether the record of a result cannot be read, and which numbers are not those that it says."""
    try:
        said = numbers_in(kind, text)
    except (ValueError, RecursionError):
        yield f"the record of result {number} is no JSON"
        return
    except (TypeError, KeyError, AttributeError):
        yield f"the record of result {number} is none of '{kind}'"
        return
    for name, value in held.items():
        other = said.get(name)
        if value is not None and other is not None and not math.isclose(value, other, rel_tol=1e-9):
            yield f"result {number}: {name} is {value:g}, and its record says {other:g}"
