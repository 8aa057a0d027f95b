"""The log written: castings, notes, corrections, photographs and results, each entry whole or not at all."""

from __future__ import annotations

import datetime
import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from bubblegrade.errors import InputError
from bubblegrade.records.fields import BY_NAME, cells_of, field_named, storable
from bubblegrade.records.opening import WAIT_S, opened, writing
from bubblegrade.records.schema import GRADED_FROM_RECORD
from bubblegrade.records.tied import Result

Clock = Callable[[], float]  # seconds since 1970


@dataclass(frozen=True)
class Photo:
    """A photograph, known again by its bytes."""

    name: str
    sha256: str


@dataclass(frozen=True)
class Log:
    """An open log; get one from `open_log`."""

    connection: sqlite3.Connection
    clock: Clock = time.time
    by: str | None = None  # who makes the entries

    def add(self, typed: Mapping[str, str], *, photos: Sequence[Photo] = ()) -> int:
        """Enter a casting from what was typed, by field, and return its number.

        Raises
        ------
        InputError
            Nothing was typed, or a field cannot be used.
        """
        return self.add_all([(typed, photos)])[0]

    def add_all(self, castings: Sequence[tuple[Mapping[str, str], Sequence[Photo]]]) -> tuple[int, ...]:
        """Enter several castings with their photographs, all of them or none; errors are those of `add`."""
        rows = [cells_of(typed) for typed, _ in castings]
        if any(all(cell is None for cell in row.values()) for row in rows):
            raise InputError("nothing is said of the casting: give a field, such as --resin or --mould")
        with writing(self.connection):
            numbers = tuple(self._insert_casting(row) for row in rows)
            for number, (_, photos) in zip(numbers, castings, strict=True):
                self._keep_photos(number, photos)
        return numbers

    def note(self, number: int, text: str, *, cause: bool = False) -> None:
        """Note something of a casting; a `cause` says why it came out so, and is marked on charts.

        Raises
        ------
        InputError
            There is no such casting, or no text.
        """
        if not text.strip():
            raise InputError("the note is empty: write what you saw")
        with writing(self.connection):
            self._check(number)
            self._insert("note", {"casting_id": number, **self._entry(), "text": text.strip(), "cause": int(cause)})

    def correct(self, number: int, typed: Mapping[str, str], *, why: str | None = None) -> tuple[str, ...]:
        """Correct fields of a casting and return those that changed; what stood there is kept in its history.

        Raises
        ------
        InputError
            There is no such casting, or a field cannot be used.
        """
        cells = cells_of(typed)
        names = [field_named(name).name for name in typed]
        with writing(self.connection):
            self._check(number)
            old = self.connection.execute("SELECT * FROM casting WHERE id = ?", (number,)).fetchone()
            changed = tuple(name for name in names if old[name] != cells[name])
            for name in changed:
                part = {"field": name, "old": old[name], "new": cells[name], "why": why}
                self._insert("history", {"casting_id": number, **self._entry(), **part})
                self._change(number, {column: cells[column] for column in BY_NAME[name].columns})
            if "date" in changed:
                entered = datetime.datetime.fromisoformat(old["entered_at"]).timestamp()
                self._change(number, {"order_s": entered if cells["date_s"] is None else cells["date_s"]})
        return changed

    def tie(self, number: int, results: Sequence[Result]) -> int:
        """Tie results to a casting and return how many are new; one that is tied already is passed over.

        One whose file has told otherwise since, as of a casting whose corrections were taken back, is tied anew: the
        newest counts.

        Raises
        ------
        InputError
            There is no such casting.
        """
        with writing(self.connection):
            self._check(number)
            return sum(self._tie(number, result) for result in results)

    def untie(
        self, number: int, *, kind: str | None = None, photo: str | None = None, why: str | None = None
    ) -> tuple[str, ...]:
        """Take results of a kind, of a photograph or both off a casting, and return which they were, in words.

        They and their records are kept aside, and its history says so. A photograph that no other result of the casting
        is of is no longer known as its own.

        Raises
        ------
        InputError
            There is no such casting, or none of its results is like that.
        """
        with writing(self.connection):
            self._check(number)
            query = "SELECT * FROM result WHERE casting_id = ? AND ? IN (kind, '') AND ? IN (photo, '') ORDER BY id"
            rows = self.connection.execute(query, (number, kind or "", photo or "")).fetchall()
            if not rows:
                what = " ".join([kind or "result", *([f"of {photo}"] if photo else [])])
                raise InputError(f"casting {number} has no {what}: see 'bubblegrade log show {number}' for what it has")
            return tuple(self._untie(row, why) for row in rows)

    def _insert_casting(self, row: Mapping[str, object]) -> int:
        now = self.clock()
        date_s = row.get("date_s")
        entry = {"entered_at": _stamp(now), "entered_by": self.by, "order_s": now if date_s is None else date_s}
        return self._insert("casting", {**entry, **row})

    def _tie(self, number: int, result: Result) -> bool:
        """Tie one result; tell whether it is new, or its file has told otherwise since it was tied."""
        key = (number, result.kind, result.file_sha256, result.photo_sha256, result.file)
        query = (
            "SELECT 1 FROM result AS held WHERE casting_id = ? AND kind = ? AND file_sha256 = ? AND photo_sha256 IS ? "
            "AND NOT EXISTS (SELECT 1 FROM result AS later WHERE later.casting_id = held.casting_id "
            "AND later.kind = held.kind AND later.photo_sha256 IS held.photo_sha256 AND later.file = ? "
            "AND later.id > held.id)"
        )
        if self.connection.execute(query, key).fetchone():
            return False
        row = self._insert(
            "result",
            {
                "casting_id": number, **self._entry(), "kind": result.kind, "file": result.file,
                "file_sha256": result.file_sha256, "photo": result.photo, "photo_sha256": result.photo_sha256,
                "verdict": result.verdict, "unfit": None if result.unfit is None else int(result.unfit),
                **result.numbers,
            },
        )  # fmt: skip
        self._insert("record", {"result_id": row, "text": result.text})
        self.connection.execute(f"{GRADED_FROM_RECORD} AND id = ?", (row,))
        if result.photo is not None and result.photo_sha256 is not None:
            self._keep_photos(number, [Photo(result.photo, result.photo_sha256)])
        return True

    def _untie(self, row: sqlite3.Row, why: str | None) -> str:
        """Take one result off its casting; return which it was, in words."""
        words = " of ".join(filter(None, [row["kind"], row["photo"]]))
        number, entry = row["casting_id"], {"casting_id": row["casting_id"], **self._entry(), "why": why}
        record = self.connection.execute("SELECT text FROM record WHERE result_id = ?", (row["id"],)).fetchone()
        kept = {name: row[name] for name in ("kind", "file", "file_sha256", "photo", "photo_sha256")}
        text = None if record is None else record["text"]
        self._insert("untied", {**entry, "tied_at": row["at"], "tied_by": row["by"], **kept, "text": text})
        self._insert("history", {**entry, "field": "result", "old": f"{words} in {row['file']}", "new": None})
        self.connection.execute("DELETE FROM record WHERE result_id = ?", (row["id"],))
        self.connection.execute("DELETE FROM result WHERE id = ?", (row["id"],))
        self.connection.execute(
            "DELETE FROM photo WHERE casting_id = ? AND sha256 = ? "
            "AND NOT EXISTS (SELECT 1 FROM result WHERE casting_id = ? AND photo_sha256 = photo.sha256)",
            (number, row["photo_sha256"], number),
        )
        return words

    def _keep_photos(self, number: int, photos: Sequence[Photo]) -> None:
        self.connection.executemany(
            "INSERT OR IGNORE INTO photo (casting_id, sha256, name) VALUES (?, ?, ?)",
            [(number, photo.sha256, photo.name) for photo in photos],
        )

    def _entry(self) -> dict[str, object]:
        """Return when and by whom an entry is made."""
        return {"at": _stamp(self.clock()), "by": self.by}

    def _check(self, number: int) -> None:
        if not self.connection.execute("SELECT 1 FROM casting WHERE id = ?", (number,)).fetchone():
            raise InputError(f"casting {number} is not in the log: see 'bubblegrade log list' for the numbers")

    def _insert(self, table: str, row: Mapping[str, object]) -> int:
        """Insert a row and return its number; names come from the schema, never from the user."""
        names, marks = ", ".join(row), ", ".join("?" * len(row))
        values = [storable(value) if isinstance(value, str) else value for value in row.values()]
        done = self.connection.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", values)  # noqa: S608
        assert done.lastrowid is not None  # noqa: S101 - an insert has one
        return done.lastrowid

    def _change(self, number: int, cells: Mapping[str, object]) -> None:
        parts = ", ".join(f"{column} = ?" for column in cells)
        self.connection.execute(f"UPDATE casting SET {parts} WHERE id = ?", (*cells.values(), number))  # noqa: S608


@contextmanager
def open_log(
    path: Path, *, create: bool = False, clock: Clock = time.time, by: str | None = None, wait_s: float = WAIT_S
) -> Iterator[Log]:
    """Open the log at `path` and close it after; see `opening.opened` for what it refuses."""
    with opened(path, create=create, wait_s=wait_s) as connection:
        yield Log(connection, clock, by)


def _stamp(seconds: float) -> str:
    """Return a time in ISO 8601, UTC, to the second."""
    return datetime.datetime.fromtimestamp(seconds, datetime.UTC).isoformat(timespec="seconds")
