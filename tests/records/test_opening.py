"""The file: older ones are brought up, and what cannot be used is said in one line with its cure."""

from __future__ import annotations

import hashlib
import os
import shlex
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from bubblegrade.errors import InputError, OutputError
from bubblegrade.records.log import Log, open_log
from bubblegrade.records.place import log_place
from bubblegrade.records.reading import whole
from bubblegrade.records.salvage import salvage
from bubblegrade.records.schema import APPLICATION, GRADED, VERSION
from bubblegrade.records.steps import STEPS

VERSION_1 = Path(__file__).with_name("version_1.sql")  # as the first logs had it; never changed
RELEASED = {  # the hash of each step, its spaces aside; a new step adds a line
    1: "c556567ca51b533d5ffcb22c0fad08e9c78e1569bb7d966d17c6686b1b794001",
    2: "61c6cfe870f9c13bcef286a92e816399cb41043b49b4f248f94f840ab985773b",
    3: "b63faa5c08304e4b200b26a957924f576bf355eb8d78322fceda6a30e4f0c8fe",
}
ADD_TWENTY = """
import sys
from pathlib import Path
from bubblegrade.records.log import open_log
for turn in range(20):
    with open_log(Path(sys.argv[1]), create=True) as log:
        log.add({"batch": f"{sys.argv[2]}-{turn}"})
"""


def first_version(place: Path) -> None:
    """Write a log as the first version did."""
    connection = sqlite3.connect(place)
    connection.executescript(VERSION_1.read_text("utf-8"))
    connection.execute(
        "INSERT INTO casting (id, entered_at, order_s, resin) VALUES (5, '2026-01-01', 1.0, 'Clear One')"
    )
    connection.execute("INSERT INTO note (casting_id, at, text) VALUES (5, '2026-01-02', 'cloudy')")
    connection.execute(
        "INSERT INTO result (id, casting_id, at, kind, file, file_sha256) VALUES (1, 5, '', 'grade', 'f', 's')"
    )
    connection.execute(
        "INSERT INTO result (id, casting_id, at, kind, file, file_sha256) VALUES (2, 5, '', 'hold', 'f', 's')"
    )
    record = (
        '{"version": "0.1.0", "request": {"width_mm": 44.0, "whole": true}, "settings": {"index": 1.56, "accept": 0.5}}'
    )
    connection.execute("INSERT INTO record (result_id, text) VALUES (1, ?), (2, x'7b')", (record,))
    connection.commit()
    connection.close()


def shape(connection: sqlite3.Connection) -> set[tuple[object, ...]]:
    """Return tables, columns and indexes, whatever their order."""
    tables = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    columns = {
        (table, *tuple(row)[1:]) for table in tables for row in connection.execute(f"PRAGMA table_info({table})")
    }
    indexes = connection.execute("SELECT sql FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL")
    return columns | {(" ".join(sql.split()),) for (sql,) in indexes}


def test_a_log_of_the_first_version_is_brought_up_to_what_a_new_one_is(tmp_path: Path) -> None:
    first_version(tmp_path / "old.sqlite")
    with open_log(tmp_path / "old.sqlite") as old, open_log(tmp_path / "new.sqlite", create=True) as new:
        assert shape(old.connection) == shape(new.connection)
        assert old.connection.execute("PRAGMA user_version").fetchone()[0] == VERSION
        found = whole(old.connection, 5)
        assert (found.casting["resin"], found.casting["pot"]) == ("Clear One", None)
        assert (found.notes[0]["text"], found.notes[0]["cause"]) == ("cloudy", 0)
        how = [tuple(row[name] for name in GRADED) for row in found.results]
        assert how == [("0.1.0", 1.56, 0.5, 1, "width"), (None,) * 5]


def test_a_step_that_brings_a_log_up_never_changes() -> None:
    text = {version: "\n".join(" ".join(each.split()) for each in steps) for version, steps in STEPS.items()}
    assert {version: hashlib.sha256(each.encode()).hexdigest() for version, each in text.items()} == RELEASED
    assert list(STEPS) == list(range(1, VERSION))


def test_a_log_of_the_first_version_that_is_rescued_tells_how_its_castings_were_graded(tmp_path: Path) -> None:
    first_version(tmp_path / "old.sqlite")
    salvage(tmp_path / "old.sqlite", tmp_path / "new.sqlite")
    with open_log(tmp_path / "new.sqlite") as saved:
        assert [row["resin_index"] for row in whole(saved.connection, 5).results] == [1.56, None]


def test_a_step_that_fails_leaves_the_older_log_as_it_was(tmp_path: Path) -> None:
    place = tmp_path / "old.sqlite"
    first_version(place)
    connection = sqlite3.connect(place)
    connection.execute("CREATE INDEX photo_by_hash ON photo (name)")  # stands in the way of a step
    connection.commit()
    with pytest.raises(sqlite3.OperationalError, match="already exists"), open_log(place):
        pass
    assert connection.execute("PRAGMA user_version").fetchone()[0] == 1
    assert "pot" not in {row[1] for row in connection.execute("PRAGMA table_info(casting)")}
    connection.close()


def test_a_log_of_a_newer_version_is_refused_with_how_to_get_the_rest_out(place: Path, log: Log) -> None:
    log.connection.execute(f"PRAGMA user_version = {VERSION + 1}")
    with pytest.raises(
        InputError, match=r"newer .*\(log version 5, this one knows 4\).*log rescue NEW --log .*castings"
    ):
        open_log(place).__enter__()


