"""Coins, a well-known picture of 24 plain discs, as a check from outside on counts and sizes.

Coins are bright on dark and no voids: the chain for voids is not asked. scikit-image parts and measures them, and our
count, sizes and frame weights are compared with its own numbers.
"""

from __future__ import annotations

import numpy as np
import pytest
from skimage import data
from skimage.filters import sobel
from skimage.measure import label, regionprops_table
from skimage.morphology import remove_small_objects
from skimage.segmentation import watershed

from bubblegrade.grading.sizes import SizeSummary, summarise
from bubblegrade.voids.lost import discs
from bubblegrade.voids.table import Voids

COINS = 24
SMALLEST_PX = 20.0  # equivalent diameter; below it lies only grain of the background


@pytest.fixture(scope="module")
def labels() -> np.ndarray:
    """Return the coins' labels, (rows, cols), as scikit-image's handbook parts them: watershed from two grey levels."""
    picture = data.coins()
    markers = np.zeros(picture.shape, np.int32)
    markers[picture < 30] = 1
    markers[picture > 150] = 2
    parted = watershed(sobel(picture), markers) == 2
    filled = np.asarray(label(~parted) == label(~parted)[0, 0])
    return np.asarray(label(remove_small_objects(~filled, max_size=300)))


@pytest.fixture(scope="module")
def regions(labels: np.ndarray) -> dict[str, np.ndarray]:
    """Return scikit-image's own measurements."""
    return regionprops_table(labels, properties=("area", "equivalent_diameter_area", "centroid"))


@pytest.fixture(scope="module")
def sizes(regions: dict[str, np.ndarray]) -> SizeSummary:
    """Return our statistics of the coins."""
    diameters = regions["equivalent_diameter_area"]
    return summarise(diameters, np.full(len(diameters), 0.3), smallest=SMALLEST_PX, seed=1)


def test_there_are_24_coins(sizes: SizeSummary) -> None:
    assert sizes.count == COINS
    assert sizes.count_low < COINS < sizes.count_high


def test_median_mean_and_largest_are_numpys(sizes: SizeSummary, regions: dict[str, np.ndarray]) -> None:
    diameters = regions["equivalent_diameter_area"]
    assert sizes.d50_number.value == pytest.approx(np.median(diameters), rel=0.01)
    assert sizes.d_1_0.value == pytest.approx(diameters.mean(), rel=1e-9)
    assert sizes.largest.value == pytest.approx(diameters.max(), rel=1e-9)


def test_the_surface_mean_is_that_of_scikit_images_areas(sizes: SizeSummary, regions: dict[str, np.ndarray]) -> None:
    area, diameter = regions["area"], regions["equivalent_diameter_area"]
    assert sizes.d_3_2.value == pytest.approx(float((area * diameter).sum() / area.sum()), rel=1e-6)


def test_discs_drawn_at_the_coins_cover_the_coins(labels: np.ndarray, regions: dict[str, np.ndarray]) -> None:
    table = Voids.of(
        x_px=regions["centroid-1"], y_px=regions["centroid-0"], diameter_px=regions["equivalent_diameter_area"]
    )
    drawn, coins = discs(labels.shape, table, 1.0), labels > 0
    assert (drawn & coins).sum() / (drawn | coins).sum() > 0.93
