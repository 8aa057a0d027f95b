"""Parts of one photograph worked on at once, by as many threads as OpenCV may use.

The parts never depend on the number of threads, and so neither does what comes of them. A process that grades one of
many photographs tells OpenCV to use one thread, and the same holds here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

import cv2

Part = TypeVar("Part")
Made = TypeVar("Made")


def each(work: Callable[[Part], Made], parts: Sequence[Part]) -> list[Made]:
    """Return what `work` makes of each part, in their order.

    >>> each(abs, [-2, 1])
    [2, 1]
    """
    threads = min(cv2.getNumThreads(), len(parts))
    if threads < 2:  # noqa: PLR2004
        return [work(part) for part in parts]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work, parts))


def both(one: Callable[[], Part], other: Callable[[], Made]) -> tuple[Part, Made]:
    """Return what two pieces of work make.

    >>> both(lambda: 1, lambda: "a")
    (1, 'a')
    """
    if cv2.getNumThreads() < 2:  # noqa: PLR2004
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
