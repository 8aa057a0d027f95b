"""How many photographs are graded by one process and by two, and what memory they hold while it goes on.

python tests/benchmarks/many_photographs.py [--count 60] [--folder PHOTOGRAPHS] [--jobs 1 2] [--killed]

Photographs of 2.5 megapixels with 220 voids, each with its own noise, or those of a folder, by one process and by two
in turn, started anew. Memory is that of the process that was started, and of the largest worker, in MB at each fifth of
the way. With --killed a run more is killed half way, goes on, and its result is compared with that of the last.
"""

# ruff: noqa: T201
from __future__ import annotations

import argparse
import filecmp
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np

from bubblegrade.grading_run import Request
from bubblegrade.results.folder import ResultFolder
from bubblegrade.runs.inputs import find_sources
from bubblegrade.runs.many import Reports, grade_all
from bubblegrade.runs.one import Task
from bubblegrade.settings import Settings

LOOKS: Final = 5  # at the memory


def growth() -> Any:
    """Return the script beside this one, which draws the photograph."""
    spec = spec_from_file_location("growth", Path(__file__).with_name("growth.py"))
    assert spec is not None
    assert spec.loader is not None
    module = module_from_spec(spec)
    sys.modules["growth"] = module
    spec.loader.exec_module(module)
    return module


def photographs(folder: Path, count: int) -> None:
    """Save so many photographs of one drawn cup."""
    one = growth()
    picture = cv2.imread(str(one.saved(folder, *one.REFERENCE)))
    (folder / "cups").mkdir()
    for number in range(count):
        noise = np.random.default_rng(number).normal(0, 1.0, (*picture.shape[:2], 1)).astype(np.float32)
        noisy = np.clip(picture + noise, 0, 255).astype(np.uint8)
        cv2.imwrite(str(folder / "cups" / f"{number:04}.jpg"), noisy, [cv2.IMWRITE_JPEG_QUALITY, 92])


def held_mb(process: str) -> float:
    """Return the memory that a process holds."""
    lines = Path(f"/proc/{process}/status").read_text("ascii").splitlines()
    return next((float(line.split()[1]) / 1024 for line in lines if line.startswith("VmRSS")), 0.0)


def workers() -> set[str]:
    """Return the processes that this one has started."""
    own = Path("/proc/self/task")
    return {child for task in own.iterdir() for child in (task / "children").read_text("ascii").split()}


def workers_mb() -> float:
    """Return the memory of the largest of them."""
    return max((held_mb(child) for child in workers()), default=0.0)


def workers_s() -> float:
    """Return the processor's time that they have taken."""
    stats = [Path(f"/proc/{child}/stat").read_text("ascii").rsplit(")", 1)[1].split() for child in workers()]
    return sum(int(stat[11]) + int(stat[12]) for stat in stats) / os.sysconf("SC_CLK_TCK")


def run(cups: Path, results: Path, jobs: int, cut: int) -> dict[str, Any]:
    """Grade the photographs by so many processes, here; killed after `cut` of them, going on with what is there."""
    sources = find_sources([cups], out=results)
    every = max(1, len(sources.photographs) // LOOKS)
    seen: list[tuple[float, float]] = []
    done = 0

    def look(_: object) -> None:
        nonlocal done
        done += 1
        if done == cut:
            os.kill(os.getpid(), signal.SIGKILL)
        if done % every == 0:
            seen.append((held_mb("self"), workers_mb()))

    begun = time.perf_counter()
    with ResultFolder.prepare(results, replace=False, resume=results.exists()) as out:
        task = Task("0", Request(mm_per_px=0.03), Settings(), jobs=jobs)
        grade_all(sources, task, out, Reports(print, look))
    seconds = time.perf_counter() - begun
    return {"jobs": jobs, "seconds": seconds, "processor": (time.process_time(), workers_s()), "memory": seen}


def alone(cups: Path, results: Path, jobs: int, *, cut: int = 0) -> dict[str, Any] | None:
    """Do `run` in a process of its own, print what it took and return it; None where it was killed."""
    words = ["--run", str(cups), str(results), str(jobs), str(cut)]
    done = subprocess.run([sys.executable, __file__, *words], check=False, capture_output=True, text=True)
    if cut:
        assert done.returncode == -signal.SIGKILL, done.stderr
        return None
    assert done.returncode == 0, done.stderr
    one: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    memory = ", ".join(f"{own:.0f} and {worker:.0f}" for own, worker in one["memory"])
    own, theirs = one["processor"]
    print(
        f"{jobs} process(es): {one['seconds']:.1f} s; processor's time {own:.1f} s by itself and {theirs:.1f} s by its "
        f"workers; MB held by itself and its largest worker: {memory}",
        flush=True,
    )
    return one


def the_same(one: Path, other: Path) -> bool:
    """Tell whether two folders hold the same files, but for locks."""
    names = [
        sorted(file.relative_to(folder).as_posix() for file in folder.rglob("*") if not file.name.startswith("."))
        for folder in (one, other)
    ]
    return names[0] == names[1] and not filecmp.cmpfiles(one, other, names[0], shallow=False)[1]


def main() -> None:
    """Print a line for each run, and the ratio of the first to the last."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--count", type=int, default=60)
    asked.add_argument("--folder", type=Path, help="photographs to grade instead of drawn ones")
    asked.add_argument("--jobs", type=int, nargs="+", default=[1, 2], help="processes, in turn")
    asked.add_argument("--killed", action="store_true", help="kill a run half way, and let it go on")
    asked.add_argument("--run", nargs=4, help=argparse.SUPPRESS)
    options = asked.parse_args()
    if options.run:
        cups, results, jobs, cut = options.run
        print(json.dumps(run(Path(cups), Path(results), int(jobs), int(cut))))
        return
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        if options.folder is None:
            photographs(folder, options.count)
        cups, took = options.folder or folder / "cups", []
        for jobs in options.jobs:
            shutil.rmtree(folder / "R", ignore_errors=True)
            one = alone(cups, folder / "R", jobs)
            took.append(one["seconds"] if one else 0.0)
        print(f"ratio {took[0] / took[-1]:.2f}")
        if options.killed:
            count = len(list(cups.iterdir()))
            alone(cups, folder / "killed", options.jobs[-1], cut=count // 2)
            alone(cups, folder / "killed", options.jobs[-1])
            print(f"killed after {count // 2} and gone on: the same bytes: {the_same(folder / 'R', folder / 'killed')}")


if __name__ == "__main__":
    main()
