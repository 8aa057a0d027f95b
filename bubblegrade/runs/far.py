"""A photograph graded on a worker of a cluster, which is held to what who sends it has.

Only paths, hashes and results travel. The libraries and the bytes of the file must be the same, and the process must
have one thread, as the picture libraries tell of faults to the whole process.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import Final

import cv2

from bubblegrade.errors import InputError
from bubblegrade.photo.light import Light
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.inputs import Source
from bubblegrade.runs.one import Draw, Graded, Task, bare_light, graded
from bubblegrade.show.printable import printable

LIBRARIES: Final = ("bubblegrade", "numpy", "opencv-python", "pillow", "scipy")  # digits hang on them
SHARED: Final = "name photographs in a folder that every worker sees under the same path"


@dataclass(frozen=True)
class Sent:
    """A photograph on its way to a worker."""

    source: Source
    sha256: str  # of the file as it is seen here; empty where it cannot be read


@dataclass(frozen=True)
class Far:
    """Grades a photograph on a worker that is as who sends it."""

    task: Task
    blank_sha256: str
    draw: Draw
    libraries: dict[str, str]

    def __call__(self, sent: Sent) -> Graded | NotGraded:
        """Return what comes of it."""
        name = sent.source.name
        cv2.setNumThreads(1)
        try:
            check_alike(f"{name}: {_this_worker()}", self.libraries, libraries(), threads=_threads())
            check_seen(f"{name}: {_this_worker()}", sent.source.path, sent.sha256, sha256_of(sent.source.path))
            blank = None if self.task.blank is None else _bare_light(self.task.blank, self.blank_sha256)
        except InputError as error:
            return NotGraded(name, str(error))
        return graded(sent.source, self.task, blank, self.draw)


def packed(source: Source) -> Sent:
    """Return a photograph as it is sent: by its whole path and its hash."""
    path = absolute(source.path)
    return Sent(replace(source, path=path), sha256_of(path))


def libraries() -> dict[str, str]:
    """Return the versions of what the digits of a result hang on."""
    return dict(_libraries())


def check_alike(who: str, here: dict[str, str], there: dict[str, str], *, threads: int) -> None:
    """Refuse a worker with other libraries, or one that grades several photographs in one process.

    Raises
    ------
    InputError
        It is not as this machine.
    """
    for name, number in here.items():
        if there.get(name) != number:
            raise InputError(
                f"{who} has {name} {there.get(name, 'missing')}, this machine {number}: results would differ, install "
                "the same on both"
            )
    if threads != 1:
        raise InputError(
            f"{who} has {threads} threads: start it with --nthreads 1, and --nworkers {threads} to use as many cores"
        )


def check_seen(who: str, path: Path, here: str, there: str) -> None:
    """Refuse a worker that does not see the bytes of a file that are seen here.

    Raises
    ------
    InputError
        It sees others, or none.
    """
    if here and there != here:
        place = printable(str(path))
        seen = f"sees another file as {place}" if there else f"does not see {place}"
        raise InputError(f"{who} {seen}: {SHARED}")


def absolute(path: Path) -> Path:
    """Return a path that means the same in another process."""
    return Path(os.path.abspath(path))


def sha256_of(path: Path) -> str:
    """Return the hash of a file; empty where it cannot be read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


@cache
def _libraries() -> tuple[tuple[str, str], ...]:
    return tuple((name, version(name)) for name in LIBRARIES)


def _this_worker() -> str:
    from distributed import get_worker  # noqa: PLC0415

    return f"worker {get_worker().address}"


def _threads() -> int:
    from distributed import get_worker  # noqa: PLC0415

    return int(get_worker().state.nthreads)


@lru_cache(maxsize=1)
def _bare_light(path: Path, sha256: str) -> Light | None:
    """Return the bare light as this worker sees it; read once.

    Raises
    ------
    InputError
        It cannot be read, or is not what is seen where the run was started.
    """
    blank, found = bare_light(path)
    check_seen(_this_worker(), path, sha256, found or "")
    return blank
