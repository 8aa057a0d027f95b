"""Many photographs graded, in this process and by several."""

from __future__ import annotations

import gc
import io
import os
import pickle
import shutil
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.grading_run import Casting, Request
from bubblegrade.photo.light import Codes
from bubblegrade.results.entry import Entry
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.spool import Spool
from bubblegrade.runs.inputs import Source, find_sources
from bubblegrade.runs.many import Outcome, Reports, grade_all, grade_each
from bubblegrade.runs.one import Picture, Task
from bubblegrade.settings import Settings
from tests.command_line import contents

Photograph = Callable[..., Path]

KEPT_BYTES = 150  # most that is kept of a photograph in the end, names of classes included
TASK = Task("1", Request(mm_per_px=0.05), Settings())


class Told:
    """What is told while it goes on."""

    def __init__(self) -> None:
        self.faults: list[str] = []
        self.done: list[str] = []

    @property
    def reports(self) -> Reports:
        """Whom to tell."""
        return Reports(self.faults.append, lambda source: self.done.append(source.name))


def graded(place: Path, out: Path, task: Task, *, resume: bool = False) -> tuple[Outcome, Told]:
    """Grade the photographs at a place."""
    told = Told()
    with ResultFolder.prepare(out, replace=False, resume=resume) as folder:
        outcome = grade_all(find_sources([place], out=out), task, folder, told.reports)
    return outcome, told


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory, photograph: Photograph) -> Path:
    """Return a folder with `cups`, three photographs that can be graded and two that cannot, and `R`, their result."""
    place = tmp_path_factory.mktemp("many")
    for number, level in enumerate((0.5, 0.55, 0.6)):
        photograph(place / "cups" / f"{number}.png", level=level)
    (place / "cups" / "1-bad.png").write_bytes(b"no picture")
    (place / "cups" / "3-bad.png").write_bytes(b"")
    graded(place / "cups", place / "R", TASK)
    return place


@pytest.fixture
def cups(tmp_path: Path, once: Path) -> Path:
    """Return these photographs, their result beside them in `R`."""
    shutil.copytree(once, tmp_path, dirs_exist_ok=True)
    return tmp_path / "cups"


@pytest.fixture
def whole(once: Path) -> dict[str, bytes]:
    """Return what is in the result of a run that nothing stopped."""
    return contents(once / "R")


def test_several_processes_give_the_bytes_the_order_and_the_lines_of_one(
    tmp_path: Path, cups: Path, photograph: Photograph
) -> None:
    blank = photograph(tmp_path / "blank.png", casting_px=0.0)
    one, told_one = graded(cups, tmp_path / "one", Task(**{**vars(TASK), "blank": blank, "jobs": 1}))
    two, told_two = graded(cups, tmp_path / "two", Task(**{**vars(TASK), "blank": blank, "jobs": 2}))
    assert contents(tmp_path / "one") == contents(tmp_path / "two")
    assert [casting.photo for casting in one.castings] == [casting.photo for casting in two.castings]
    assert told_one.faults == told_two.faults
    assert [line.split()[0] for line in told_one.faults] == ["1-bad.png", "3-bad.png"]
    assert sorted(told_one.done) == sorted(told_two.done) == sorted(path.name for path in cups.iterdir())


def test_a_photograph_that_kills_its_process_is_one_line_and_the_rest_is_graded(tmp_path: Path, cups: Path) -> None:
    def draw(_: Codes, casting: Casting) -> Picture:
        if casting.photo == "1.png":
            os.kill(os.getpid(), signal.SIGKILL)
        return Picture(b"drawn", casting.count)

    told = Told()
    with ResultFolder.prepare(tmp_path / "killed", replace=False) as folder:
        task = Task(**{**vars(TASK), "jobs": 2})
        outcome = grade_each(find_sources([cups], out=None), task, folder, told.reports, draw=draw)
    assert [casting.photo for casting in outcome.castings] == ["0.png", "2.png"]
    assert outcome.told == tuple(casting.count for casting in outcome.castings)
    assert [photo.photo for photo in outcome.run.not_graded] == ["1-bad.png", "1.png", "3-bad.png"]
    assert told.faults[1] == (
        "1.png: the process that graded it was ended by the system, most likely for want of memory: send a smaller "
        "picture, or free some memory"
    )
    assert sorted(contents(tmp_path / "killed")) == ["0-marked.jpg", "2-marked.jpg"]


# Memory


def test_while_a_run_goes_on_and_at_its_end_only_places_are_kept(tmp_path: Path, cups: Path) -> None:
    """Castings and entries are counted; what is kept in the end is pickled, but for the file in which they wait."""
    alive: list[int] = []

    def count(_: object = None) -> None:
        alive.append(sum(isinstance(one, Casting | Entry) for one in gc.get_objects()))

    gc.collect()
    count()
    with ResultFolder.prepare(tmp_path / "counted", replace=False) as folder:
        task = Task(**{**vars(TASK), "jobs": 1})
        outcome = grade_all(find_sources([cups], out=None), task, folder, Reports(lambda _: None, count))
        count()
    assert max(alive) <= alive[0] + 2  # the casting that is told of, and its entry
    assert alive[-1] <= alive[0]
    pickled = io.BytesIO()
    pickler = pickle.Pickler(pickled)
    pickler.persistent_id = lambda held: "spool" if isinstance(held, Spool) else None  # type: ignore[method-assign]
    pickler.dump((outcome.castings, outcome.run.entries, outcome.told, outcome.run.pictures))
    assert len(outcome.castings) == 3
    assert len(pickled.getvalue()) < 3 * KEPT_BYTES


