"""Parts of a coarse mask."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bubblegrade.casting.parts import STUB_SHARE, filled, largest, stub_px


def test_the_largest_part_is_kept_and_corners_do_not_join() -> None:
    mask = np.array([[1, 1, 0, 0], [1, 0, 1, 1], [0, 0, 0, 0]], bool)
    np.testing.assert_array_equal(largest(mask), [[1, 1, 0, 0], [1, 0, 0, 0], [0, 0, 0, 0]])


@pytest.mark.parametrize("value", [False, True])
def test_a_mask_of_one_part_or_none_stays_as_it_is(value: bool) -> None:  # noqa: FBT001
    mask = np.full((3, 4), value)
    np.testing.assert_array_equal(largest(mask), mask)
    np.testing.assert_array_equal(filled(mask), mask)


def test_holes_are_filled_and_bays_are_not() -> None:
    ring = cv2.circle(np.zeros((41, 41), np.uint8), (20, 20), 15, 1, 3).astype(bool)
    disc = cv2.circle(np.zeros((41, 41), np.uint8), (20, 20), 15, 1, -1).astype(bool)
    assert (filled(ring) & disc).sum() == disc.sum()
    ring[20, 20:] = False  # cut open
    np.testing.assert_array_equal(filled(ring), ring)


def test_a_stub_grows_with_the_casting() -> None:
    assert stub_px(np.ones((500, 500), bool)) == round(STUB_SHARE * 500)
    assert stub_px(np.ones((3, 3), bool)) == 1
