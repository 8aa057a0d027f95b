"""Work done by several processes: results come as they are finished, and one process that dies takes one item."""

from __future__ import annotations

import os
import signal
import threading
import time
import warnings
from collections.abc import Callable, Generator, Iterator, Mapping, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field, replace
from typing import Any, Final, TypeVar

import cv2

IDLE_S: Final = 30  # after which a worker without work goes
LOOK_S: Final = 1.0  # between two looks of a worker whether who started it still lives

Item = TypeVar("Item")
Result = TypeVar("Result")


@dataclass(frozen=True)
class Pool:
    """Processes that work is sent to."""

    jobs: int  # items that are under way at once
    config: Mapping[str, Any]  # of joblib
    broken: type[Exception] = BrokenProcessPool  # raised where an item's process died
    own: Mapping[str, Any] = field(default_factory=dict)  # further arguments of joblib's Parallel
    packed: Callable[[Any], Any] | None = None  # makes an item ready to be sent, when its turn comes


def worked(
    work: Callable[[Any], Result],
    items: Sequence[Item],
    *,
    jobs: int,
    lost: Callable[[Item], Result],
    pool: Pool | None = None,
) -> Generator[tuple[int, Result], None, None]:
    """Yield the place of each item and the result of `work` on it, as they are finished.

    With one job the work is done here, in the order of the items. With more, or with a `pool`, `work` and items are
    pickled to other processes, without one to as many of this machine. Where one of these dies, the items in hand are
    worked on again, each alone: one that kills its process then as well gives what `lost` returns. Closing the iterator
    stops the processes.
    """
    if jobs == 1 and pool is None:
        for place, item in enumerate(items):
            yield place, work(item)
        return
    pool = _processes(jobs) if pool is None else pool
    left = dict(enumerate(items))
    while left:
        begun: list[int] = []
        try:
            with closing(_in_pool(work, left, pool, begun)) as results:
                for place, result in results:
                    del left[place]
                    yield place, result
        except pool.broken:
            for place in [place for place in begun if place in left]:
                yield place, _alone(work, left.pop(place), pool, lost)


def _processes(jobs: int) -> Pool:
    """Return so many processes of this machine."""
    config = {"backend": "loky", "inner_max_num_threads": 1}
    return Pool(jobs, config, own={"initializer": _begin, "idle_worker_timeout": IDLE_S})


def _in_pool(
    work: Callable[[Any], Result], items: dict[int, Item], pool: Pool, begun: list[int]
) -> Generator[tuple[int, Result], None, None]:
    """Yield results in any order; `begun` gets the place of each item when it is sent to a process."""
    from joblib import Parallel, delayed, parallel_config  # noqa: PLC0415 - one photograph alone does without it

    def calls() -> Iterator[tuple[Callable[..., tuple[int, Result]], tuple[object, ...], dict[str, object]]]:
        for place, item in list(items.items()):
            begun.append(place)
            yield delayed(_placed)(work, place, item if pool.packed is None else pool.packed(item))

    with parallel_config(**pool.config):
        parallel = Parallel(
            n_jobs=pool.jobs, return_as="generator_unordered", batch_size=1, pre_dispatch=pool.jobs, **pool.own
        )
    with ExitStack() as ending:
        with _undisturbed():
            results = parallel(calls())
            ending.callback(_close, results)
        for result in results:  # noqa: UP028 - closing this one must not close that one unseen
            yield result


@contextmanager
def _undisturbed() -> Generator[None, None, None]:
    """Let Ctrl-C do nothing until the end of the block, and never anything to processes that are started in it.

    One that is still loading its libraries, before `_begin`, would end with a traceback in the user's face. Only the
    main thread decides what Ctrl-C does; in others nothing changes.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _close(results: Generator[Any, None, None]) -> None:
    """Close what the processes give; that work was under way is known to who closes."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        results.close()


def _alone(work: Callable[[Any], Result], item: Item, pool: Pool, lost: Callable[[Item], Result]) -> Result:
    """Return the result on an item that has a process, and the memory, to itself."""
    try:
        ((_, result),) = _in_pool(work, {0: item}, replace(pool, jobs=2), [])
        return result
    except pool.broken:
        return lost(item)


def _placed(work: Callable[[Any], Result], place: int, item: object) -> tuple[int, Result]:
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
