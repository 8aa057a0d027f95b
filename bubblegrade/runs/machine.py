"""What this machine gives to a run: its cores, its free memory, and how many workers they carry."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from bubblegrade.photo.reading import pixels_of

# Of a worker with its libraries loaded and what it works on at once; measured 190 MB.
BYTES_AT_REST: Final = 200_000_000
BYTES_PER_PX: Final = 25  # of a photograph while it is graded; measured 20 at 2.5 megapixels, 15 at 24, 11 at 150
FEW: Final = 2  # photographs that are graded before a worker has started
# Pixels of all photographs together, from which workers pay on two cores: they start in two seconds, 0.2 s a megapixel.
WORKERS_WORTH_PX: Final = 20_000_000

_MEMORY: Final = Path("/proc/meminfo")
_GROUP: Final = Path("/sys/fs/cgroup")  # of the container, in which it sees itself as the root
_UNITS: Final = 1024  # /proc/meminfo counts in KiB


def cores() -> int:
    """Return the number of cores that this process may use, the limits of a container minded."""
    from joblib import cpu_count  # noqa: PLC0415 - one photograph alone does without it

    return int(cpu_count())


def free_bytes(memory: Path = _MEMORY, group: Path = _GROUP) -> float:
    """Return the memory that is free, the limits of a container minded; infinite where the system does not tell."""
    return min(_free_of_machine(memory), _free_of_group(group))


def total_bytes(memory: Path = _MEMORY) -> float:
    """Return the memory of the machine; infinite where the system does not tell."""
    return _memory_line(memory, "MemTotal")


def worker_count(photographs: Sequence[Path], asked: int | None, *, free: float | None = None) -> int:
    """Return how many processes grade these photographs; 1 is this one alone.

    `asked` limits them, None to the cores; without it, workers are started only where that pays. `free` is the memory
    that they may take, in bytes.
    """
    if len(photographs) <= FEW:
        return 1
    pixels = [pixels_of(path) for path in photographs]
    if asked is None and sum(pixels) < WORKERS_WORTH_PX:
        return 1
    most = min(cores() if asked is None else asked, len(photographs))
    return max(1, min(most, fitting(sorted(pixels)[-most:], free_bytes() if free is None else free)))


def fitting(pixels: Sequence[float], free: float) -> int:
    """Return how many of photographs of so many pixels are graded at once in so many bytes, the largest first.

    >>> fitting([24e6, 24e6, 24e6], 2e9)
    2
    """
    held, left = 0, free
    for px in sorted(pixels, reverse=True):
        left -= BYTES_AT_REST + BYTES_PER_PX * px
        if left < 0.0:
            break
        held += 1
    return held


def _free_of_machine(memory: Path) -> float:
    return _memory_line(memory, "MemAvailable")


def _memory_line(memory: Path, name: str) -> float:
    """Return a line of /proc/meminfo in bytes; infinite where there is none."""
    try:
        lines = dict(line.split(":", 1) for line in memory.read_text("ascii").splitlines())
        return float(lines[name].split()[0]) * _UNITS
    except (OSError, ValueError, LookupError):
        return math.inf


def _free_of_group(group: Path) -> float:
    """Return what a container's limit (cgroup v2) leaves; what is cached of files is given back and counts as free."""
    try:
        limit = float((group / "memory.max").read_text("ascii"))
        used = float((group / "memory.current").read_text("ascii"))
        stat = dict(line.split() for line in (group / "memory.stat").read_text("ascii").splitlines())
        return max(0.0, limit - used + float(stat.get("inactive_file", 0.0)))
    except (OSError, ValueError):  # no limit is the word "max"
        return math.inf