def test_another_database_and_another_file_are_no_log(tmp_path: Path) -> None:
    other = sqlite3.connect(tmp_path / "other.sqlite")
    other.execute("CREATE TABLE fish (length)")
    other.commit()
    other.close()
    with pytest.raises(InputError, match="is a database of something else"):
        open_log(tmp_path / "other.sqlite").__enter__()
    (tmp_path / "words.sqlite").write_text("not a database at all, only words " * 100, "utf-8")
    with pytest.raises(InputError, match="is no casting log, or its head is damaged"):
        open_log(tmp_path / "words.sqlite").__enter__()
    with pytest.raises(InputError, match=r"none\.sqlite is not there: begin the log"):
        open_log(tmp_path / "none.sqlite").__enter__()
    with pytest.raises(OutputError, match="cannot be made"):
        open_log(tmp_path / "words.sqlite" / "below" / "log.sqlite", create=True).__enter__()


@pytest.mark.skipif(os.name == "nt", reason="other words are quoted otherwise there")
@pytest.mark.parametrize("name", ["my log.sqlite", "it's $HOME & co.sqlite", "plain.sqlite"])
def test_a_command_that_is_told_can_be_typed_as_it_stands(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("not a database at all, only words " * 100, "utf-8")
    with pytest.raises(InputError, match="is no casting log") as told:
        open_log(tmp_path / name).__enter__()
    command = str(told.value).split("or try: ")[1]
    assert shlex.split(command) == ["bubblegrade", "log", "rescue", "NEW", "--log", str(tmp_path / name)]


def test_a_log_that_another_program_writes_is_waited_for_and_then_said(place: Path, log: Log) -> None:
    log.connection.execute("BEGIN IMMEDIATE")
    with pytest.raises(OutputError, match="is being written by another program"), open_log(place, wait_s=0.0) as second:
        second.add({"resin": "a"})
    log.connection.execute("ROLLBACK")
    with open_log(place, wait_s=0.0) as second:
        assert second.add({"resin": "a"}) == 1


def test_a_log_without_one_of_its_columns_is_said(place: Path, log: Log) -> None:
    log.connection.execute("ALTER TABLE casting DROP COLUMN remarks")
    with pytest.raises(InputError, match="has lost its column remarks: take what is left into a new log"):
        open_log(place).__enter__()


def test_readers_are_not_in_the_way_of_a_writer(place: Path, log: Log) -> None:
    log.add({"resin": "a"})
    log.connection.execute("BEGIN IMMEDIATE")
    with open_log(place, wait_s=0.0) as second:
        assert whole(second.connection, 1).casting["resin"] == "a"
    log.connection.execute("ROLLBACK")


def test_a_full_disk_is_said_and_what_was_there_stays(place: Path) -> None:
    with open_log(place, create=True) as log:
        log.add({"resin": "kept"})
        (pages,) = log.connection.execute("PRAGMA page_count").fetchone()
    with pytest.raises(OutputError, match="has no room left on its disk: free some space"), open_log(place) as log:  # noqa: PT012
        log.connection.execute(f"PRAGMA max_page_count = {pages}")
        log.add({"remarks": "x" * 100_000})
    with open_log(place) as log:
        assert [row["resin"] for row in log.connection.execute("SELECT resin FROM casting")] == ["kept"]


def test_a_log_that_can_only_be_read_is_said_when_it_should_be_written(place: Path) -> None:
    with pytest.raises(OutputError, match="can only be read"), open_log(place, create=True) as log:  # noqa: PT012
        log.connection.execute("PRAGMA query_only = ON")
        log.add({"resin": "a"})


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="the superuser may write everywhere")
def test_a_log_in_a_folder_that_can_only_be_read_is_read(place: Path) -> None:
    with open_log(place, create=True) as log:
        log.add({"resin": "a"})
    place.chmod(0o444)
    place.parent.chmod(0o555)
    try:
        with open_log(place) as log:
            assert whole(log.connection, 1).casting["resin"] == "a"
    finally:
        place.parent.chmod(0o755)


def test_several_processes_begin_and_write_one_log_and_nothing_is_lost(place: Path) -> None:
    command = [sys.executable, "-c", ADD_TWENTY, str(place)]
    writers = [subprocess.Popen([*command, str(writer)]) for writer in range(3)]
    assert [writer.wait() for writer in writers] == [0, 0, 0]
    with open_log(place) as log:
        batches = {row["batch"] for row in log.connection.execute("SELECT batch FROM casting")}
        assert batches == {f"{writer}-{turn}" for writer in range(3) for turn in range(20)}
        assert log.connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert log.connection.execute("PRAGMA application_id").fetchone()[0] == APPLICATION


def test_the_log_is_where_it_is_named_then_where_the_environment_says_then_with_the_users_data() -> None:
    named, home = Path("mine.sqlite"), Path("home")
    assert log_place(named, {"BUBBLEGRADE_LOG": "other.sqlite"}) == named
    assert log_place(None, {"BUBBLEGRADE_LOG": "other.sqlite"}) == Path("other.sqlite")
    tail = Path("bubblegrade", "castings.sqlite")
    assert log_place(None, {}, platform="linux", home=home) == home / ".local" / "share" / tail
    assert log_place(None, {}, platform="darwin", home=home) == home / "Library" / "Application Support" / tail
    assert log_place(None, {}, platform="win32", home=home) == home / "AppData" / "Local" / tail
    assert log_place(None, {"LOCALAPPDATA": "data"}, platform="win32", home=home) == Path("data") / tail


def test_the_file_itself_says_what_its_columns_are(log: Log) -> None:
    (sql,) = log.connection.execute("SELECT sql FROM sqlite_master WHERE name = 'casting'").fetchone()
    assert "gauge_gel_kpa_gauge REAL, -- the same in kPa gauge" in sql
