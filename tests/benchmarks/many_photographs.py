"""How many photographs are graded by one process and by two, and what memory they hold while it goes on.

python tests/benchmarks/many_photographs.py [--count 60]

Photographs of 2.5 megapixels with 220 voids, each with its own noise, by one process and by two in turn, started anew.
Memory is that of the process that was started, and of the largest worker, in MB at each fifth of the way.
"""

# ruff: noqa: T201
from __future__ import annotations

import argparse
import json
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

TURNS: Final = (1, 2)  # processes
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


def workers_mb() -> float:
    """Return the memory of the largest process that this one has started."""
    own = Path("/proc/self/task")
    children = {child for task in own.iterdir() for child in (task / "children").read_text("ascii").split()}
    return max((held_mb(child) for child in children), default=0.0)


def run(folder: Path, jobs: int) -> dict[str, Any]:
    """Grade the photographs by so many processes, here."""
    sources = find_sources([folder / "cups"], out=None)
    every = max(1, len(sources.photographs) // LOOKS)
    seen: list[tuple[float, float]] = []
    done = 0

    def look(_: object) -> None:
        nonlocal done
        done += 1
        if done % every == 0:
            seen.append((held_mb("self"), workers_mb()))

    begun = time.perf_counter()
    with ResultFolder.prepare(folder / f"by-{jobs}", replace=True) as out:
        task = Task("0", Request(mm_per_px=0.03), Settings(), jobs=jobs)
        grade_all(sources, task, out, Reports(print, look))
    return {"jobs": jobs, "seconds": time.perf_counter() - begun, "memory": seen}


def main() -> None:
    """Print a line for each run, and the ratio."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--count", type=int, default=60)
    asked.add_argument("--run", nargs=2, help=argparse.SUPPRESS)
    options = asked.parse_args()
    if options.run:
        print(json.dumps(run(Path(options.run[0]), int(options.run[1]))))
        return
    took = []
    with tempfile.TemporaryDirectory() as place:
        photographs(Path(place), options.count)
        for jobs in TURNS:
            command = [sys.executable, __file__, "--run", place, str(jobs)]
            said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
            one = json.loads(said.splitlines()[-1])
            took.append(one["seconds"])
            memory = ", ".join(f"{own:.0f} and {worker:.0f}" for own, worker in one["memory"])
            print(f"{jobs} process(es): {one['seconds']:.1f} s; MB held by itself and its largest worker: {memory}")
    print(f"ratio {took[0] / took[1]:.2f}")


if __name__ == "__main__":
    main()
