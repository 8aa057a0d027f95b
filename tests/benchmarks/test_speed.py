"""How long grading takes, against reading the JPEG and against plain chains of library calls.

python tests/benchmarks/test_speed.py [--large]     ratios measured in one run, and peak memory
pytest tests/benchmarks --benchmark-enable          pytest-benchmark's table
"""

# ruff: noqa: T201
from __future__ import annotations

import argparse
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
import pytest
from scipy import ndimage
from skimage.feature import peak_local_max
from skimage.measure import label, regionprops_table
from skimage.segmentation import watershed

from bubblegrade.drawn.pictures import Drawn, draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import read_photo
from bubblegrade.settings import Settings

VOIDS: Final = 220
SIDE_PX: Final = 1600
CASES: Final = ((SIDE_PX, VOIDS), (SIDE_PX, 900))  # side and voids
LARGE: Final = ((3464, 600), (4900, 1200))  # 12 and 24 megapixels
CASTING: Final = 0.4375  # of the side: the casting's radius
DARK: Final = 0.75  # of the flattened light, in the plain chains
PROPERTIES: Final = ("centroid", "equivalent_diameter_area")
ROUNDS: Final = 7
LARGE_ROUNDS: Final = 3
PEAK: Final = """
import resource, sys
from pathlib import Path
from bubblegrade.grading_run import Request, grade
from bubblegrade.photo.reading import read_photo
from bubblegrade.settings import Settings
grade(read_photo(Path(sys.argv[1])), Request(), Settings())
told = Path("/proc/self/status")  # what getrusage says there holds the process before as well
peak = told.read_text().split("VmHWM:")[1].split()[0] if told.exists() else None
print(peak or resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def drawn_cup(side_px: int, voids: int) -> Drawn:
    """Return a drawn cup whose voids have the same sizes in px in a picture of any size."""
    rng = np.random.default_rng(17)
    diameters = np.clip(population(2 * voids, 0.6, 1.5, rng=rng), 0.2, 2.0)[:voids]
    held = {"width_px": side_px, "height_px": side_px, "theta": 0.6, "wall": 0.3, "level": 0.5}
    return draw(cup(diameters, mm_per_px=0.03, rng=rng, casting_px=CASTING * side_px, **held))


def saved_photo(folder: Path, side_px: int, voids: int) -> Path:
    """Save a drawn cup as a JPEG, and return its path."""
    path = folder / f"{side_px} px, {voids} voids.jpg"
    cv2.imwrite(str(path), drawn_cup(side_px, voids).picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return path


def graded(path: Path) -> Casting:
    """Read and grade a photograph."""
    return grade(read_photo(path), Request(), Settings())


def dark_regions(path: Path) -> np.ndarray:
    """Return the filled dark parts within a photograph's casting, (rows, cols): flatten, threshold, fill."""
    light = grey_light(cv2.imread(str(path)))
    small = ndimage.grey_closing(light[::8, ::8], size=(31, 31))
    small = ndimage.gaussian_filter(small, 6.0)
    level = cv2.resize(small, light.shape[::-1], interpolation=cv2.INTER_LINEAR)
    parts, _ = ndimage.label(light < DARK * level)
    sides = np.array([[s.stop - s.start for s in box] for box in ndimage.find_objects(parts)])
    within = np.concatenate([[False], sides.max(axis=1) < light.shape[0] / 2])  # neither background nor dark outline
    return np.asarray(ndimage.binary_fill_holes(within[parts]))


def regions_chain(path: Path) -> dict[str, Any]:
    """Return what flatten, threshold, fill, regions finds."""
    return dict(regionprops_table(label(dark_regions(path)), properties=PROPERTIES))


def watershed_chain(path: Path) -> dict[str, Any]:
    """Return what flatten, threshold, fill, distance, watershed finds."""
    dark = dark_regions(path)
    distance = ndimage.distance_transform_edt(dark)
    peaks = peak_local_max(ndimage.gaussian_filter(distance, 1.0), min_distance=3, labels=dark.astype(np.int32))
    markers = np.zeros(dark.shape, np.int32)
    markers[tuple(peaks.T)] = np.arange(1, len(peaks) + 1)
    return dict(regionprops_table(watershed(-distance, markers, mask=dark), properties=PROPERTIES))


