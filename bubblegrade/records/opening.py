"""The log's file opened: made, brought up to this version, and every fault of SQLite said plainly in one line."""

from __future__ import annotations

import os
import shlex
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from bubblegrade.errors import BubblegradeError, InputError, OutputError
from bubblegrade.records.fields import every_column
from bubblegrade.records.quantities import own_clock_s
from bubblegrade.records.schema import APPLICATION, VERSION, schema
from bubblegrade.records.steps import STEPS

WAIT_S: Final = 10.0  # for another process that is writing; one entry takes milliseconds
# Words for damage that come without a code of it: Python's, SQLite's on a head that says no format it knows, and on
# tables that are not those this version has made or brought up.
DAMAGE_WORDS: Final = (
    "Could not decode to UTF-8", "unsupported file format", "foreign key mismatch", "no such table", "no such column",
)  # fmt: skip
RESCUE: Final = "bubblegrade log rescue NEW --log {}"  # of the damaged file

# By SQLite's primary result code: the fault, and the cure.
_UNREADABLE: Final = {
    sqlite3.SQLITE_CORRUPT: ("is damaged", f"take the rows that can be read into a new log: {RESCUE}"),
    sqlite3.SQLITE_NOTADB: ("is no casting log, or its head is damaged", f"name another file, or try: {RESCUE}"),
    sqlite3.SQLITE_CANTOPEN: ("cannot be opened", "check the name and your rights to its folder"),
    sqlite3.SQLITE_PERM: ("cannot be opened", "check your rights to it"),
}
_UNWRITABLE: Final = {
    sqlite3.SQLITE_READONLY: ("can only be read", "get the right to write to it and its folder, or name a copy"),
    sqlite3.SQLITE_BUSY: ("is being written by another program", "try again when that is done"),
    sqlite3.SQLITE_LOCKED: ("is being written by another program", "try again when that is done"),
    sqlite3.SQLITE_FULL: ("has no room left on its disk", "free some space; nothing of what was there is lost"),
    sqlite3.SQLITE_IOERR: ("cannot be read or written as it should", "check the disk and its space, then try again"),
}


@contextmanager
def opened(path: Path, *, create: bool = False, wait_s: float = WAIT_S) -> Iterator[sqlite3.Connection]:
    """Open the log at `path`, made with its folder where there is none and `create` is set, and close it after.

    An older log is brought up to this version first, all of it or nothing. A file that can only be read is read.
    Within the block, what a user can mend becomes an error of ours.

    Raises
    ------
    InputError
        There is no log, it is damaged, of a newer version, or another file.
    OutputError
        It cannot be written, or is locked for longer than `wait_s` seconds.
    """
    if not create and not path.exists():
        raise InputError(f"{path} is not there: begin the log with 'bubblegrade log add', or name its file with --log")
    with plainly(path):
        if create:
            _make_folder(path)
        connection = _connected(path, wait_s)
        try:
            _bring_up(connection, path)
            _check_columns(connection, path)
            yield connection
        finally:
            connection.close()


@contextmanager
def plainly(path: Path) -> Iterator[None]:
    """Turn what SQLite says of the file at `path` into one line for the user; its other errors are ours and pass."""
    try:
        yield
    except (sqlite3.Error, UnicodeDecodeError) as error:  # SQLite's own words can hold spoiled names
        said = _said(error, path)
        if said is None:
            raise
        raise said from error


@contextmanager
def writing(connection: sqlite3.Connection) -> Iterator[None]:
    """Write all that the block writes, or nothing."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def _said(error: sqlite3.Error | UnicodeDecodeError, path: Path) -> BubblegradeError | None:
    """Return what a user should be told; None where it is no matter of theirs."""
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if any(words in str(error) for words in DAMAGE_WORDS) or isinstance(error, UnicodeDecodeError):
        code = sqlite3.SQLITE_CORRUPT
    if code in _UNREADABLE:
        fault, cure = _UNREADABLE[code]
        return InputError(f"{path} {fault}: {cure.format(_in_shell(path))}")
    if code in _UNWRITABLE:
        fault, cure = _UNWRITABLE[code]
        return OutputError(f"{path} {fault}: {cure}")
    return None


def _in_shell(path: Path) -> str:
    """Return a path as it is typed in a command."""
    return subprocess.list2cmdline([str(path)]) if os.name == "nt" else shlex.quote(str(path))


def _make_folder(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"{path.parent} cannot be made ({error.strerror}): name a file in another folder with --log"
        ) from error


def _connected(path: Path, wait_s: float) -> sqlite3.Connection:
    """Return a connection; to a file that cannot be written with its journal, one that reads."""
    place = path.absolute().as_uri()
    try:
        connection = sqlite3.connect(f"{place}?mode=rwc", uri=True, timeout=wait_s, isolation_level=None)
        connection.execute("PRAGMA schema_version")
        _settle(connection)
    except sqlite3.Error as error:
        code = (error.sqlite_errorcode or 0) & 0xFF
        if code not in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN) or _has_journal(path) or not path.is_file():
            raise
        connection = sqlite3.connect(f"{place}?mode=ro&immutable=1", uri=True, isolation_level=None)
    connection.row_factory = sqlite3.Row
    connection.create_function("own_clock_s", 2, own_clock_s, deterministic=True)
    return connection


def _settle(connection: sqlite3.Connection) -> None:
    """Set what keeps committed entries through a crash, and readers and a writer out of each other's way."""
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA foreign_keys = ON")
    if connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal":
        return
    try:
        connection.execute("PRAGMA journal_mode = WAL")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
            raise  # busy: another process makes the log, and sets it


def _has_journal(path: Path) -> bool:
    """Tell whether entries wait beside the file, which reading the file alone would miss."""
    journal = path.with_name(f"{path.name}-wal")
    return journal.exists() and os.path.getsize(journal) > 0


def _bring_up(connection: sqlite3.Connection, path: Path) -> None:
    """Make an empty file a log, and an older log one of this version."""
    if _version(connection, path) == VERSION:
        return
    with writing(connection):
        version = _version(connection, path)  # another process may have been first
        if version == 0:
            steps = [*schema(), f"PRAGMA application_id = {APPLICATION}"]
        else:
            steps = [step for number in range(version, VERSION) for step in STEPS[number]]
        for step in steps:
            connection.execute(step)
        connection.execute(f"PRAGMA user_version = {VERSION}")


def _check_columns(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a log that another program has taken a column from."""
    held = {row["name"] for row in connection.execute("SELECT name FROM pragma_table_info('casting')")}
    lacking = [column for column in every_column() if column not in held]
    if lacking:
        cure = f"take what is left into a new log: {RESCUE.format(_in_shell(path))}"
        raise InputError(f"{path} has lost its column {lacking[0]}: {cure}")


def _version(connection: sqlite3.Connection, path: Path) -> int:
    """Return the version of the log, 0 for an empty file."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if not tables and not version:
        return 0
    if application != APPLICATION:
        raise InputError(f"{path} is a database of something else: name the log's own file with --log")
    if version > VERSION:
        raise InputError(
            f"{path} was written by a newer bubblegrade (log version {version}, this one knows {VERSION}): "
            f"install that, or take what this one knows into a new log: {RESCUE.format(_in_shell(path))}"
        )
    return int(version)
