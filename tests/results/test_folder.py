"""The folder a run writes into."""

from __future__ import annotations

import errno
import json
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.errors import OutputError
from bubblegrade.results.folder import ResultFolder
from tests.command_line import full_disk


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder by its name, but for the lock of a run that goes on."""
    files = (file for file in folder.rglob("*") if file.is_file() and file.suffix != ".lock")
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in files}


def old_result(folder: Path, *, files: list[str]) -> None:
    """Leave a result of these files, with the run.json that lists them."""
    with ResultFolder.prepare(folder, replace=False) as out:
        for name in files:
            out.write_text(name, f"old {name}")
        out.write_text("run.json", json.dumps({"files": [*files, "run.json"]}))


def test_a_folder_is_made_with_its_parents(tmp_path: Path) -> None:
    out = ResultFolder.prepare(tmp_path / "a" / "b", replace=False)
    assert out.write_text("voids.csv", "photo\n") == tmp_path / "a" / "b" / "voids.csv"
    assert contents(tmp_path) == {"a/b/voids.csv": b"photo\n"}


def test_a_folder_without_a_result_is_accepted_and_its_files_stay(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with ResultFolder.prepare(tmp_path, replace=False) as out:
        out.write_text("voids.csv", "")
    assert contents(tmp_path) == {"notes.txt": b"mine", "voids.csv": b""}


@pytest.mark.parametrize("mark", ["run.json", "voids.csv"])
def test_a_folder_with_a_result_is_refused_unasked(tmp_path: Path, mark: str) -> None:
    (tmp_path / mark).write_text("old")
    with pytest.raises(OutputError) as caught:
        ResultFolder.prepare(tmp_path, replace=False)
    line = f"{tmp_path} holds a result already ({mark}): add --replace, or name another folder with --out"
    assert str(caught.value) == line
    assert contents(tmp_path) == {mark: b"old"}


def test_resuming_adds_to_the_result_that_is_there(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv", "a-marked.jpg"])
    with ResultFolder.prepare(tmp_path, replace=False, resume=True) as out:
        out.write_text("b-marked.jpg", "new")
    assert set(contents(tmp_path)) == {"voids.csv", "a-marked.jpg", "b-marked.jpg", "run.json"}


def test_replacing_and_resuming_at_once_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="give --replace or --resume, not both"):
        ResultFolder.prepare(tmp_path, replace=True, resume=True)


def test_replacing_removes_what_the_old_result_lists_and_nothing_else(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv", "a-marked.jpg", "cups/b-marked.jpg"])
    (tmp_path / "mine-marked.jpg").write_text("mine")
    with ResultFolder.prepare(tmp_path, replace=True) as out:
        out.write_text("voids.csv", "new")
        out.write_text("moulds/c-marked.jpg", "new")
        out.write_text("run.json", "{}")
    assert contents(tmp_path) == {
        "voids.csv": b"new",
        "moulds/c-marked.jpg": b"new",
        "run.json": b"{}",
        "mine-marked.jpg": b"mine",
    }
    assert not (tmp_path / "cups").exists()


def test_an_old_result_stands_until_the_new_one_is_finished(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv"])
    before = contents(tmp_path)
    out = ResultFolder.prepare(tmp_path, replace=True)
    out.write_text("voids.csv", "new")
    assert {name: contents(tmp_path)[name] for name in before} == before
    out.finish()
    assert contents(tmp_path)["voids.csv"] == b"new"


def test_a_run_that_fails_leaves_the_old_result_as_it_was(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv"])
    before = contents(tmp_path)

    def fail() -> None:
        with ResultFolder.prepare(tmp_path, replace=True) as out:
            out.write_text("voids.csv", "new")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fail()
    assert contents(tmp_path) == before


def test_what_a_killed_run_left_waiting_is_cleared_away(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv"])
    before = contents(tmp_path)
    ResultFolder.prepare(tmp_path, replace=True).write_text("cups/a-marked.jpg", "half a run")
    ResultFolder.prepare(tmp_path, replace=True).finish()
    assert contents(tmp_path) == before


@pytest.mark.parametrize(
    "run",
    ["not json", "[]", "null", '{"files": 3}', '{"files": [3, "../kept.txt", "/kept.txt", "no-such.jpg", "sub"]}'],
)
def test_an_old_run_that_lists_nothing_usable_removes_nothing(tmp_path: Path, run: str) -> None:
    folder = tmp_path / "out"
    (folder / "sub").mkdir(parents=True)
    (tmp_path / "kept.txt").write_text("mine")
    (folder / "run.json").write_text(run)
    with ResultFolder.prepare(folder, replace=True) as out:
        out.write_text("run.json", "{}")
    assert contents(tmp_path) == {"kept.txt": b"mine", "out/run.json": b"{}"}
    assert (folder / "sub").is_dir()


def test_a_file_in_the_folders_place_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "out"
    place.write_text("mine")
    with pytest.raises(OutputError, match="out is a file, and the results need a folder: name another folder"):
        ResultFolder.prepare(place, replace=True)
    with pytest.raises(OutputError, match=r"cannot be written \(Not a directory\): name another folder"):
        ResultFolder.prepare(place / "below", replace=False)


def test_a_place_without_a_meaning_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"cannot be written \(embedded null byte\)"):
        ResultFolder.prepare(tmp_path / "a\0b", replace=False)


def test_a_folder_that_may_not_be_written_to_is_refused_before_any_work(tmp_path: Path) -> None:
    if os.name != "posix" or os.geteuid() == 0:
        pytest.skip("everything may be written to")
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match=r"\(Permission denied\): name a folder that you may write to with --out"):
        ResultFolder.prepare(tmp_path, replace=False)


@pytest.mark.parametrize(
    "name",
    ["../a.csv", "a/../../b.csv", "/tmp/a.csv", "", ".", "..", "a\0b", ".bubblegrade-2dfe744f.new/a.csv"],  # noqa: S108
)
def test_a_name_that_leads_out_of_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    out = ResultFolder.prepare(tmp_path / "out", replace=False)
    with pytest.raises(OutputError, match=r"is no name inside .*: rename the photograph"):
        out.write_bytes(name, b"")
    assert contents(tmp_path) == {}


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    out = ResultFolder.prepare(tmp_path / "out", replace=False)
    (tmp_path / "out" / "sub").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(OutputError, match=r"'sub/a\.csv' is no name inside"):
        out.write_bytes("sub/a.csv", b"")


def test_a_file_in_a_sub_folders_place_is_one_line(tmp_path: Path) -> None:
    out = ResultFolder.prepare(tmp_path, replace=False)
    out.write_text("cups", "")
    with pytest.raises(OutputError, match=r"cups/a\.jpg cannot be written \(.*\): name another folder with --out"):
        out.write_text("cups/a.jpg", "")


@given(st.binary(max_size=200), st.binary(max_size=200))
def test_a_file_is_what_was_last_written(tmp_path_factory: pytest.TempPathFactory, first: bytes, last: bytes) -> None:
    out = ResultFolder.prepare(tmp_path_factory.mktemp("out"), replace=False)
    out.write_bytes("voids.csv", first)
    assert out.write_bytes("voids.csv", last).read_bytes() == last
    assert set(contents(out.path)) == {"voids.csv"}


def test_a_name_that_utf_8_cannot_hold_is_written_as_an_escape(tmp_path: Path) -> None:
    place = ResultFolder.prepare(tmp_path, replace=False).write_text("voids.csv", "a\udcff.jpg \N{DEGREE SIGN}")
    assert place.read_text("utf-8") == "a\\udcff.jpg \N{DEGREE SIGN}"


def test_files_written_together_are_all_there_or_none_and_a_fault_names_its_own(tmp_path: Path) -> None:
    def full(_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    folder = ResultFolder.prepare(tmp_path / "R", replace=False)
    with pytest.raises(OutputError, match=r"b\.csv cannot be written \(No space left"):
        folder.write_together({"run.json": lambda file: file.write(b"a"), "b.csv": full})
    assert not [place for place in folder.path.iterdir() if not place.name.endswith(".lock")]
    there: list[list[str]] = []
    look = lambda _: there.append([name for name in ("run.json", "b.csv") if (folder.path / name).exists()])  # noqa: E731
    folder.write_together({"run.json": look, "b.csv": look})
    assert (there, folder.written) == ([[], []], ("b.csv", "run.json"))


def test_files_can_be_read_by_those_whom_the_system_lets(tmp_path: Path) -> None:
    (tmp_path / "plain").touch()
    place = ResultFolder.prepare(tmp_path, replace=False).write_text("voids.csv", "")
    assert place.stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_disk_that_fills_up_leaves_nothing_half_written(tmp_path: Path) -> None:
    out = ResultFolder.prepare(tmp_path, replace=False)
    with full_disk(1000), pytest.raises(OutputError, match=r"voids\.csv cannot be written \(File too large\)"):
        out.write_bytes("voids.csv", bytes(100_000))
    assert contents(tmp_path) == {}


def test_a_disk_that_fills_up_leaves_the_old_result(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv"])
    before = contents(tmp_path)

    def grade() -> None:
        with ResultFolder.prepare(tmp_path, replace=True) as out:
            out.write_bytes("castings.csv", b"new")
            out.write_bytes("voids.csv", bytes(100_000))

    with full_disk(1000), pytest.raises(OutputError):
        grade()
    assert contents(tmp_path) == before


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_full_disk_is_told_with_its_cure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    out = ResultFolder.prepare(tmp_path, replace=False)
    monkeypatch.setattr(os, step, full)
    with pytest.raises(OutputError) as caught:
        out.write_text("voids.csv", "photo\n")
    place = tmp_path / "voids.csv"
    cure = "free some space or name a folder on another disk with --out"
    assert str(caught.value) == f"{place} cannot be written (No space left on device): {cure}"
    assert contents(tmp_path) == {}


def test_a_folder_where_a_new_file_belongs_is_one_line(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv"])
    (tmp_path / "castings.csv").mkdir()
    out = ResultFolder.prepare(tmp_path, replace=True)
    out.write_text("castings.csv", "new")
    with pytest.raises(OutputError, match=r"castings\.csv cannot be written \(Is a directory\)"):
        out.finish()


def test_a_waiting_place_that_is_no_folder_is_one_line(tmp_path: Path) -> None:
    (tmp_path / ".bubblegrade-2dfe744f.new").symlink_to(tmp_path)
    with pytest.raises(OutputError, match=r"\.bubblegrade-2dfe744f\.new cannot be written"):
        ResultFolder.prepare(tmp_path, replace=False)


def test_an_old_file_that_cannot_be_removed_is_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    old_result(tmp_path, files=["voids.csv", "a-marked.jpg"])
    out = ResultFolder.prepare(tmp_path, replace=True)
    out.write_text("voids.csv", "new")
    monkeypatch.setattr(Path, "unlink", refuse)
    with pytest.raises(OutputError, match=r"a-marked\.jpg cannot be written \(Permission denied\): name a folder that"):
        out.finish()


def test_a_result_of_another_kind_stands_beside_and_is_replaced_for_itself(tmp_path: Path) -> None:
    old_result(tmp_path, files=["voids.csv"])
    for text in ("first", "second"):
        with ResultFolder.prepare(tmp_path, replace=text == "second", record="expect.json") as out:
            out.write_text(f"{text}.svg", text)
            out.write_text("expect.json", json.dumps({"files": [f"{text}.svg", "expect.json"]}))
    assert sorted(contents(tmp_path)) == ["expect.json", "run.json", "second.svg", "voids.csv"]
    with pytest.raises(OutputError, match=r"holds a result already \(expect\.json\)"):
        ResultFolder.prepare(tmp_path, replace=False, record="expect.json")
