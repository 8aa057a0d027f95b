"""How long grading takes, against reading the JPEG and against plain chains of library calls.

python tests/benchmarks/test_speed.py [--large]     ratios measured in one run, and peak memory
pytest tests/benchmarks --benchmark-enable          pytest-benchmark's table
"""

# ruff: noqa: T201
from __future__ import annotations

import argparse
import resource
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
LARGE_SIDE_PX: Final = 4900  # 24 megapixels
DARK: Final = 0.75  # of the flattened light, in the plain chains
PROPERTIES: Final = ("centroid", "equivalent_diameter_area")
ROUNDS: Final = 7


def drawn_cup() -> Drawn:
    """Return a drawn cup of 1600 x 1600 px with 220 voids."""
    rng = np.random.default_rng(17)
    diameters = np.clip(population(2 * VOIDS, 0.6, 1.5, rng=rng), 0.2, 2.0)[:VOIDS]
    held = {"width_px": SIDE_PX, "height_px": SIDE_PX, "casting_px": 700.0, "theta": 0.6, "wall": 0.3, "level": 0.5}
    return draw(cup(diameters, mm_per_px=0.03, rng=rng, **held))


def saved_photos(folder: Path, *, sides: tuple[int, ...]) -> list[Path]:
    """Save the drawn cup as a JPEG of each side, and return the paths; larger ones are drawn ones made larger."""
    small, paths = drawn_cup().picture, []
    for side in sides:
        picture = small
        if side != SIDE_PX:
            large = cv2.resize(small, (side, side), interpolation=cv2.INTER_CUBIC)
            noise = np.random.default_rng(1).normal(0, 1.5, (side, side, 1)).astype(np.float32)
            picture = np.clip(large + noise, 0, 255).astype(np.uint8)
        paths.append(folder / f"cup-{side}.jpg")
        cv2.imwrite(str(paths[-1]), picture, [cv2.IMWRITE_JPEG_QUALITY, 92])
    return paths


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
    """Return the peak memory in MB of a process of its own that reads and grades a photograph."""
    done = subprocess.run([sys.executable, __file__, "--peak", str(path)], capture_output=True, text=True, check=True)
    return float(done.stdout)


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
    return saved_photos(tmp_path_factory.mktemp("photos"), sides=(SIDE_PX,))[0]


@pytest.fixture(scope="module")
def large_photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the photograph of 24 megapixels."""
    return saved_photos(tmp_path_factory.mktemp("photos"), sides=(LARGE_SIDE_PX,))[0]


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
    """Print the ratios, or the peak memory of one grading."""
    parser = argparse.ArgumentParser(description="Measure grading against reading and against plain chains.")
    parser.add_argument("--large", action="store_true", help="also at 24 megapixels")
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="runs of each, of which the median is taken")
    parser.add_argument("--peak", type=Path, help="only grade this photograph and print the peak memory in MB")
    asked = parser.parse_args()
    if asked.peak:
        graded(asked.peak)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        print(peak / (1e6 if sys.platform == "darwin" else 1e3))  # macOS counts bytes, Linux kilobytes
        return
    print("| photograph | grade | read | regions | watershed | grade/read | grade/regions | grade/watershed | peak |")
    print("|---|---|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for path in saved_photos(Path(folder), sides=(SIDE_PX, LARGE_SIDE_PX) if asked.large else (SIDE_PX,)):
            print(ratios(path, asked.rounds if path.stem.endswith(str(SIDE_PX)) else 3), flush=True)


if __name__ == "__main__":
    main()
