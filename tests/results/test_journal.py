"""The journal of a run that goes on."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from bubblegrade.errors import OutputError
from bubblegrade.grading_run import Casting
from bubblegrade.results.entry import Entry, entry_of
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.journal import JOURNAL_FILE, Journal, read_journal

ASKED = {"version": "1", "request": {"mm_per_px": 0.05}}


@pytest.fixture
def entry(known_casting: Callable[..., Casting]) -> Entry:
    """Return a photograph's entry."""
    return entry_of(known_casting(photo="a.jpg"))


def test_what_is_entered_is_read_again(tmp_path: Path, entry: Entry) -> None:
    journal = Journal.begin(tmp_path, ASKED)
    journal.enter(entry, "a-marked.jpg", b"marked")
    journal.enter(entry.renamed("b.jpg"), "b-marked.jpg", b"another")
    held = read_journal(tmp_path)
    assert held is not None
    assert held.asked == ASKED
    assert [line.marked for line in held.lines()] == ["a-marked.jpg", "b-marked.jpg"]
    first, second = held.lines()
    assert (first.entry.record, first.entry.row, first.sha256) == (entry.record, entry.row, entry.record["sha256"])
    assert second.marked_sha256 == hashlib.sha256(b"another").hexdigest()


def test_a_line_cut_short_anywhere_is_dropped_and_the_rest_stays(tmp_path: Path, entry: Entry) -> None:
    journal = Journal.begin(tmp_path, ASKED)
    journal.enter(entry, "a-marked.jpg", b"marked")
    whole = journal.path.read_bytes()
    journal.enter(entry.renamed("b.jpg"), "b-marked.jpg", b"marked")
    both = journal.path.read_bytes()
    for size in range(len(whole), len(both), 97):
        journal.path.write_bytes(both[:size])
        held = read_journal(tmp_path)
        assert held is not None
        assert [line.marked for line in held.lines()] == ["a-marked.jpg"]
        Journal.begin(tmp_path, ASKED)
        assert journal.path.read_bytes() == whole


def test_the_journal_goes_on_where_it_was(tmp_path: Path, entry: Entry) -> None:
    Journal.begin(tmp_path, ASKED).enter(entry, "a-marked.jpg", b"")
    Journal.begin(tmp_path, ASKED).enter(entry, "b-marked.jpg", b"")
    held = read_journal(tmp_path)
    assert held is not None
    assert len(list(held.lines())) == 2


@pytest.mark.parametrize("text", ["", "{}\n", "[]\n", "not json\n", '{"asked"', "[" * 100_000])
def test_what_does_not_begin_as_a_journal_holds_nothing_and_is_begun_anew(tmp_path: Path, text: str) -> None:
    (tmp_path / JOURNAL_FILE).write_text(text)
    assert read_journal(tmp_path) is None
    Journal.begin(tmp_path, ASKED)
    held = read_journal(tmp_path)
    assert held is not None
    assert list(held.lines()) == []


@pytest.mark.parametrize("line", [b"{}\n", b"[]\n", b'{"record": {}, "row": {}}\n', b"\xff\n"])
def test_a_line_that_is_no_photograph_ends_the_journal(tmp_path: Path, entry: Entry, line: bytes) -> None:
    journal = Journal.begin(tmp_path, ASKED)
    journal.enter(entry, "a-marked.jpg", b"")
    with journal.path.open("ab") as file:
        file.write(line)
    journal.enter(entry, "b-marked.jpg", b"")
    held = read_journal(tmp_path)
    assert held is not None
    assert [line.marked for line in held.lines()] == ["a-marked.jpg"]


def test_an_ended_journal_is_gone(tmp_path: Path) -> None:
    Journal.begin(tmp_path, ASKED).end()
    assert not list(tmp_path.iterdir())


def test_a_journal_that_cannot_be_written_is_one_line(tmp_path: Path, entry: Entry) -> None:
    with pytest.raises(OutputError, match=r"run\.journal cannot be written \(No such file or directory\)"):
        Journal.begin(tmp_path / "gone", ASKED)
    (tmp_path / JOURNAL_FILE).mkdir()
    with pytest.raises(OutputError, match=r"run\.journal cannot be written \(Is a directory\)"):
        Journal(tmp_path / JOURNAL_FILE).enter(entry, "a-marked.jpg", b"")


# The folder that holds it


def test_a_run_that_was_cut_short_is_refused_unasked_with_its_cure(tmp_path: Path) -> None:
    Journal.begin(tmp_path, ASKED)
    with pytest.raises(OutputError) as caught:
        ResultFolder.prepare(tmp_path, replace=False)
    line = (
        f"{tmp_path} holds a run that was cut short (run.journal): let grade go on with --resume, or begin again with"
    )
    assert str(caught.value) == f"{line} --replace"


def test_replacing_removes_what_was_cut_short(tmp_path: Path, entry: Entry) -> None:
    Journal.begin(tmp_path, ASKED).enter(entry, "cups/a-marked.jpg", b"marked")
    (tmp_path / "cups").mkdir()
    (tmp_path / "cups" / "a-marked.jpg").write_bytes(b"marked")
    (tmp_path / ".bubblegrade-0123456789abcdef.part").write_bytes(b"half")
    (tmp_path / "notes.txt").write_text("mine")
    with ResultFolder.prepare(tmp_path, replace=True) as out:
        out.write_text("voids.csv", "new")
    assert sorted(place.name for place in tmp_path.rglob("*")) == ["notes.txt", "voids.csv"]


def test_resuming_clears_half_written_files_and_keeps_the_rest(tmp_path: Path) -> None:
    Journal.begin(tmp_path, ASKED)
    (tmp_path / ".bubblegrade-0123456789abcdef.part").write_bytes(b"half")
    ResultFolder.prepare(tmp_path, replace=False, resume=True)
    assert [place.name for place in tmp_path.iterdir()] == [JOURNAL_FILE]


def test_a_run_that_fails_takes_its_journal_back(tmp_path: Path) -> None:
    def fail() -> None:
        with ResultFolder.prepare(tmp_path / "R", replace=False):
            Journal.begin(tmp_path / "R", ASKED)
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fail()
    assert not (tmp_path / "R").exists()