def peak_mb(path: Path) -> float:
    """Return the peak memory in MB of a process that does nothing but read and grade a photograph."""
    done = subprocess.run([sys.executable, "-c", PEAK, str(path)], capture_output=True, text=True, check=True)
    return float(done.stdout) / (1e6 if sys.platform == "darwin" else 1e3)  # macOS counts bytes, Linux kilobytes


def seconds(runs: tuple[Callable[[Path], object], ...], path: Path, rounds: int) -> list[float]:
    """Return the median time of each of `runs`, which take turns, after one turn that is not counted."""
    times: list[list[float]] = [[] for _ in runs]
    for _ in range(rounds + 1):
        for run, taken in zip(runs, times, strict=True):
            start = time.perf_counter()
            run(path)
            taken.append(time.perf_counter() - start)
    return [statistics.median(taken[1:]) for taken in times]


def ratios(path: Path, rounds: int) -> str:
    """Return a row of the table: grading in seconds, and as a multiple of reading and of either chain."""
    took, read, regions, parted = seconds((graded, read_photo, regions_chain, watershed_chain), path, rounds)
    return (
        f"| {path.stem} | {took:.2f} s | {read:.3f} s | {regions:.2f} s | {parted:.2f} s "
        f"| {took / read:.0f} | {took / regions:.1f} | {took / parted:.1f} | {peak_mb(path):.0f} MB |"
    )


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the drawn photograph of 1600 x 1600 px."""
    return saved_photo(tmp_path_factory.mktemp("photos"), SIDE_PX, VOIDS)


@pytest.fixture(scope="module")
def large_photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the photograph of 24 megapixels."""
    return saved_photo(tmp_path_factory.mktemp("photos"), *LARGE[-1])


@pytest.mark.benchmark(group="1600 x 1600")
def test_grading_finds_the_drawn_voids(benchmark: Any, photo: Path) -> None:
    assert benchmark(graded, photo).count == pytest.approx(VOIDS, rel=0.05)


@pytest.mark.benchmark(group="1600 x 1600")
def test_reading_gives_the_photograph(benchmark: Any, photo: Path) -> None:
    assert benchmark(read_photo, photo).shape_px == (SIDE_PX, SIDE_PX)


@pytest.mark.benchmark(group="1600 x 1600")
@pytest.mark.parametrize("chain", [regions_chain, watershed_chain], ids=["regions", "watershed"])
def test_the_plain_chains_find_most_drawn_voids(benchmark: Any, photo: Path, chain: Callable) -> None:
    assert len(benchmark(chain, photo)["centroid-0"]) == pytest.approx(VOIDS, rel=0.25)


@pytest.mark.benchmark(group="24 megapixels", min_rounds=3)
@pytest.mark.parametrize(
    "run", [graded, read_photo, regions_chain, watershed_chain], ids=["grade", "read", "regions", "watershed"]
)
def test_the_same_at_24_megapixels(benchmark: Any, request: pytest.FixtureRequest, run: Callable) -> None:
    if benchmark.disabled:
        pytest.skip("takes minutes: run with --benchmark-enable")
    assert benchmark(run, request.getfixturevalue("large_photo")) is not None


def test_grading_stays_under_one_and_a_half_gigabytes(photo: Path) -> None:
    assert peak_mb(photo) < 1500


def main() -> None:
    """Print the ratios."""
    parser = argparse.ArgumentParser(description="Measure grading against reading and against plain chains.")
    parser.add_argument("--large", action="store_true", help="also at 12 and 24 megapixels")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="runs of each, of which the median is taken")
    asked = parser.parse_args()
    print("| photograph | grade | read | regions | watershed | grade/read | grade/regions | grade/watershed | peak |")
    print("|---|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for side, voids in CASES + LARGE * asked.large:
            rounds = asked.rounds if side == SIDE_PX else LARGE_ROUNDS
            print(ratios(saved_photo(Path(folder), side, voids), rounds), flush=True)


if __name__ == "__main__":
    main()
