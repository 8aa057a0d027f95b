"""A coarse mask cut from as if it were as large as the photograph."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bubblegrade.casting.enlarged import Enlarged


def coarse() -> np.ndarray:
    """Return a mask of 20 x 30 px with something in it, away from its border."""
    mask = np.zeros((20, 30), bool)
    mask[3:11, 5:21] = np.random.default_rng(1).random((8, 16)) > 0.4
    mask[3, 5] = mask[10, 20] = True
    return mask


@pytest.mark.parametrize("part", [np.s_[:, :], np.s_[7:50], np.s_[20:31:3, 5::4], np.s_[4:4, :], np.s_[30:90, 100:130]])
def test_what_is_cut_is_what_the_whole_mask_shows_there(part: tuple[slice, slice]) -> None:
    whole = np.kron(coarse(), np.ones((4, 5), bool))
    np.testing.assert_array_equal(Enlarged.over(coarse(), whole.shape)[part], whole[part])


def test_the_rectangle_around_it_is_that_of_the_whole_mask_and_a_cut_of_it_is_the_same_mask() -> None:
    large = Enlarged.over(coarse(), (80, 150))
    top, left, box = large.box(3)
    assert (top, left) == (4 * 3 - 3, 5 * 5 - 3)
    assert box == np.s_[9:47, 22:108]
    np.testing.assert_array_equal(large.cut(box)[:, :], large[box])
    assert Enlarged.over(np.zeros((4, 4), bool), (8, 8)).box(2) == (0, 0, np.s_[0:0, 0:0])


def test_a_mask_thinned_to_a_level_is_the_nearest_pixel_of_the_whole_one() -> None:
    whole = np.kron(coarse(), np.ones((4, 5), bool))
    thin = cv2.resize(whole.view(np.uint8), (75, 40), interpolation=cv2.INTER_NEAREST).view(bool)
    np.testing.assert_array_equal(Enlarged.over(coarse(), whole.shape).fitted((40, 75))[:, :], thin)
