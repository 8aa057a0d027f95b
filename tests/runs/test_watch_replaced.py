"""Photographs that take the place of others under the same name, while a folder is watched and between two watches."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from bubblegrade.results.folder import ResultFolder
from bubblegrade.runs.inputs import find_sources
from bubblegrade.runs.many import Outcome, Reports, grade_all
from tests.runs.test_watch import TASK, Camera, Cut, contents, cut, graded_at_once, still

Photograph = Callable[..., Path]


def sha256(path: Path) -> str:
    """Return the hash of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def told(outcome: Outcome) -> list[tuple[str, str]]:
    """Return name and hash of every photograph in a result."""
    return [(entry.record["photo"], entry.record["sha256"]) for entry in outcome.run.entries]


def watched(place: Path, out: Path) -> None:
    """Go on by watching."""
    assert Camera(place, *still()).watched(out).whole


def resumed(place: Path, out: Path) -> None:
    """Go on at once."""
    with ResultFolder.prepare(out, replace=False, resume=True) as folder:
        assert grade_all(find_sources([place], out=out), TASK, folder, Reports(lambda _: None, lambda _: None)).whole


def test_a_photograph_replaced_before_a_kill_is_not_there_twice_after_it(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    replace = partial(photograph, place / "a.png", level=0.5)
    with pytest.raises(Cut):
        Camera(place, *still(), replace, *still(), cut).watched(tmp_path / "R")
    Camera(place, *still()).watched(tmp_path / "R")
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_photograph_replaced_while_a_resumed_watch_runs_is_graded_anew_and_counts_alone(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    Camera(place, *still()).watched(tmp_path / "R")
    replace = partial(photograph, place / "a.png", level=0.5)
    camera = Camera(place, *still(), replace, *still())
    camera.watched(tmp_path / "R")
    assert camera.graded == ["a.png"]
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_another_photograph_under_a_name_that_the_result_holds_is_refused_and_the_result_stays(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    before = told(Camera(place, *still()).watched(tmp_path / "R"))
    picture = sha256(tmp_path / "R" / "a-marked.jpg")
    photograph(place / "a.png", level=0.5)
    camera = Camera(place, *still())
    outcome = camera.watched(tmp_path / "R")
    (line,) = camera.faults
    assert line.startswith("a.png is another photograph than the one that ")
    assert line.endswith(" holds under this name: rename it, or name another folder with --out")
    assert (told(outcome), outcome.whole) == (before, False)
    assert sha256(tmp_path / "R" / "a-marked.jpg") == picture


@pytest.mark.parametrize("go_on", [watched, resumed])
def test_photographs_that_changed_names_between_two_runs_keep_their_own_pictures(
    tmp_path: Path, photograph: Photograph, go_on: Callable[[Path, Path], None]
) -> None:
    place, out = tmp_path / "tether", tmp_path / "R"
    photograph(place / "a.png")
    photograph(place / "b.png", level=0.5)
    graded_at_once(place, out)
    for name, other in (("a.png", "c"), ("b.png", "a.png"), ("c", "b.png")):
        (place / name).rename(place / other)
    go_on(place, out)
    assert contents(out) == graded_at_once(place, tmp_path / "at-once")
