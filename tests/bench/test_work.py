"""Grading in a process of its own: as the command does, one after another, cancelled at once."""

from __future__ import annotations

import functools
import json
import os
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bubblegrade.bench.work import CANCELLED, DIED, GRADING, REFUSED, WAITING, Job, Work, graded_into
from bubblegrade.grading_run import Request
from bubblegrade.runs.one import Task
from bubblegrade.settings import Settings

TASK = Task(version="0.1", request=Request(), settings=Settings(), jobs=1)
LOOKS = 3000


def slow(job: Job) -> str:
    """Take for ever over what is called slow, die of what is called heavy, and refuse the rest."""
    if job.photograph.name == "slow":
        threading.Event().wait()
    if job.photograph.name == "heavy":
        os._exit(9)
    return f"{job.photograph.name}: seen"


def job(name: str) -> Job:
    return Job(Path(name), Path("R"), None)


def until(done: Callable[[], bool]) -> None:
    """Wait until something holds."""
    for _ in range(LOOKS):
        if done():
            return
        threading.Event().wait(0.01)
    raise AssertionError("it never did")


@pytest.fixture
def work() -> Iterator[Work]:
    """Return work that has begun."""
    working = Work(slow)
    working.start()
    yield working
    working.stop()


def test_a_photograph_is_graded_as_the_command_grades_it(graded_folder: Path) -> None:
    (name,) = [path.name for path in graded_folder.iterdir() if path.is_file()]
    result = graded_folder / "bench" / name
    run = json.loads((result / "run.json").read_text("utf-8"))
    assert len(run["castings"]) == 1
    assert all((result / file).is_file() for file in run["files"])


def test_what_cannot_be_graded_says_why_and_leaves_an_earlier_result(
    tmp_path: Path, photograph: Callable[..., Path]
) -> None:
    path, result = photograph(tmp_path / "cup.png"), tmp_path / "R"
    assert graded_into(Job(path, result, TASK)) == ""
    before = (result / "run.json").read_bytes()
    path.write_bytes(path.read_bytes()[:2000])
    assert "cut short" in graded_into(Job(path, result, TASK))
    assert (result / "run.json").read_bytes() == before
    assert "does not exist" in graded_into(Job(tmp_path / "gone.png", result, TASK))


def test_one_after_another_is_worked_on_and_what_is_under_way_can_be_cancelled(work: Work) -> None:
    for name in ("slow", "a", "b"):
        work.ask(job(name))
    until(lambda: work.state("slow") == (GRADING, ""))
    assert work.state("b") == (WAITING, "")
    assert work.progress == (0, 3)
    work.ask(job("a"))  # twice asked for is once done
    assert work.progress == (0, 3)
    work.cancel("b")
    assert work.state("b") == (REFUSED, CANCELLED)
    work.cancel("slow")
    until(lambda: work.state("a") == (REFUSED, "a: seen"))
    assert work.state("slow") == (REFUSED, CANCELLED)
    assert work.state("never asked") == ("", "")


def test_a_process_that_dies_takes_one_photograph(work: Work) -> None:
    work.ask(job("heavy"))
    work.ask(job("a"))
    until(lambda: work.progress == (2, 2))
    assert work.state("heavy") == (REFUSED, f"heavy: {DIED}")
    assert work.state("a") == (REFUSED, "a: seen")


def test_asked_again_an_old_fault_is_forgotten() -> None:
    working = Work(functools.partial(slow))
    working.ask(job("a"))
    working.cancel("a")
    working.ask(job("a"))
    assert working.state("a") == (WAITING, "")
    working.stop()


def test_all_are_cancelled_at_once_and_none_of_them_begins_meanwhile(work: Work) -> None:
    for name in ("slow", "a", "b"):
        work.ask(job(name))
    until(lambda: work.state("slow") == (GRADING, ""))
    work.cancel("a", "slow", "b", "never asked")
    until(lambda: work.progress[0] == work.progress[1])
    assert {work.state(name) for name in ("slow", "a", "b")} == {(REFUSED, CANCELLED)}
    assert work.state("never asked") == ("", "")
