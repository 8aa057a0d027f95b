"""Photographs taken over from an earlier result."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from bubblegrade.grading_run import Casting, Request
from bubblegrade.results.entry import entry_of
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import Run, write_run
from bubblegrade.results.spool import Spool
from bubblegrade.runs.earlier import Asked, Earlier, reusable
from bubblegrade.settings import Settings

MakeCasting = Callable[..., Casting]

PHOTO = b"a photograph"


@pytest.fixture
def result(tmp_path: Path, known_casting: MakeCasting) -> Path:
    """Return a folder with the result of one photograph."""
    casting = known_casting(photo="a.jpg", sha256=hashlib.sha256(PHOTO).hexdigest())
    with ResultFolder.prepare(tmp_path / "R", replace=False) as folder:
        folder.write_text("a-marked.jpg", "marked")
        write_run(folder, Run("1", Request(), Settings(), None, (entry_of(casting),), (), folder.written))
    (tmp_path / "copy.jpg").write_bytes(PHOTO)
    (tmp_path / "other.jpg").write_bytes(b"another")
    return tmp_path / "R"


def taken_over(
    result: Path,
    version: str = "1",
    request: Request = Request(),  # noqa: B008 - frozen
    settings: Settings = Settings(),  # noqa: B008 - frozen
    blank: str | None = None,
) -> Earlier | None:
    """Return what the result holds of a request."""
    return reusable(result, Asked(version, request, settings, blank), Spool.begin(result))


def test_the_same_photograph_under_any_name_is_found_with_its_marked_picture(
    result: Path, known_casting: MakeCasting
) -> None:
    earlier = taken_over(result)
    assert earlier is not None
    found = earlier.find(result.parent / "copy.jpg", "a-marked.jpg")
    assert found is not None
    entry, marked = found
    fresh = entry_of(known_casting(photo="a.jpg", sha256=hashlib.sha256(PHOTO).hexdigest()))
    assert (entry.record, entry.row, marked) == (fresh.record, fresh.row, b"marked")


@pytest.mark.parametrize("name", ["other.jpg", "gone.jpg"])
def test_another_photograph_is_not_found(result: Path, name: str) -> None:
    earlier = taken_over(result)
    assert earlier is not None
    assert earlier.find(result.parent / name, "a-marked.jpg") is None


def test_without_its_marked_picture_a_photograph_is_graded_again(result: Path) -> None:
    (result / "a-marked.jpg").unlink()
    earlier = taken_over(result)
    assert earlier is not None
    assert earlier.find(result.parent / "copy.jpg", "a-marked.jpg") is None


@pytest.mark.parametrize(
    ("version", "request_", "settings", "blank"),
    [
        ("2", Request(), Settings(), None),
        ("1", Request(mm_per_px=0.05), Settings(), None),
        ("1", Request(), Settings(index=1.55), None),
        ("1", Request(), Settings(), "0" * 64),
    ],
)
def test_what_was_asked_otherwise_is_not_taken_over(
    result: Path, version: str, request_: Request, settings: Settings, blank: str | None
) -> None:
    assert taken_over(result, version, request_, settings, blank) is None


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": 1}', "[" * 100_000])
def test_what_is_no_result_is_not_taken_over(result: Path, text: str) -> None:
    (result / "run.json").write_text(text)
    assert taken_over(result) is None


def test_a_table_that_was_changed_is_not_taken_over(result: Path) -> None:
    (result / "castings.csv").write_text("photo,fit\na.jpg,true\n")
    earlier = taken_over(result)
    assert earlier is None or not earlier.entries


def test_a_record_that_was_changed_is_not_taken_over(result: Path) -> None:
    run = json.loads((result / "run.json").read_text())
    run["castings"][0] = {"photo": "a.jpg"}
    (result / "run.json").write_text(json.dumps(run))
    assert taken_over(result) is None