def test_what_goes_on_holds_one_earlier_photograph_at_a_time(tmp_path: Path, cups: Path) -> None:
    alive: list[int] = []

    def count(_: object) -> None:
        alive.append(sum(isinstance(one, Entry) for one in gc.get_objects()))

    with ResultFolder.prepare(tmp_path / "R", replace=False, resume=True) as folder:
        gc.collect()
        count(None)
        grade_all(find_sources([cups], out=folder.path), TASK, folder, Reports(lambda _: None, count))
    assert len(alive) == 6
    assert max(alive) <= alive[0] + 1


# Going on


def test_new_photographs_are_added_and_those_graded_are_not_graded_again(
    tmp_path: Path, cups: Path, photograph: Photograph
) -> None:
    photograph(cups / "0-new.png", level=0.7)
    outcome, told = graded(cups, tmp_path / "R", TASK, resume=True)
    assert [casting.photo for casting in outcome.castings] == ["0-new.png"]
    assert len(told.faults) == 2
    graded(cups, tmp_path / "anew", TASK)
    assert contents(tmp_path / "R") == contents(tmp_path / "anew")


@pytest.mark.usefixtures("cups")
def test_what_is_not_named_again_stays_in_front(tmp_path: Path, photograph: Photograph) -> None:
    photograph(tmp_path / "more" / "a.png", level=0.7)
    outcome, _ = graded(tmp_path / "more", tmp_path / "R", TASK, resume=True)
    assert [entry.record["photo"] for entry in outcome.run.entries] == ["0.png", "1.png", "2.png", "a.png"]
    assert {"0-marked.jpg", "a-marked.jpg"} <= set(contents(tmp_path / "R"))
    assert outcome.run.pictures == ("0-marked.jpg", "1-marked.jpg", "2-marked.jpg", "a-marked.jpg")


def test_a_photograph_under_a_new_name_takes_its_picture_along(tmp_path: Path, cups: Path) -> None:
    (cups / "0.png").rename(cups / "9.png")
    outcome, _ = graded(cups, tmp_path / "R", TASK, resume=True)
    assert not outcome.castings
    graded(cups, tmp_path / "anew", TASK)
    assert contents(tmp_path / "R") == contents(tmp_path / "anew")


def test_another_photograph_of_the_same_name_is_refused_before_any_work(
    tmp_path: Path, cups: Path, photograph: Photograph
) -> None:
    before = contents(tmp_path / "R")
    photograph(cups / "0.png", level=0.7)
    with pytest.raises(InputError, match=r"0\.png is another photograph than the one that .* holds under this name"):
        graded(cups, tmp_path / "R", TASK, resume=True)
    assert {name: data for name, data in contents(tmp_path / "R").items() if name != "run.journal"} == before


@pytest.mark.parametrize(
    "changed", [{"version": "2"}, {"request": Request()}, {"settings": Settings(index=1.55)}], ids=str
)
def test_what_was_begun_otherwise_does_not_go_on(tmp_path: Path, cups: Path, changed: dict[str, object]) -> None:
    with pytest.raises(InputError, match=r"run\.json was not written by this version with these options and settings"):
        graded(cups, tmp_path / "R", Task(**{**vars(TASK), **changed}), resume=True)


def test_what_cannot_be_read_does_not_go_on(tmp_path: Path, cups: Path) -> None:
    (tmp_path / "R" / "run.json").write_text("{")
    with pytest.raises(InputError, match="begin again with --replace"):
        graded(cups, tmp_path / "R", TASK, resume=True)


def cut_short(cups: Path, out: Path, after: int) -> None:
    """Leave what a run leaves that ends without a word after some photographs."""

    class Cut(BaseException):
        """The end of the process."""

    def done(_: Source) -> None:
        nonlocal after
        after -= 1
        if not after:
            raise Cut

    folder = ResultFolder.prepare(out, replace=False)
    with pytest.raises(Cut):
        grade_all(find_sources([cups], out=out), TASK, folder, Reports(lambda _: None, done))


def test_a_run_that_was_cut_short_goes_on_to_the_bytes_of_a_whole_one(
    tmp_path: Path, cups: Path, whole: dict[str, bytes]
) -> None:
    cut_short(cups, tmp_path / "cut", 3)
    outcome, _ = graded(cups, tmp_path / "cut", TASK, resume=True)
    assert [casting.photo for casting in outcome.castings] == ["2.png"]
    assert contents(tmp_path / "cut") == whole


def test_a_marked_picture_that_is_not_the_journal_s_is_drawn_again(
    tmp_path: Path, cups: Path, whole: dict[str, bytes]
) -> None:
    cut_short(cups, tmp_path / "cut", 3)
    (tmp_path / "cut" / "0-marked.jpg").write_bytes(b"of another photograph")
    outcome, _ = graded(cups, tmp_path / "cut", TASK, resume=True)
    assert [casting.photo for casting in outcome.castings] == ["0.png", "2.png"]
    assert contents(tmp_path / "cut") == whole


def test_beside_the_photographs_a_run_goes_on_without_grading_its_own_pictures(cups: Path) -> None:
    cut_short(cups, cups, 3)
    outcome, _ = graded(cups, cups, TASK, resume=True)
    assert [entry.record["photo"] for entry in outcome.run.entries] == ["0.png", "1.png", "2.png"]
