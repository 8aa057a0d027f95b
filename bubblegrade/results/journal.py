"""The journal of a run that goes on: one JSON line a finished photograph, so that a run that is killed can go on.

The first line says what was asked for. Every other one holds a photograph's entry, where its marked picture goes and
the hash of that picture, and is on the disk before the picture is: a picture without its line cannot be, and one that
is not the line's is not taken over. The journal is removed when the tables are written.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from bubblegrade.results.whole import unwritable, write_whole

if TYPE_CHECKING:
    from bubblegrade.results.entry import Entry

JOURNAL_FILE: Final = "run.journal"


@dataclass(frozen=True, eq=False)
class Line:
    """A finished photograph."""

    entry: Entry
    sha256: str  # of the photograph
    marked: str  # where its marked picture goes, below the result folder
    marked_sha256: str
    end: int  # bytes of the journal up to and with this line


@dataclass(frozen=True, eq=False)
class Journalled:
    """What a journal holds, as far as its lines are whole."""

    path: Path
    asked: dict[str, Any]
    begin: int  # bytes of its first line

    def lines(self) -> Iterator[Line]:
        """Yield the finished photographs, each read from the disk when it is asked for."""
        end = self.begin
        with suppress(OSError), self.path.open("rb") as file:
            file.seek(self.begin)
            for text in file:
                end += len(text)
                line = _read(text, end)
                if line is None:
                    return
                yield line


@dataclass(frozen=True)
class Journal:
    """A journal that is being written."""

    path: Path

    @classmethod
    def begin(cls, folder: Path, asked: dict[str, Any]) -> Journal:
        """Return the journal in `folder`: the one that stands there, without a half-written last line, or a new one.

        Raises
        ------
        OutputError
            It cannot be written.
        """
        journal, stands = cls(folder / JOURNAL_FILE), read_journal(folder)
        try:
            if stands is None:
                write_whole(journal.path, _line({"asked": asked}))
            else:
                os.truncate(journal.path, max((line.end for line in stands.lines()), default=stands.begin))
        except OSError as error:
            raise unwritable(journal.path, error) from error
        return journal

    def enter(self, entry: Entry, marked: str, picture: bytes) -> None:
        """Add a finished photograph and flush it to the disk.

        Raises
        ------
        OutputError
            It cannot be written.
        """
        line = {
            "marked": marked,
            "marked_sha256": hashlib.sha256(picture).hexdigest(),
            "row": entry.row,
            "record": entry.record,
        }
        try:
            with self.path.open("ab") as file:
                file.write(_line(line))
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise unwritable(self.path, error) from error

    def end(self) -> None:
        """Remove the journal: the tables hold all that it held."""
        self.path.unlink(missing_ok=True)


def read_journal(folder: Path) -> Journalled | None:
    """Return what the journal in `folder` holds; None where there is none that begins as one does."""
    path = folder / JOURNAL_FILE
    try:
        with path.open("rb") as file:
            first = file.readline()
        return Journalled(path, json.loads(first)["asked"], len(first))
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        return None


def _read(text: bytes, end: int) -> Line | None:
    """Return the line that ends there; None where it is not whole."""
    from bubblegrade.results.entry import Entry  # noqa: PLC0415  it imports all that grades; a chart's folder does not

    try:
        held = json.loads(text) if text.endswith(b"\n") else {}
        entry = Entry(held["record"], held["row"])
        return Line(entry, entry.record["sha256"], held["marked"], held["marked_sha256"], end)
    except (ValueError, LookupError, TypeError, RecursionError):
        return None


def _line(content: dict[str, Any]) -> bytes:
    return json.dumps(content, allow_nan=False, separators=(",", ":")).encode("ascii") + b"\n"
