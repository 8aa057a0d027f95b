"""Photographs graded as a camera brings them: the folder's state at each look is given, no clock runs."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pytest

from bubblegrade.errors import OutputError
from bubblegrade.grading_run import Casting, Request
from bubblegrade.results.folder import ResultFolder
from bubblegrade.runs.inputs import find_sources
from bubblegrade.runs.many import Outcome, Reports, grade_all
from bubblegrade.runs.one import Task
from bubblegrade.runs.watch import Arrivals, Post, Stamp, listed, watch
from bubblegrade.settings import Settings

Photograph = Callable[..., Path]
Step = Callable[[], object]

TASK = Task("1", Request(), Settings())
A, B = Path("a.jpg"), Path("b.jpg")


def contents(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder by its name."""
    return {file.relative_to(folder).as_posix(): file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def nothing() -> None:
    """Let the folder be."""


class Camera:
    """Does one thing to the folder between two looks, and stops the watch after the last."""

    def __init__(self, place: Path, *steps: Step) -> None:
        self.place = place
        self.steps: Iterator[Step] = iter(steps)
        self.faults: list[str] = []
        self.graded: list[str] = []

    def look(self) -> Mapping[Path, Stamp]:
        """Look into the folder."""
        return listed(self.place)

    def wait(self) -> None:
        """Do the next thing."""
        step = next(self.steps, None)
        if step is None:
            raise KeyboardInterrupt
        step()

    def watched(self, out: Path, task: Task = TASK) -> Outcome:
        """Watch until the last thing is done."""
        post = Post(self.look, self.wait, self.faults.append, lambda casting: self.graded.append(casting.photo))
        with ResultFolder.prepare(out, replace=False, resume=True) as folder:
            return watch(self.place, task, folder, post)


def graded_at_once(place: Path, out: Path) -> dict[str, bytes]:
    """Return the result of grading a folder at once."""
    with ResultFolder.prepare(out, replace=False) as folder:
        grade_all(find_sources([place], out=out), TASK, folder, Reports(lambda _: None, lambda _: None))
    return contents(out)


# When a file is whole


def looks(*seen: dict[Path, Stamp]) -> list[list[Path]]:
    """Return what has arrived at each look."""
    arrivals = Arrivals()
    return [arrivals.whole(now) for now in seen]


def test_a_file_is_whole_when_two_looks_find_it_unchanged_and_is_told_once() -> None:
    assert looks(*[{A: (9, 1)}] * 5) == [[], [], [A], [], []]


@pytest.mark.parametrize("later", [(10, 1), (9, 2)], ids=["larger", "written to again"])
def test_a_file_that_grows_or_is_written_to_is_waited_for(later: Stamp) -> None:
    assert looks({A: (9, 1)}, {A: (9, 1)}, {A: later}, {A: later}, {A: later}) == [[], [], [], [], [A]]


def test_a_file_that_changes_later_arrives_again() -> None:
    assert looks(*[{A: (9, 1)}] * 3, *[{A: (9, 2)}] * 3) == [[], [], [A], [], [], [A]]


def test_a_renamed_file_is_waited_for_under_its_new_name() -> None:
    assert looks({A: (9, 1)}, {A: (9, 1)}, *[{B: (9, 1)}] * 3) == [[], [], [], [], [B]]


def test_hidden_empty_and_other_files_are_passed_over(tmp_path: Path) -> None:
    for name in ("b.JPG", "sub/a.png", ".hidden.jpg", ".sub/c.jpg", "notes.txt", "a.jpg.part"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"data")
    (tmp_path / "empty.jpg").touch()
    assert [path.relative_to(tmp_path).as_posix() for path in listed(tmp_path)] == ["b.JPG", "sub/a.png"]


# What comes of it


def test_what_is_there_and_what_comes_is_graded_as_the_folder_at_once(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "b.png")
    camera = Camera(place, *[nothing] * 3, lambda: photograph(place / "a.png", level=0.5), *[nothing] * 3)
    outcome = camera.watched(tmp_path / "R")
    assert camera.graded == ["b.png", "a.png"]
    assert [casting.photo for casting in outcome.castings] == ["a.png", "b.png"]
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_the_tables_stand_after_each_photograph(tmp_path: Path, photograph: Photograph) -> None:
    place, tables = tmp_path / "tether", []
    photograph(place / "a.png")

    def check() -> None:
        tables.append((tmp_path / "R" / "castings.csv").read_text().count("\n") - 1)

    Camera(
        place, nothing, nothing, check, lambda: photograph(place / "b.png", level=0.5), nothing, nothing, check
    ).watched(tmp_path / "R")
    assert tables == [1, 2]


def test_a_photograph_that_is_still_written_is_waited_for(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    data = photograph(tmp_path / "whole.png").read_bytes()
    place.mkdir()
    parts = [data[:1000], data[:9000], data]
    camera = Camera(place, *[lambda part=part: (place / "a.png").write_bytes(part) for part in parts], *[nothing] * 3)
    camera.watched(tmp_path / "R")
    assert (camera.graded, camera.faults) == (["a.png"], [])


def test_a_photograph_that_stays_cut_short_is_one_line_until_its_rest_comes(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    data = photograph(tmp_path / "whole.png").read_bytes()
    place.mkdir()
    camera = Camera(
        place,
        lambda: (place / "a.png").write_bytes(data[:9000]),
        *[nothing] * 3,
        lambda: (place / "a.png").write_bytes(data),
        *[nothing] * 3,
    )
    outcome = camera.watched(tmp_path / "R")
    (line,) = camera.faults
    assert line.startswith("a.png is cut short")
    assert (camera.graded, outcome.whole) == (["a.png"], True)


def test_a_photograph_renamed_after_it_was_graded_counts_once(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    camera = Camera(place, *[nothing] * 3, lambda: (place / "a.png").rename(place / "cup 1.png"), *[nothing] * 3)
    camera.watched(tmp_path / "R")
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_photograph_removed_before_it_is_whole_is_no_fault(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    camera = Camera(place, nothing, (place / "a.png").unlink, *[nothing] * 3)
    outcome = camera.watched(tmp_path / "R")
    assert (len(outcome.run.entries), camera.faults) == (0, [])
    assert contents(tmp_path / "R") == {}


def test_two_photographs_with_one_marked_picture_are_told(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    photograph(place / "a.jpg", level=0.5)
    camera = Camera(place, *[nothing] * 3)
    outcome = camera.watched(tmp_path / "R")
    assert camera.faults == ["a.jpg and a.png would both give a-marked.jpg: rename one of them"]
    assert not outcome.whole


def test_its_own_pictures_beside_the_photographs_are_not_graded(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "a.png")
    camera = Camera(tmp_path, *[nothing] * 6)
    outcome = camera.watched(tmp_path)
    assert [entry.record["photo"] for entry in outcome.run.entries] == ["a.png"]


def test_a_watch_goes_on_where_an_earlier_one_ended(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    photograph(place / "gone.png", level=0.55)
    Camera(place, *[nothing] * 3).watched(tmp_path / "R")
    (place / "gone.png").unlink()
    photograph(place / "b.png", level=0.5)
    camera = Camera(place, *[nothing] * 3)
    outcome = camera.watched(tmp_path / "R")
    assert camera.graded == ["b.png"]
    assert [entry.record["photo"] for entry in outcome.run.entries] == ["gone.png", "a.png", "b.png"]


def test_ctrl_c_while_a_photograph_is_graded_leaves_the_tables_of_those_before(
    tmp_path: Path, photograph: Photograph, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bubblegrade.runs import watch as module  # noqa: PLC0415

    place, real = tmp_path / "tether", module.graded

    def stop_at_b(source: object, *more: object) -> object:
        if source.name == "b.png":  # type: ignore[attr-defined]
            raise KeyboardInterrupt
        return real(source, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(module, "graded", stop_at_b)
    photograph(place / "a.png")
    photograph(place / "b.png", level=0.5)
    Camera(place, *[nothing] * 3).watched(tmp_path / "R")
    (place / "b.png").unlink()
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_folder_that_can_no_longer_be_written_to_keeps_what_it_has(
    tmp_path: Path, photograph: Photograph, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")

    def full(*_: object) -> None:
        raise OutputError("no space")

    def fill() -> None:
        monkeypatch.setattr(ResultFolder, "write_bytes", full)
        photograph(place / "b.png", level=0.5)

    with pytest.raises(OutputError):
        Camera(place, *[nothing] * 2, fill, *[nothing] * 3).watched(tmp_path / "R")
    (place / "b.png").unlink()
    monkeypatch.undo()
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_casting_is_told_as_soon_as_it_is_graded(tmp_path: Path, photograph: Photograph) -> None:
    place, told = tmp_path / "tether", list[Casting]()
    photograph(place / "a.png")
    camera = Camera(place, *[nothing] * 3)
    post = Post(camera.look, camera.wait, camera.faults.append, told.append)
    with ResultFolder.prepare(tmp_path / "R", replace=False, resume=True) as folder:
        watch(place, TASK, folder, post)
    assert [(casting.photo, casting.count) for casting in told] == [("a.png", 5)]
