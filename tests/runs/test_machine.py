"""What this machine gives to a run."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.runs.machine import (
    BYTES_AT_REST,
    BYTES_PER_PX,
    cores,
    fitting,
    free_bytes,
    pixels_of,
    total_bytes,
    worker_count,
)

ONE_BIG = BYTES_AT_REST + 24e6 * BYTES_PER_PX

MEMINFO = "MemTotal:       16000000 kB\nMemFree:         1000000 kB\nMemAvailable:    8000000 kB\n"


@pytest.fixture
def photographs(tmp_path: Path) -> Callable[..., list[Path]]:
    """Return a function that writes white photographs."""

    def write(count: int, side_px: int) -> list[Path]:
        data = cv2.imencode(".png", np.full((side_px, side_px), 255, np.uint8))[1].tobytes()
        places = [tmp_path / f"{number}.png" for number in range(count)]
        for place in places:
            place.write_bytes(data)
        return places

    return write


def group(folder: Path, *, limit: str) -> Path:
    """Write what a container with 3 GB in use, 1 GB of it cached files, tells (Linux, cgroup v2)."""
    (folder / "memory.max").write_text(f"{limit}\n")
    (folder / "memory.current").write_text("3000000000\n")
    (folder / "memory.stat").write_text("anon 2000000000\ninactive_file 1000000000\n")
    return folder


def test_the_memory_that_the_system_calls_available_is_free(tmp_path: Path) -> None:
    (tmp_path / "meminfo").write_text(MEMINFO)
    assert free_bytes(tmp_path / "meminfo", tmp_path) == 8_000_000 * 1024
    assert total_bytes(tmp_path / "meminfo") == 16_000_000 * 1024


def test_a_container_s_limit_counts_without_cached_files(tmp_path: Path) -> None:
    (tmp_path / "meminfo").write_text(MEMINFO)
    assert free_bytes(tmp_path / "meminfo", group(tmp_path, limit="4000000000")) == 2e9
    assert free_bytes(tmp_path / "meminfo", group(tmp_path, limit="max")) == 8_000_000 * 1024


@pytest.mark.parametrize("text", [None, "", "MemTotal: much kB\n", "no such line"])
def test_a_system_that_does_not_tell_sets_no_limit(tmp_path: Path, text: str | None) -> None:
    if text is not None:
        (tmp_path / "meminfo").write_text(text)
    assert free_bytes(tmp_path / "meminfo", tmp_path) == math.inf
    assert total_bytes(tmp_path / "meminfo") == math.inf


def test_pixels_are_counted_without_decoding(photographs: Callable[..., list[Path]], tmp_path: Path) -> None:
    assert pixels_of(photographs(1, 300)[0]) == 90_000
    (tmp_path / "a.NEF").write_bytes(bytes(1000))
    assert pixels_of(tmp_path / "a.NEF") == 1500
    (tmp_path / "a.jpg").write_bytes(b"no picture")
    assert (pixels_of(tmp_path / "a.jpg"), pixels_of(tmp_path / "gone.jpg")) == (0.0, 0.0)


def test_one_or_two_photographs_start_no_worker(photographs: Callable[..., list[Path]]) -> None:
    assert worker_count(photographs(2, 4000), 8) == 1


def test_small_photographs_start_workers_only_if_asked(photographs: Callable[..., list[Path]]) -> None:
    small = photographs(5, 100)
    assert worker_count(small, None) == 1
    assert worker_count(small, 3) == 3


def test_there_are_no_more_workers_than_photographs_or_cores(photographs: Callable[..., list[Path]]) -> None:
    large = photographs(4, 2400)
    assert worker_count(large, 64, free=math.inf) == 4
    assert worker_count(large, None, free=math.inf) == min(4, cores())
    assert 1 <= cores() <= (os.cpu_count() or 1)


@pytest.mark.parametrize(("free", "expected"), [(0.0, 1), (1.5 * ONE_BIG, 1), (2.0 * ONE_BIG, 2), (9.0 * ONE_BIG, 3)])
def test_the_free_memory_limits_the_workers(
    photographs: Callable[..., list[Path]], monkeypatch: pytest.MonkeyPatch, free: float, expected: int
) -> None:
    monkeypatch.setattr("bubblegrade.runs.machine.pixels_of", lambda _: 24e6)
    assert worker_count(photographs(3, 64), 3, free=free) == expected


def test_the_largest_photographs_count() -> None:
    assert fitting([1e6] * 8 + [24e6], ONE_BIG) == 1
