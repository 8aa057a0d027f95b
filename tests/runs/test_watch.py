"""Photographs graded as a camera brings them: the folder's state at each look is given, no clock runs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path

import pytest

from bubblegrade.errors import OutputError
from bubblegrade.grading_run import Casting, Request
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.journal import read_journal
from bubblegrade.runs.inputs import find_sources
from bubblegrade.runs.looks import PAUSE, STEADY, Folder, Stamp
from bubblegrade.runs.many import Outcome, Reports, grade_all
from bubblegrade.runs.one import Task
from bubblegrade.runs.watch import Post, watch
from bubblegrade.settings import Settings
from tests.command_line import contents

Photograph = Callable[..., Path]
Step = Callable[[], object]

TASK = Task("1", Request(), Settings())


def nothing() -> None:
    """Let the folder be."""


def still() -> list[Step]:
    """Let it be until a file that is whole has been taken, whatever its end."""
    return [nothing] * STEADY


class Cut(BaseException):
    """The end of the process, without a word."""


def cut() -> None:
    """End it."""
    raise Cut


class Camera:
    """Does one thing to the folder between two looks, and stops the watch after the last."""

    def __init__(self, place: Path, *steps: Step, meanwhile: Iterable[Step] = ()) -> None:
        self.place = place
        self.folder = Folder(place)
        self.steps: Iterator[Step] = iter(steps)
        self.meanwhile: Iterator[Step] = iter(meanwhile)  # done one by one while tables are written
        self.faults: list[str] = []
        self.graded: list[str] = []

    def look(self) -> Mapping[Path, Stamp]:
        """Look into the folder."""
        return self.folder.look()

    def wait(self) -> None:
        """Do the next thing."""
        step = next(self.steps, None)
        if step is None:
            raise KeyboardInterrupt
        step()

    def due(self) -> bool:
        """Do the next thing while tables are written, where there is any."""
        step = next(self.meanwhile, None)
        if step is not None:
            step()
        return step is not None

    def watched(self, out: Path, task: Task = TASK) -> Outcome:
        """Watch until the last thing is done."""
        post = Post(
            self.look, self.wait, self.due, self.faults.append, lambda casting: self.graded.append(casting.photo)
        )
        with ResultFolder.prepare(out, replace=False, resume=True) as folder:
            return watch(self.place, task, folder, post)


def graded_at_once(place: Path, out: Path) -> dict[str, bytes]:
    """Return the result of grading a folder at once."""
    with ResultFolder.prepare(out, replace=False) as folder:
        grade_all(find_sources([place], out=out), TASK, folder, Reports(lambda _: None, lambda _: None))
    return contents(out)


def test_what_is_there_and_what_comes_is_graded_as_the_folder_at_once(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "b.png")
    camera = Camera(place, *still(), lambda: photograph(place / "a.png", level=0.5), *still())
    outcome = camera.watched(tmp_path / "R")
    assert camera.graded == ["b.png", "a.png"]
    assert [casting.photo for casting in outcome.castings] == ["a.png", "b.png"]
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_picture_of_a_kind_that_is_not_read_is_told_as_the_folder_at_once_tells_it(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    for name in ("a.webp", "b.webp", "c.avif"):  # the first is a copy of a photograph, the last becomes one
        (place / name).write_bytes(b"data")
    camera = Camera(place, *still(), lambda: photograph(place / "c.png", level=0.5), *still())
    camera.watched(tmp_path / "R")
    assert camera.faults == [
        f"{name} is not a JPEG, PNG or TIFF picture: save it as one of these" for name in ("b.webp", "c.avif")
    ]
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_the_tables_stand_when_the_camera_pauses_and_the_journal_before_that(
    tmp_path: Path, photograph: Photograph
) -> None:
    place, out, seen = tmp_path / "tether", tmp_path / "R", list[tuple[int, int]]()
    photograph(place / "a.png")

    def check() -> None:
        rows = (out / "castings.csv").read_text().count("\n") - 1 if (out / "run.json").exists() else 0
        journal = read_journal(out)
        seen.append((rows, 0 if journal is None else len(list(journal.lines()))))

    pause = [nothing] * (PAUSE - STEADY)
    more = partial(photograph, place / "b.png", level=0.5)
    Camera(place, *still(), check, *pause, check, more, *still(), check, *pause, check).watched(out)
    assert seen == [(0, 1), (1, 0), (1, 1), (2, 0)]


def test_tables_wait_while_the_camera_goes_on_and_tell_of_the_same_photographs(
    tmp_path: Path, photograph: Photograph
) -> None:
    place, out = tmp_path / "tether", tmp_path / "R"
    photograph(place / "a.png")
    more = partial(photograph, place / "b.png", level=0.5)
    camera = Camera(place, *[nothing] * PAUSE, lambda: before.update(contents(out)), meanwhile=[nothing, more])
    before: dict[str, bytes] = {}
    camera.watched(out)
    assert camera.graded == ["a.png", "b.png"]
    assert sorted(name for name in before if not name.startswith(".")) == ["a-marked.jpg", "run.journal"]


def test_a_photograph_that_comes_while_tables_are_written_is_taken_and_the_tables_come_after(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    more = partial(photograph, place / "b.png", level=0.5)
    camera = Camera(place, *[nothing] * (2 * PAUSE + 2), meanwhile=[nothing, more])
    camera.watched(tmp_path / "R")
    assert camera.graded == ["a.png", "b.png"]
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_watch_that_was_killed_goes_on_with_all_that_it_has_told_of(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    photograph(place / "b.png", level=0.5)
    with pytest.raises(Cut):
        Camera(place, *still(), cut).watched(tmp_path / "R")
    camera = Camera(place, *still())
    outcome = camera.watched(tmp_path / "R")
    assert (camera.graded, len(outcome.run.entries)) == ([], 2)
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_photograph_renamed_before_a_kill_counts_once_after_it_also_when_it_is_gone(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    rename = partial((place / "a.png").rename, place / "b.png")
    with pytest.raises(Cut):
        Camera(place, *still(), rename, *still(), cut).watched(tmp_path / "R")
    (place / "b.png").unlink()
    outcome = Camera(place, nothing).watched(tmp_path / "R")
    assert [entry.record["photo"] for entry in outcome.run.entries] == ["b.png"]


def test_a_photograph_that_is_still_written_is_waited_for(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    data = photograph(tmp_path / "whole.png").read_bytes()
    place.mkdir()
    parts = [data[:1000], data[:9000], data]
    camera = Camera(place, *[lambda part=part: (place / "a.png").write_bytes(part) for part in parts], *still())
    camera.watched(tmp_path / "R")
    assert (camera.graded, camera.faults) == (["a.png"], [])


def test_a_photograph_that_comes_with_halts_is_no_fault_and_one_that_never_came_whole_is_told_at_the_end(
    tmp_path: Path, photograph: Photograph
) -> None:
    place, data = tmp_path / "tether", photograph(tmp_path / "whole.png").read_bytes()
    place.mkdir()
    parts = [partial((place / "a.png").write_bytes, data[:some]) for some in (1000, 9000, len(data))]
    cut_short = partial((place / "b.png").write_bytes, data[:9000])
    camera = Camera(place, *(step for part in parts for step in (part, *still())), cut_short, *still())
    outcome = camera.watched(tmp_path / "R")
    assert camera.graded == ["a.png"]
    (line,) = camera.faults
    assert line.startswith("b.png is cut short")
    assert not outcome.whole


def test_a_part_that_ends_as_a_whole_picture_does_is_no_fault_while_its_rest_is_on_its_way(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    data = photograph(tmp_path / "whole.jpg").read_bytes()
    place.mkdir()
    part, whole = (
        data[:3000] + b"\xff\xd9",
        data,
    )  # as where the small picture ends that cameras put before the large one
    steps = [partial((place / "a.jpg").write_bytes, each) for each in (part, whole)]
    camera = Camera(place, steps[0], nothing, steps[1], *still())
    camera.watched(tmp_path / "R")
    assert (camera.graded, camera.faults) == (["a.jpg"], [])


def test_a_photograph_written_to_while_it_is_graded_is_graded_as_it_is_then(
    tmp_path: Path, photograph: Photograph, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bubblegrade.runs import watch as module  # noqa: PLC0415

    place, real = tmp_path / "tether", module.graded
    photograph(place / "a.png")
    changes = iter([partial(photograph, place / "a.png", level=0.5)])

    def meanwhile(*given: object) -> object:
        found = real(*given)  # type: ignore[arg-type]
        next(changes, nothing)()
        return found

    monkeypatch.setattr(module, "graded", meanwhile)
    camera = Camera(place, nothing, nothing)
    camera.watched(tmp_path / "R")
    assert camera.graded == ["a.png"]
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_photograph_that_stays_cut_short_is_one_line_until_its_rest_comes(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    data = photograph(tmp_path / "whole.png").read_bytes()
    place.mkdir()
    camera = Camera(
        place,
        lambda: (place / "a.png").write_bytes(data[:9000]),
        *[nothing] * PAUSE,
        lambda: (place / "a.png").write_bytes(data),
        *still(),
    )
    outcome = camera.watched(tmp_path / "R")
    (line,) = camera.faults
    assert line.startswith("a.png is cut short")
    assert (camera.graded, outcome.whole) == (["a.png"], True)


def test_a_photograph_that_stays_empty_is_told_and_one_whose_bytes_come_soon_is_not(
    tmp_path: Path, photograph: Photograph
) -> None:
    place, data = tmp_path / "tether", photograph(tmp_path / "whole.png").read_bytes()
    place.mkdir()
    camera = Camera(
        place,
        (place / "a.png").touch,
        *[nothing] * (PAUSE - 2),
        lambda: (place / "a.png").write_bytes(data),
        *still(),
        (place / "b.png").touch,
        *[nothing] * (PAUSE + 2),
    )
    outcome = camera.watched(tmp_path / "R")
    assert camera.faults == ["b.png is empty (0 bytes): copy the photograph again"]
    assert (camera.graded, outcome.whole) == (["a.png"], False)


def test_a_photograph_renamed_after_it_was_graded_counts_once(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    camera = Camera(place, *still(), lambda: (place / "a.png").rename(place / "cup 1.png"), *still())
    camera.watched(tmp_path / "R")
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_folder_that_was_gone_for_a_while_is_told_once_and_its_photographs_are_graded_once(
    tmp_path: Path, photograph: Photograph
) -> None:
    place, away = tmp_path / "tether", tmp_path / "away"
    photograph(place / "b.png")
    back = [lambda: away.rename(place), lambda: photograph(place / "a.png", level=0.5)]
    camera = Camera(place, *still(), lambda: place.rename(away), *still(), *back, *still())
    camera.watched(tmp_path / "R")
    assert camera.graded == ["b.png", "a.png"]
    assert camera.faults == [f"{place} is gone: bring it back and the watch goes on, or end it with Ctrl-C"]
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_photograph_removed_before_it_is_whole_is_no_fault(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    data = photograph(place / "a.png").read_bytes()
    (place / "a.png").write_bytes(data[:-9])
    camera = Camera(place, (place / "a.png").unlink, *still())
    outcome = camera.watched(tmp_path / "R")
    assert (len(outcome.run.entries), camera.faults) == (0, [])
    assert contents(tmp_path / "R") == {}


def test_two_photographs_with_one_marked_picture_are_told(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    photograph(place / "a.jpg", level=0.5)
    camera = Camera(place, *still())
    outcome = camera.watched(tmp_path / "R")
    assert camera.faults == ["a.jpg and a.png would both give a-marked.jpg: rename one of them"]
    assert not outcome.whole


def test_its_own_pictures_beside_the_photographs_are_not_graded(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "a.png")
    camera = Camera(tmp_path, *[nothing] * 6)
    outcome = camera.watched(tmp_path)
    assert [entry.record["photo"] for entry in outcome.run.entries] == ["a.png"]


def test_pictures_of_earlier_results_below_the_folder_are_not_graded_and_others_named_alike_are(
    tmp_path: Path, photograph: Photograph
) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    graded_at_once(place, place / "before")
    (place / "inspected").mkdir()
    photograph(place / "inspected" / "a-inspected.png")
    (place / "inspected" / "inspect.json").write_text('{"files": ["a-inspected.png"]}', "utf-8")

    def mine() -> None:
        photograph(place / "mine" / "a-marked.jpg", level=0.5)

    camera = Camera(place, *still(), mine, *still())
    camera.watched(tmp_path / "R")
    assert camera.graded == ["a.png", "mine/a-marked.jpg"]


def test_a_watch_goes_on_where_an_earlier_one_ended(tmp_path: Path, photograph: Photograph) -> None:
    place = tmp_path / "tether"
    photograph(place / "a.png")
    photograph(place / "gone.png", level=0.55)
    Camera(place, *still()).watched(tmp_path / "R")
    (place / "gone.png").unlink()
    photograph(place / "b.png", level=0.5)
    camera = Camera(place, *still())
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
    Camera(place, *still()).watched(tmp_path / "R")
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
        Camera(place, *[nothing] * 2, fill, *still()).watched(tmp_path / "R")
    (place / "b.png").unlink()
    monkeypatch.undo()
    camera = Camera(place, *still())
    camera.watched(tmp_path / "R")
    assert camera.graded == []
    assert contents(tmp_path / "R") == graded_at_once(place, tmp_path / "at-once")


def test_a_casting_is_told_as_soon_as_it_is_graded(tmp_path: Path, photograph: Photograph) -> None:
    place, told = tmp_path / "tether", list[Casting]()
    photograph(place / "a.png")
    camera = Camera(place, *still())
    post = Post(camera.look, camera.wait, camera.due, camera.faults.append, told.append)
    with ResultFolder.prepare(tmp_path / "R", replace=False, resume=True) as folder:
        watch(place, TASK, folder, post)
    assert [(casting.photo, casting.count) for casting in told] == [("a.png", 5)]
