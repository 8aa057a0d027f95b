"""Work done by several processes."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import pytest

from bubblegrade.runs.workers import worked

SQUARES = {place: number**2 for place, number in enumerate(range(7))}


def lost(number: int) -> str:
    """Say that an item's process died."""
    return f"{number} lost"


@pytest.mark.parametrize("jobs", [1, 2])
def test_every_item_has_its_result_once(jobs: int) -> None:
    def square(number: int) -> int:
        return number**2

    results = list(worked(square, range(7), jobs=jobs, lost=lambda _: -1))
    assert len(results) == 7
    assert dict(results) == SQUARES


def test_one_job_works_here_and_in_order() -> None:
    results = list(worked(lambda _: os.getpid(), "abc", jobs=1, lost=lambda _: 0))
    assert results == [(place, os.getpid()) for place in range(3)]


def test_two_jobs_work_elsewhere() -> None:
    assert os.getpid() not in dict(worked(lambda _: os.getpid(), "abc", jobs=2, lost=lambda _: 0)).values()


def test_no_item_gives_no_result() -> None:
    assert list(worked(str, [], jobs=2, lost=lost)) == []


def test_a_process_that_is_killed_loses_its_item_alone() -> None:
    def work(number: int) -> str:
        if number == 3:
            os.kill(os.getpid(), signal.SIGKILL)
        return str(number)

    results = dict(worked(work, range(8), jobs=2, lost=lost))
    assert results == {number: "3 lost" if number == 3 else str(number) for number in range(8)}


def test_an_item_that_goes_through_alone_is_not_lost(tmp_path: Path) -> None:
    def work(number: int) -> str:
        once = tmp_path / "killed once"
        if number == 2 and not once.exists():
            once.touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return str(number)

    assert dict(worked(work, range(5), jobs=2, lost=lost)) == {number: str(number) for number in range(5)}


def test_a_fault_of_our_own_comes_through() -> None:
    def work(number: int) -> str:
        raise AssertionError(f"broken promise {number}")

    with pytest.raises(AssertionError, match="broken promise"):
        list(worked(work, range(3), jobs=2, lost=lost))


def test_closing_stops_and_the_next_work_is_done() -> None:
    results = worked(str, range(50), jobs=2, lost=lost)
    next(results)
    results.close()
    assert dict(worked(str, range(3), jobs=2, lost=lost)) == {0: "0", 1: "1", 2: "2"}


def test_every_process_holds_to_one_core() -> None:
    def threads(_: int) -> tuple[int, list[int]]:
        import cv2  # noqa: PLC0415
        import numpy as np  # noqa: F401, PLC0415 - its linear algebra is what is looked for
        from threadpoolctl import threadpool_info  # noqa: PLC0415

        return cv2.getNumThreads(), [pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"]

    for number, pools in dict(worked(threads, range(3), jobs=2, lost=lambda _: (0, []))).values():
        assert number == 1
        assert pools
        assert set(pools) == {1}
