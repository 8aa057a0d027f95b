"""Parts worked on at once: in their order, all of them, and the same bytes with any number of threads."""

import threading
from collections.abc import Iterator

import cv2
import numpy as np
import pytest

from bubblegrade import threads
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.grading_run import Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings
from bubblegrade.threads import WORTH_PX, both, each, runs, worth_sharing

pytestmark = pytest.mark.usefixtures("threads_as_before")


@pytest.fixture
def threads_as_before() -> Iterator[None]:
    """Leave the number of threads that OpenCV may use as it was."""
    before = cv2.getNumThreads()
    yield
    cv2.setNumThreads(before)


@pytest.mark.parametrize("count", [1, 3])
def test_what_is_made_comes_in_the_order_of_the_parts(count: int) -> None:
    cv2.setNumThreads(count)
    assert each(str, range(20)) == [str(part) for part in range(20)]
    assert both(lambda: "one", lambda: 2) == ("one", 2)


def test_two_threads_work_at_once_and_one_thread_is_the_callers_own() -> None:
    cv2.setNumThreads(2)
    meet = threading.Barrier(2, timeout=20)  # two that wait for each other pass only side by side
    each(lambda _: meet.wait(), range(2))
    both(meet.wait, meet.wait)
    cv2.setNumThreads(1)
    assert each(lambda _: threading.get_ident(), range(2)) == [threading.get_ident()] * 2


def test_a_small_photograph_is_left_to_the_callers_own_thread_and_a_large_one_is_shared() -> None:
    cv2.setNumThreads(2)
    own = [threading.get_ident()] * 2
    with worth_sharing(WORTH_PX - 1):
        assert each(lambda _: threading.get_ident(), range(2)) == own
        assert both(threading.get_ident, threading.get_ident) == tuple(own)
    with worth_sharing(WORTH_PX):
        assert both(threading.get_ident, threading.get_ident) != tuple(own)


def test_an_error_in_a_part_reaches_the_caller() -> None:
    cv2.setNumThreads(2)
    with pytest.raises(ZeroDivisionError):
        each(lambda part: 1 // part, [1, 0])


@pytest.mark.parametrize("length", [0, 1, 5, 6, 7])
def test_runs_cut_a_length_without_gap_or_overlap(length: int) -> None:
    numbers = np.arange(length)
    assert np.concatenate([numbers[:0], *(numbers[run] for run in runs(length, 3))]).tolist() == numbers.tolist()


def test_a_photograph_gives_the_same_voids_with_one_thread_and_with_four(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(threads, "WORTH_PX", 0)
    x, y = grid(range(250, 560, 60), range(250, 560, 60))
    scene = Scene(casting_px=330.0, x_px=x, y_px=y, diameter_px=np.linspace(6.0, 40.0, len(x)), seed=2)
    photo = Photo("cup", draw(scene).picture, "0" * 64)
    tables = []
    for count in (1, 4):
        cv2.setNumThreads(count)
        casting = grade(photo, Request(), Settings())
        tables.append([*(column.tobytes() for column in vars(casting.voids).values()), repr(casting.clarity)])
    assert tables[0] == tables[1]
