"""The log out and in again, checked, copied while in use, and saved from damage."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from bubblegrade.errors import InputError, OutputError
from bubblegrade.records.checking import back_up, faults
from bubblegrade.records.dump import TABLES, tables_in, tables_out
from bubblegrade.records.log import Log, open_log
from bubblegrade.records.salvage import salvage
from bubblegrade.records.schema import VERSION
from bubblegrade.records.tied import Result

CASTINGS = 400


def fill(log: Log, graded: Callable[..., Result]) -> None:
    """Enter some of everything."""
    log.add_all([({"resin": "Clear One", "gauge_gel": "58psi", "remarks": "x" * 200}, []) for _ in range(CASTINGS)])
    log.correct(1, {"gauge_gel": "57psi"}, why="misread")
    log.note(2, "damp", cause=True)
    log.tie(3, [graded(57)])


def everything(connection: sqlite3.Connection) -> dict[str, list[tuple[object, ...]]]:
    return {name: [tuple(row) for row in rows] for name, (_, rows) in tables_out(connection)}


def settled(place: Path) -> bytearray:
    """Return the bytes of a log with all entries in its file and none in the journal beside it."""
    connection = sqlite3.connect(place)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    return bytearray(place.read_bytes())


def test_what_leaves_comes_back_the_same(tmp_path: Path, log: Log, graded: Callable[..., Result]) -> None:
    fill(log, graded)
    with open_log(tmp_path / "new.sqlite", create=True) as new:
        assert tables_in(new.connection, dict(tables_out_held(log))) == CASTINGS
        assert everything(new.connection) == everything(log.connection)
        assert new.add({"resin": "next"}) == CASTINGS + 1
        with pytest.raises(InputError, match="holds castings already"):
            tables_in(new.connection, {})


def tables_out_held(log: Log) -> list[tuple[str, tuple[list[str], list[tuple[object, ...]]]]]:
    return [(name, (list(columns), list(rows))) for name, (columns, rows) in tables_out(log.connection)]


def test_an_export_that_does_not_fit_brings_nothing(log: Log) -> None:
    with pytest.raises(InputError, match="fish is no column of note"):
        tables_in(log.connection, {"casting": (["id", "entered_at", "order_s"], [(1, "t", 0)]), "note": (["fish"], [])})
    with pytest.raises(InputError, match="table casting cannot be used"):
        tables_in(log.connection, {"casting": (["id"], [(1,)])})
    for rows in (None, [(2**70, "t", 0)], [3], [({}, "t", 0)]):
        with pytest.raises(InputError, match="table casting cannot be used"):
            tables_in(log.connection, {"casting": (["id", "entered_at", "order_s"], rows)})  # type: ignore[dict-item]
    assert log.add({"resin": "a"}) == 1


def test_a_sound_log_has_no_faults(log: Log, graded: Callable[..., Result]) -> None:
    fill(log, graded)
    assert list(faults(log.connection)) == []


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("UPDATE casting SET gauge_gel = '60psi' WHERE id = 1", "casting 1: gauge_gel is 60psi, and its number 393"),
        ("UPDATE casting SET gauge_gel = NULL WHERE id = 1", "casting 1: gauge_gel has only one of text and number"),
        ("UPDATE casting SET gauge_gel = 'hard' WHERE id = 1", "casting 1: gauge_gel cannot be read again"),
        ("UPDATE record SET text = '{'", "the record of result 1 is no JSON"),
        ('UPDATE record SET text = \'{"castings": [{"counts": 3}]}\'', "the record of result 1 is none of 'grade'"),
        (
            """UPDATE record SET text = '{"casting": {"counts": {"voids": {"value": 570}}}}'""",
            "result 1: voids is 57, and its record says 570",
        ),
        ("DELETE FROM record", "result 1 has no record"),
        ("ALTER TABLE note ADD COLUMN colour TEXT", "the file: note.colour TEXT is no column of a log"),
        ("ALTER TABLE history DROP COLUMN why", "the file: it lacks the column history.why TEXT"),
        ("PRAGMA foreign_keys = OFF; DELETE FROM casting WHERE id = 2", "row 1 of note is tied to a row that is not"),
    ],
)
def test_what_was_changed_behind_its_back_is_found(
    log: Log, graded: Callable[..., Result], change: str, said: str
) -> None:
    fill(log, graded)
    log.connection.executescript(change)
    (line,) = faults(log.connection)
    assert line.startswith(said)


def test_a_copy_made_while_another_writes_is_whole(tmp_path: Path, place: Path, log: Log) -> None:
    log.add({"resin": "in it"})
    with open_log(place) as other:
        other.connection.execute("BEGIN IMMEDIATE")
        other.connection.execute("UPDATE casting SET resin = 'not yet'")
        back_up(log.connection, tmp_path / "copy.sqlite", replace=False)
        other.connection.execute("ROLLBACK")
    with open_log(tmp_path / "copy.sqlite") as copy:
        assert everything(copy.connection) == everything(log.connection)
        assert list(faults(copy.connection)) == []
    with pytest.raises(OutputError, match="is there already: add --replace"):
        back_up(log.connection, tmp_path / "copy.sqlite", replace=False)
    with pytest.raises(InputError, match=r"copy\.sqlite cannot be opened: check the name"):
        back_up(log.connection, tmp_path / "none" / "copy.sqlite", replace=False)


def test_a_copy_in_place_of_another_takes_none_of_its_last_entries(tmp_path: Path, log: Log) -> None:
    """A process that was killed leaves its last entries in the journal beside its file."""
    log.add({"resin": "in it"})
    copy = tmp_path / "copy.sqlite"
    with open_log(tmp_path / "other.sqlite", create=True) as other:
        for _ in range(50):
            other.add({"resin": "not in it", "remarks": "x" * 300})
        for ending in ("", "-wal"):
            shutil.copyfile(f"{tmp_path / 'other.sqlite'}{ending}", f"{copy}{ending}")
    back_up(log.connection, copy, replace=True)
    with open_log(copy) as copied:
        assert everything(copied.connection) == everything(log.connection)
        assert list(faults(copied.connection)) == []


def test_a_log_is_not_copied_onto_itself(place: Path, log: Log) -> None:
    with pytest.raises(OutputError, match=r"castings\.sqlite is the log itself: name another file"):
        back_up(log.connection, place, replace=True)


def test_of_a_damaged_log_all_rows_but_those_of_the_damaged_pages_are_saved(
    tmp_path: Path, place: Path, graded: Callable[..., Result]
) -> None:
    with open_log(place, create=True) as log:
        fill(log, graded)
        rows = everything(log.connection)
    data = settled(place)
    page = int.from_bytes(data[16:18], "big")
    spoiled = [
        start
        for start in range(page, len(data), page)
        if data[start] == 13 and data.count(b"x" * 200, start, start + page) > 3
    ]
    for start in spoiled[2:4]:  # two pages of the table of castings
        data[start : start + page] = b"\xff" * page
    place.write_bytes(data)
    with (
        pytest.raises(InputError, match="is damaged: take the rows that can be read into a new log"),
        open_log(place) as log,
    ):
        log.connection.execute("SELECT sum(length(remarks)) FROM casting").fetchall()
    saved = {each.table: each for each in salvage(place, tmp_path / "saved.sqlite")}
    assert place.read_bytes() == data
    with open_log(tmp_path / "saved.sqlite") as new:
        kept = everything(new.connection)
    assert set(kept["casting"]) < set(rows["casting"])
    assert {table: kept[table] for table in TABLES[1:]} == {table: rows[table] for table in TABLES[1:]}
    assert saved["casting"].rows == len(kept["casting"]) > CASTINGS - 40
    assert saved["casting"].lost in (None, CASTINGS - len(kept["casting"]))
    assert (saved["note"].rows, saved["note"].lost) == (1, 0)


def test_a_log_with_a_spoiled_head_loses_nothing(tmp_path: Path, place: Path, graded: Callable[..., Result]) -> None:
    with open_log(place, create=True) as log:
        fill(log, graded)
        rows = everything(log.connection)
    data = settled(place)
    data[:100] = bytes(100)
    place.write_bytes(data)
    with pytest.raises(InputError, match=r"is no casting log, or its head is damaged: .* log rescue"):
        open_log(place).__enter__()
    saved = salvage(place, tmp_path / "saved.sqlite")
    assert [each.lost for each in saved] == [0] * len(TABLES)
    with open_log(tmp_path / "saved.sqlite") as new:
        assert everything(new.connection) == rows


def test_entries_that_wait_in_the_journal_are_saved_too(tmp_path: Path, place: Path, log: Log) -> None:
    log.add({"resin": "in the journal"})
    assert place.with_name(f"{place.name}-wal").stat().st_size > 0
    saved = salvage(place, tmp_path / "saved.sqlite")
    assert [(each.rows, each.lost) for each in saved] == [(1, 0), *[(0, 0)] * 6]


def test_a_log_of_a_newer_version_gives_what_this_one_knows(tmp_path: Path, place: Path, log: Log) -> None:
    log.add({"resin": "Clear One"})
    log.connection.execute("ALTER TABLE casting ADD COLUMN moon TEXT")
    log.connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    casting, *others = salvage(place, tmp_path / "saved.sqlite")
    assert (casting.rows, casting.lost, casting.unknown) == (1, 0, ("moon",))
    assert not any(each.unknown for each in others)
    with open_log(tmp_path / "saved.sqlite") as new:
        assert [row["resin"] for row in new.connection.execute("SELECT resin FROM casting")] == ["Clear One"]


def test_a_text_with_spoiled_bytes_is_said_and_saved_with_escapes(tmp_path: Path, place: Path, log: Log) -> None:
    log.add({"remarks": "clear"})
    log.connection.execute("UPDATE casting SET remarks = CAST(x'41ff42' AS TEXT)")
    with pytest.raises(InputError, match="is damaged"), open_log(place) as second:
        list(faults(second.connection))
    salvage(place, tmp_path / "saved.sqlite")
    with open_log(tmp_path / "saved.sqlite") as new:
        assert [row["remarks"] for row in new.connection.execute("SELECT remarks FROM casting")] == ["A\\xffB"]


def test_what_holds_nothing_to_save_is_said(tmp_path: Path, place: Path) -> None:
    with pytest.raises(InputError, match="is not there: name the damaged log"):
        salvage(place, tmp_path / "saved.sqlite")
    place.write_bytes(b"\xff" * 8192)
    with pytest.raises(InputError, match="no longer says what its tables are: go back to the newest backup"):
        salvage(place, tmp_path / "saved.sqlite")
    assert not (tmp_path / "saved.sqlite").exists()
    with pytest.raises(InputError, match="is there already: name a new file"):
        salvage(place, place)
