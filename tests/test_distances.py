"""Distances within a mask, against SciPy's exact ones."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scipy import ndimage

from bubblegrade.distances import distances


@pytest.mark.parametrize("threads", [1, 2])
@pytest.mark.parametrize("seed", range(3))
def test_distances_are_the_roots_of_whole_numbers_to_the_last_digit(seed: int, threads: int) -> None:
    rows, cols = np.mgrid[-200:200, -300:300]
    mask = np.hypot(rows, cols / (1.2 + seed / 10)) < 190.0
    mask[np.random.default_rng(seed).random(mask.shape) > 0.9995] = False
    before = cv2.getNumThreads()
    cv2.setNumThreads(threads)
    try:
        found = distances(mask)
    finally:
        cv2.setNumThreads(before)
    squares = np.rint(ndimage.distance_transform_edt(mask) ** 2)
    np.testing.assert_array_equal(found, np.sqrt(squares.astype(np.float32)))


def test_a_part_of_a_mask_is_as_good_as_a_mask() -> None:
    mask = np.pad(np.ones((4, 6), bool), 2)
    np.testing.assert_array_equal(distances(mask[:, 1:-1]), distances(mask[:, 1:-1].copy()))
