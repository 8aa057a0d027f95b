"""Names from a browser lead to photographs of the folder and to nothing else."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.bench.folder import BenchFolder, NotHereError, accepted_name
from bubblegrade.errors import InputError

TRICKS = (
    "../secret.jpg", "..", ".", "", "/etc/passwd", "a/../../b.jpg", "..\\b.jpg", "bench/a.png/run.json", "a.png\0.jpg",
    "%2e%2e/a.jpg", "run.json", ".hidden.jpg", "C:\\a.jpg", "x" * 5000,
)  # fmt: skip


@pytest.mark.parametrize("name", TRICKS)
def test_a_trick_leads_nowhere(folder: Path, name: str) -> None:
    (folder.parent / "secret.jpg").write_bytes(b"mine")
    (folder / ".hidden.jpg").write_bytes(b"mine")
    with pytest.raises(NotHereError, match="is not on the bench: go back to the tray"):
        BenchFolder(folder).photograph(name)


def test_a_link_that_leads_out_of_the_folder_is_no_photograph(tmp_path: Path, photograph: Callable[..., Path]) -> None:
    outside, inside = photograph(tmp_path / "outside.png"), tmp_path / "folder"
    kept = photograph(inside / "kept.png")
    os.symlink(outside, inside / "link.png")
    os.symlink(kept, inside / "same.png")
    os.symlink(tmp_path / "nowhere.png", inside / "broken.png")
    assert BenchFolder(inside).photographs == ("kept.png", "same.png")


def test_a_folder_that_is_gone_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="put the folder back, what was graded and corrected is in it"):
        _ = BenchFolder(tmp_path / "gone").photographs


@pytest.mark.parametrize(
    "name", ["../a.jpg", "a/b.jpg", "a\\b.jpg", ".a.jpg", "", "a\nb.jpg", "a\0.jpg", "x" * 200 + ".jpg"]
)
def test_a_name_that_no_file_may_have_is_refused(name: str) -> None:
    with pytest.raises(InputError, match=r"is no name|is too long"):
        accepted_name(name)


def test_what_is_no_photograph_by_its_name_is_refused_with_those_that_are() -> None:
    with pytest.raises(InputError, match=r"notes.exe is no photograph: drop files that end in \.jpg"):
        accepted_name("notes.exe")


@given(st.text(max_size=60))
def test_an_accepted_name_stays_in_its_folder(text: str) -> None:
    try:
        name = accepted_name(f"{text}.jpg")
    except InputError:
        return
    assert os.path.basename(os.path.normpath(os.path.join("/folder", name))) == name
    assert accepted_name(name) == name


def test_a_name_that_is_taken_gets_a_number(folder: Path) -> None:
    for name in ("a.jpg", "A-2.JPG"):
        (folder / name).write_bytes(b"")
    assert BenchFolder(folder).free_name("a.jpg") == "a-3.jpg"
    assert BenchFolder(folder).free_name("b.jpg") == "b.jpg"
