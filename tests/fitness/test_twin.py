"""A second picture: pictures added to themselves at a known strength and shift are told by both."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.fitness.twin import twin_of
from tests.fitness.test_smear import FADE, SIDE, seen, smeared, voids


def twice(light: np.ndarray, share: float, shift: tuple[int, int]) -> np.ndarray:
    """Return the picture with a share of its light in a second one, shifted by x and y."""
    across, down = shift
    return (1.0 - share) * light + share * np.roll(light, (down, across), (0, 1))


def faded(light: np.ndarray) -> np.ndarray:
    """Return a picture as the check hands it on, fading to its border."""
    return seen(light) * FADE


@pytest.mark.parametrize("shift", [(10, 0), (0, -31), (-20, 24)])
@pytest.mark.parametrize("share", [0.2, 0.3, 0.4])
def test_the_share_of_a_second_picture_is_told_to_a_fifth_and_its_shift_to_a_pixel(
    share: float, shift: tuple[int, int]
) -> None:
    twin = twin_of(faded(twice(voids(), share, shift)))
    assert twin.share == pytest.approx(share, rel=0.2)
    assert twin.shift_px == pytest.approx(math.hypot(*shift), abs=1.0)


@pytest.mark.parametrize("count", [6, 60, 300])
@pytest.mark.parametrize("seed", [3, 4, 5])
def test_what_was_taken_once_has_no_second_picture(count: int, seed: int) -> None:
    assert twin_of(faded(voids(seed, count))).share == 0.0


def test_voids_of_one_size_or_drawn_out_by_motion_are_no_second_picture() -> None:
    pair = np.minimum(voids(7, 1), np.roll(voids(7, 1), 25, 1))
    assert not twin_of(faded(np.minimum(pair, voids(8, 12)))).share > 0.0
    assert not twin_of(faded(smeared(voids(), 12, (1, 0)))).share > 0.0


def test_two_voids_of_one_size_in_a_clear_casting_are_no_second_picture() -> None:
    y, x = np.mgrid[:SIDE, :SIDE]
    away = [np.hypot(x - left, y - top) for left, top in ((150, 200), (174, 200), (280, 130))]
    light = 1.0 - sum(0.6 * np.clip(9.5 - each, 0, 1) * np.clip(each / 9, 0, 1) ** 2 for each in away)
    assert not twin_of(faded(light)).share > 0.0


def test_a_picture_of_nothing_tells_of_no_second_one() -> None:
    assert math.isnan(twin_of(np.zeros((SIDE, SIDE), np.float32)).share)
