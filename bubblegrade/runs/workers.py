"""Work done by several processes: results come as they are finished, and one process that dies takes one item."""

from __future__ import annotations

import os
import signal
import threading
import time
import warnings
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from typing import Final, TypeVar

import cv2
from joblib import Parallel, delayed, parallel_config

IDLE_S: Final = 30  # after which a worker without work goes
LOOK_S: Final = 1.0  # between two looks of a worker whether who started it still lives

Item = TypeVar("Item")
Result = TypeVar("Result")


def worked(
    work: Callable[[Item], Result], items: Sequence[Item], *, jobs: int, lost: Callable[[Item], Result]
) -> Generator[tuple[int, Result], None, None]:
    """Yield the place of each item and the result of `work` on it, as they are finished.

    With one job the work is done here, in the order of the items. With more, `work` and items are pickled to as many
    processes. Where one of these dies, the items in hand are worked on again, each alone: one that kills its process
    then as well gives what `lost` returns. Closing the iterator stops the processes.
    """
    if jobs == 1:
        for place, item in enumerate(items):
            yield place, work(item)
        return
    left = dict(enumerate(items))
    while left:
        begun: list[int] = []
        try:
            with closing(_in_processes(work, left, jobs, begun)) as results:
                for place, result in results:
                    del left[place]
                    yield place, result
        except BrokenProcessPool:
            for place in [place for place in begun if place in left]:
                yield place, _alone(work, left.pop(place), lost)


def _in_processes(
    work: Callable[[Item], Result], items: dict[int, Item], jobs: int, begun: list[int]
) -> Generator[tuple[int, Result], None, None]:
    """Yield results in any order; `begun` gets the place of each item when it is sent to a process."""

    def calls() -> Iterator[tuple[Callable[..., tuple[int, Result]], tuple[object, ...], dict[str, object]]]:
        for place, item in list(items.items()):
            begun.append(place)
            yield delayed(_placed)(work, place, item)

    with parallel_config(backend="loky", inner_max_num_threads=1):
        parallel = Parallel(
            n_jobs=jobs,
            return_as="generator_unordered",
            batch_size=1,
            pre_dispatch=jobs,
            initializer=_begin,
            idle_worker_timeout=IDLE_S,
        )
    results = parallel(calls())
    try:
        for result in results:  # noqa: UP028 - closing this one must not close that one unseen
            yield result
    finally:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # that work was under way is known to who closes
            results.close()


def _alone(work: Callable[[Item], Result], item: Item, lost: Callable[[Item], Result]) -> Result:
    """Return the result on an item that has a process, and the memory, to itself."""
    try:
        ((_, result),) = _in_processes(work, {0: item}, 2, [])
        return result
    except BrokenProcessPool:
        return lost(item)


def _placed(work: Callable[[Item], Result], place: int, item: Item) -> tuple[int, Result]:
    return place, work(item)


def _begin() -> None:
    """Make a process ready: Ctrl-C is for who started it, whom it does not outlive, and it uses one core."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(os.getppid(),), daemon=True).start()
    cv2.setNumThreads(1)


def _end_with(parent: int) -> None:
    """End this process when its parent is gone, killed perhaps."""
    while os.getppid() == parent:
        time.sleep(LOOK_S)
    os._exit(1)
