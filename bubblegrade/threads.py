"""Parts of one photograph worked on at once, by as many threads as OpenCV may use.

The parts never depend on the number of threads, and so neither does what comes of them. A process that grades one of
many photographs tells OpenCV to use one thread, and the same holds here. A small photograph is worked on by one thread:
its steps are so short that threads wait longer for the interpreter, which they share, than they gain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Final, TypeVar

import cv2

Part = TypeVar("Part")
Made = TypeVar("Made")

WORTH_PX: Final = 4_000_000  # pixels of a photograph: in a smaller one two threads take longer than one
_alone: Final = ContextVar("_alone", default=False)


@contextmanager
def worth_sharing(pixels: int) -> Iterator[None]:
    """Leave the work within this to one thread where a photograph has few pixels."""
    before = _alone.set(pixels < WORTH_PX)
    try:
        yield
    finally:
        _alone.reset(before)


def _threads() -> int:
    """Return how many threads may work at once."""
    return 1 if _alone.get() else cv2.getNumThreads()


def each(work: Callable[[Part], Made], parts: Sequence[Part]) -> list[Made]:
    """Return what `work` makes of each part, in their order.

    >>> each(abs, [-2, 1])
    [2, 1]
    """
    threads = min(_threads(), len(parts))
    if threads < 2:  # noqa: PLR2004
        return [work(part) for part in parts]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work, parts))


def both(one: Callable[[], Part], other: Callable[[], Made]) -> tuple[Part, Made]:
    """Return what two pieces of work make.

    >>> both(lambda: 1, lambda: "a")
    (1, 'a')
    """
    if _threads() < 2:  # noqa: PLR2004
        return one(), other()
    with ThreadPoolExecutor(1) as pool:
        begun = pool.submit(other)
        return one(), begun.result()


def runs(length: int, size: int) -> list[slice]:
    """Return slices that cut a length into runs of `size`, the last perhaps shorter.

    >>> runs(5, 3)
    [slice(0, 3, None), slice(3, 5, None)]
    """
    return [slice(first, min(first + size, length)) for first in range(0, length, size)]
