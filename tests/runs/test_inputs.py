"""From files and folders to photographs."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.runs.inputs import Source, find_sources
from bubblegrade.show.printable import printable


def touched(folder: Path, *names: str) -> list[Path]:
    """Make empty files below a folder."""
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).touch()
    return [folder / name for name in names]


def names(*named: Path, out: Path) -> list[str]:
    """Return the names of the photographs that are found."""
    return [source.name for source in find_sources(named, out=out).photographs]


def test_a_single_file_is_named_by_its_file_name(tmp_path: Path) -> None:
    (path,) = touched(tmp_path, "cups/a.jpg")
    found = find_sources([path], out=tmp_path / "R")
    assert found.photographs == (Source(path, "a.jpg", "a-marked.jpg"),)
    assert found.faults == ()


def test_a_folder_is_searched_in_order_of_names(tmp_path: Path) -> None:
    touched(tmp_path, "b.TIF", "a.jpeg", "z/a.tiff", "c.txt", "d", ".e.jpg", ".f/g.jpg")
    assert names(tmp_path, out=tmp_path / "R") == ["a.jpeg", "b.TIF", "z/a.tiff"]


def test_a_picture_of_a_kind_that_is_not_read_is_told_unless_it_is_a_copy_of_one_that_is(tmp_path: Path) -> None:
    touched(tmp_path, "a.jpg", "a.webp", "b.webp", "z/c.AVIF", "notes.txt", ".d.webp")
    found = find_sources([tmp_path], out=tmp_path / "R")
    assert [source.name for source in found.photographs] == ["a.jpg"]
    assert [fault.photo for fault in found.faults] == ["b.webp", "z/c.AVIF"]
    assert found.faults[0].reason == "b.webp is not a JPEG, PNG or TIFF picture: save it as one of these"
    (alone,) = find_sources([tmp_path / "z"], out=None).faults
    assert alone.reason.startswith("c.AVIF is not a JPEG")


def test_a_folder_named_like_a_picture_is_none(tmp_path: Path) -> None:
    touched(tmp_path, "shots.jpg/a.jpg")
    assert names(tmp_path, out=tmp_path / "R") == ["shots.jpg/a.jpg"]


def test_inputs_keep_the_order_in_which_they_are_named(tmp_path: Path) -> None:
    a, b = touched(tmp_path, "a.jpg", "b.jpg")
    assert names(b, a, out=tmp_path / "R") == ["b.jpg", "a.jpg"]


def test_a_way_back_through_the_folders_makes_no_difference(tmp_path: Path) -> None:
    touched(tmp_path, "cups/a.jpg")
    assert names(tmp_path / "cups" / ".." / "cups", out=tmp_path / "R") == ["a.jpg"]


def test_a_file_is_taken_as_named_whatever_its_suffix(tmp_path: Path) -> None:
    (path,) = touched(tmp_path, "a.photo")
    assert names(path, out=tmp_path / "R") == ["a.photo"]


def test_pictures_that_another_result_lists_are_still_photographs(tmp_path: Path) -> None:
    touched(tmp_path, "cups/a.jpg")
    (tmp_path / "run.json").write_text(json.dumps({"files": ["cups/a.jpg"]}))
    assert names(tmp_path / "cups", out=tmp_path / "R") == ["a.jpg"]


def test_marked_pictures_of_earlier_results_below_a_folder_are_no_photographs(tmp_path: Path) -> None:
    touched(tmp_path, "a.jpg", "one/a-marked.jpg", "two/a-checked.jpg", "two/b.jpg")
    (tmp_path / "one" / "run.json").write_text(json.dumps({"files": ["a-marked.jpg"]}))
    (tmp_path / "two" / "photocheck.json").write_text(json.dumps({"files": ["a-checked.jpg"]}))
    assert names(tmp_path, out=tmp_path / "R") == ["a.jpg", "two/b.jpg"]
    assert "one holds no photograph" in find_sources([tmp_path / "one"], out=None).faults[0].reason


@pytest.mark.parametrize("text", ["", "[]", '{"files": 3}', '{"files": [3, "a\\u0000b"]}'])
def test_an_unreadable_earlier_result_lists_nothing(tmp_path: Path, text: str) -> None:
    touched(tmp_path, "a.jpg")
    (tmp_path / "run.json").write_text(text)
    assert names(tmp_path, out=tmp_path) == ["a.jpg"]


def test_inputs_on_different_drives_are_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def apart(_: object) -> str:
        raise ValueError("Paths don't have the same drive")

    monkeypatch.setattr(os.path, "commonpath", apart)
    with pytest.raises(InputError, match="the photographs lie on different drives: grade one drive at a time"):
        find_sources(touched(tmp_path, "a.jpg"), out=tmp_path / "R")


def test_a_folder_that_cannot_be_searched_is_a_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def locked(path: str) -> None:
        raise PermissionError(13, "Permission denied", path)

    monkeypatch.setattr(os, "scandir", locked)
    (fault,) = find_sources([tmp_path], out=tmp_path / "R").faults
    assert fault.reason == f"{tmp_path} cannot be searched (Permission denied): check its rights"


@pytest.mark.parametrize(
    ("text", "shown"),
    [("a\tb", "a\\tb"), ("\x1b[2J", "\\x1b[2J"), ("\udcff", "\\udcff"), ("\u202f\u00e9 \u676f", "\u202f\u00e9 \u676f")],
)
def test_a_name_is_shown_without_what_a_terminal_acts_on(text: str, shown: str) -> None:
    assert printable(text) == shown
