"""What can still be read of a damaged log, or of one from a newer version, taken into a new one.

The damaged file and its journal are copied first and never touched. Where the file's head is spoiled, the copy gets
that of a new log: the head says nothing of the rows, and what the tables are stands behind it. Each table is read from
its beginning up to the first damaged page, from its end down to the last, and row by row between them.
"""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.records.dump import TABLES, columns_of
from bubblegrade.records.opening import opened, writing
from bubblegrade.records.schema import GRADED_FROM_RECORD

DAMAGE: Final = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_IOERR)  # what reading it may say
UNREADABLE: Final = (sqlite3.DatabaseError, UnicodeDecodeError)  # its own words can hold spoiled names
MAGIC: Final = b"SQLite format 3\0"  # at the head of every SQLite file, of 100 bytes (its documented format)
HEAD: Final = 100
FORMAT: Final = slice(44, 48)  # in the head: the schema's format, 0 in an empty file
NEWEST_FORMAT: Final = 4
VALID_FOR: Final = slice(92, 96)  # in the head: unlike its count of changes, the size in it is not used
LEAST_ROW: Final = 8  # bytes: a file has no more rows than this allows, and numbers follow one another


@dataclass(frozen=True)
class Salvaged:
    """What was taken out of one table."""

    table: str
    rows: int
    lost: int | None  # rows that were there and could not be read; None: it cannot be told
    unknown: tuple[str, ...] = ()  # columns that this version does not know, and that were not taken


def salvage(damaged: Path, new: Path) -> tuple[Salvaged, ...]:
    """Take every row that can be read into a new log, with its number.

    Raises
    ------
    InputError
        There is nothing to read, or a file of the new name.
    """
    if not damaged.is_file():
        raise InputError(f"{damaged} is not there: name the damaged log with --log")
    if new.exists():
        raise InputError(f"{new} is there already: name a new file for what can be saved")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder, "copy.sqlite")
        _copy(damaged, copy)
        _mend_head(copy)
        source = sqlite3.connect(copy)
        try:
            source.execute("PRAGMA query_only = ON")
            source.text_factory = _readable
            known = _known_columns(source, damaged)
            with opened(new, create=True) as target:
                target.execute("PRAGMA foreign_keys = OFF")  # a row is worth keeping though its casting is lost
                with writing(target):
                    saved = tuple(_take(source, target, table, known[table]) for table in TABLES)
                    target.execute(GRADED_FROM_RECORD)  # of a log that an older version has written
                return saved
        finally:
            source.close()


def _copy(damaged: Path, copy: Path) -> None:
    """Copy a log with the entries that wait in its journal."""
    for ending in ("", "-wal"):
        file = damaged.with_name(damaged.name + ending)
        if file.is_file():
            shutil.copyfile(file, copy.with_name(copy.name + ending))


def _mend_head(copy: Path) -> None:
    """Give a copy whose head is spoiled that of a new log."""
    with copy.open("r+b") as file:
        held = file.read(HEAD)
        if held.startswith(MAGIC) and int.from_bytes(held[FORMAT]) <= NEWEST_FORMAT:
            return
        fresh = copy.with_name("fresh.sqlite")
        with opened(fresh, create=True):
            pass
        head = bytearray(fresh.read_bytes()[:HEAD])
        head[VALID_FOR] = bytes(4)
        file.seek(0)
        file.write(head)


def _known_columns(source: sqlite3.Connection, damaged: Path) -> dict[str, list[str]]:
    """Return the columns of each table, as far as the file still says."""
    try:
        known = {table: list(columns_of(source, table)) for table in TABLES}
    except UNREADABLE as error:
        _check_damage(error)
        known = {}
    if not known.get("casting"):
        raise InputError(f"{damaged} no longer says what its tables are: go back to the newest backup of it")
    return known


def _take(source: sqlite3.Connection, target: sqlite3.Connection, table: str, columns: Sequence[str]) -> Salvaged:
    """Copy the readable rows of a table, in the columns that both files have."""
    known = columns_of(target, table)
    shared = [column for column in columns if column in known]
    unknown = tuple(column for column in columns if column not in known)
    if not shared:
        return Salvaged(table, 0, 0, unknown)
    marks = ", ".join("?" * len(shared))
    insert = f"INSERT OR IGNORE INTO {table} ({', '.join(shared)}) VALUES ({marks})"  # noqa: S608 - columns are ours
    taken = 0
    for row in _rows(source, table, shared):
        try:
            taken += target.execute(insert, row).rowcount
        except sqlite3.IntegrityError:
            continue  # a row without what every row has is damage
    return Salvaged(table, taken, _lost(source, table, taken), unknown)


def _rows(source: sqlite3.Connection, table: str, columns: Sequence[str]) -> Iterator[tuple[object, ...]]:
    """Yield the readable rows, each at least once."""
    names = ", ".join(columns)
    first = last = None
    complete = False
    for way in ("ASC", "DESC"):
        try:
            for number, *row in source.execute(f"SELECT rowid, {names} FROM {table} NOT INDEXED ORDER BY rowid {way}"):  # noqa: S608
                first, last = (number, last) if way == "ASC" else (first, number)
                yield tuple(row)
            complete = way == "ASC"
        except UNREADABLE as error:
            _check_damage(error)
        if complete:
            return
    begin = 1 if first is None else first + 1
    most = begin + _most_rows(source)
    end = most if last is None else min(last, most)
    for number in range(begin, end):
        try:
            found = source.execute(f"SELECT {names} FROM {table} NOT INDEXED WHERE rowid = ?", (number,)).fetchone()  # noqa: S608
        except UNREADABLE as error:
            _check_damage(error)
            continue
        if found is not None:
            yield tuple(found)


def _most_rows(source: sqlite3.Connection) -> int:
    """Return how many rows the file has room for."""
    (file,) = source.execute("SELECT file FROM pragma_database_list WHERE name = 'main'").fetchone()
    return Path(file).stat().st_size // LEAST_ROW


def _lost(source: sqlite3.Connection, table: str, taken: int) -> int | None:
    """Return how many rows were not taken, as far as an index or the table itself still counts them."""
    try:
        (held,) = source.execute(f"SELECT count(*) FROM {table}").fetchone()  # noqa: S608 - one of ours
    except UNREADABLE as error:
        _check_damage(error)
        return None
    return max(0, int(held) - taken)


def _readable(text: bytes) -> str:
    """Return a text of which some bytes may be spoiled; those become escapes."""
    return text.decode("utf-8", errors="backslashreplace")


def _check_damage(error: sqlite3.DatabaseError | UnicodeDecodeError) -> None:
    """Raise an error that no damage makes."""
    if isinstance(error, sqlite3.DatabaseError) and error.sqlite_errorcode & 0xFF not in DAMAGE:
        raise error
