"""How time and memory of grading grow with pixels and with voids.

python tests/benchmarks/growth.py [--most 150] [--out FILE.svg]     two tables, and a plot of them

Every photograph is read, graded and its picture drawn in a process of its own, which takes turns with a reference of
2.5 megapixels and 220 voids: the ratios hold whatever else the machine does. Memory is the peak of that process.
"""

# ruff: noqa: T201
from __future__ import annotations

import argparse
import json
import math
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import cv2
import numpy as np

from bubblegrade.drawn.pictures import draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.grading_run import Request
from bubblegrade.runs.inputs import Source
from bubblegrade.runs.one import Graded, Task, graded
from bubblegrade.settings import Settings

MEGAPIXELS: Final = (0.5, 1.0, 2.5, 6.0, 12.0, 24.0, 50.0, 100.0, 150.0)
VOIDS: Final = (0, 100, 220, 1000, 3000, 8000, 20_000)
USUAL_VOIDS: Final = 220
REFERENCE: Final = (2.5, USUAL_VOIDS)
VOIDS_IN: Final = 24.0  # megapixels, where their number grows: room for all of them
ROUNDS: Final = 3  # the quickest counts
OWN_SHARE: Final = 0.93  # of half the frame: the casting's radius
MEDIAN_PX: Final = 16.0  # of the voids' diameters, and their spread
SPREAD: Final = 1.35


@dataclass(frozen=True)
class Cost:
    """What grading a photograph takes."""

    megapixels: float
    voids: int  # that were counted
    seconds: float
    times_reference: float
    peak_mb: float


def saved(folder: Path, megapixels: float, voids: int) -> Path:
    """Draw a cup with so many voids of the same sizes, and return its JPEG."""
    path = folder / f"{megapixels:g}-{voids}.jpg"
    if path.exists():
        return path
    rng = np.random.default_rng(11)
    side = round(math.sqrt(megapixels * 1e6))
    diameters = np.clip(population(voids, MEDIAN_PX, SPREAD, rng=rng), 7.0, 60.0)
    radius = OWN_SHARE * side / 2
    held = {"width_px": side, "height_px": side, "casting_px": radius, "theta": 0.6, "wall": 0.3, "level": 0.5}
    scene = cup(diameters, mm_per_px=1.0, rng=rng, **held)
    picture = draw(scene).picture
    cv2.imwrite(str(path), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return path


def cost(path: Path, reference: Path, megapixels: float) -> Cost:
    """Grade a photograph in turn with the reference, in this process."""
    task = Task("0", Request(mm_per_px=0.03), Settings())
    took: dict[Path, list[float]] = {path: [], reference: []}
    found = 0
    graded(Source(reference, "reference", "-"), task, None)
    for _ in range(ROUNDS):
        for photo, seconds in took.items():
            begun = time.perf_counter()
            one = graded(Source(photo, "photo", "-"), task, None)
            seconds.append(time.perf_counter() - begun)
            assert isinstance(one, Graded), one
            found = one.casting.count if photo == path else found
    status = dict(line.split(":", 1) for line in Path("/proc/self/status").read_text("ascii").splitlines())
    seconds = min(took[path])
    return Cost(megapixels, found, seconds, seconds / min(took[reference]), float(status["VmHWM"].split()[0]) / 1024)


def alone(*arguments: str) -> str:
    """Run this file in a process of its own, and return what it prints."""
    run = subprocess.run([sys.executable, __file__, *arguments], check=True, capture_output=True, text=True)
    return run.stdout


def measured(folder: Path, cases: list[tuple[float, int]]) -> list[Cost]:
    """Return what each case of megapixels and voids takes."""
    costs = []
    for case in cases:
        for megapixels, voids in (REFERENCE, case):
            alone("--draw", str(folder), str(megapixels), str(voids))
        costs.append(Cost(**json.loads(alone("--one", str(folder), str(case[0]), str(case[1])))))
        print_row(costs[-1])
    return costs


def print_row(one: Cost) -> None:
    print(
        f"| {one.megapixels:g} | {one.voids} | {one.times_reference:.2f} | {one.times_reference / one.megapixels:.2f} "
        f"| {one.peak_mb:.0f} |",
        flush=True,
    )


def plotted(by_pixels: list[Cost], by_voids: list[Cost], path: Path) -> None:
    """Plot time over the reference's and peak memory, by megapixels and by voids."""
    import matplotlib as mpl  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    figure = Figure(figsize=(8.0, 5.4), layout="constrained")
    axes = figure.subplots(2, 2, sharey="row")
    columns = (
        ("megapixels", [one.megapixels for one in by_pixels], by_pixels),
        (f"voids, at {VOIDS_IN:g} megapixels", [one.voids for one in by_voids], by_voids),
    )
    for (above, below), (label, x, costs) in zip(axes.T, columns, strict=True):
        above.plot(x, [one.times_reference for one in costs], "o-", color="#1f5f8b")
        below.plot(x, [one.peak_mb / 1024 for one in costs], "o-", color="#8b4a1f")
        below.set_xlabel(label)
    for panel in axes.flat:
        panel.set_ylim(bottom=0)
        panel.grid(alpha=0.3)
    axes[0][0].set_ylabel("time over the reference's")
    axes[1][0].set_ylabel("peak memory, GiB")
    with mpl.rc_context({"svg.hashsalt": "growth", "svg.fonttype": "none"}):
        figure.savefig(path, metadata={"Date": None})


def main() -> None:
    """Print the tables and draw the plot, or do a part of it in this process."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--most", type=float, default=150.0, help="megapixels of the largest photograph")
    asked.add_argument("--out", type=Path, default=Path(__file__).with_name("growth.svg"))
    asked.add_argument("--folder", type=Path, help="keep the drawn photographs here, and take those that are there")
    asked.add_argument("--draw", nargs=3, help=argparse.SUPPRESS)
    asked.add_argument("--one", nargs=3, help=argparse.SUPPRESS)
    options = asked.parse_args()
    if options.draw or options.one:
        folder, megapixels, voids = options.draw or options.one
        photo = saved(Path(folder), float(megapixels), int(voids))
        if options.one:
            reference = saved(Path(folder), *REFERENCE)
            print(json.dumps(vars(cost(photo, reference, float(megapixels)))))
        return
    with tempfile.TemporaryDirectory() as place:
        folder = options.folder or Path(place)
        print("| megapixels | voids counted | time over the reference's | per megapixel | peak MB |")
        print("|---|---|---|---|---|")
        by_pixels = measured(folder, [(size, USUAL_VOIDS) for size in MEGAPIXELS if size <= options.most])
        print()
        by_voids = measured(folder, [(VOIDS_IN, voids) for voids in VOIDS])
    plotted(by_pixels, by_voids, options.out)


if __name__ == "__main__":
    main()
