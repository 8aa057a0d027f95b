"""A part of a photograph that is blurred is told, and where it lies; even blur is not."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.fitness.check import Check, Verdict
from bubblegrade.fitness.softest import LEAST_VOIDS, softest_place
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

Draw = Callable[..., np.ndarray]
CheckOf = Callable[..., Check]
PLACES = np.argwhere(np.ones((8, 8))).astype(np.float64)


def graded(picture: np.ndarray) -> Casting:
    """Return a picture graded."""
    return grade(Photo("cup.png", picture, "0" * 64), Request(), Settings())


@pytest.mark.parametrize("blur_px", [3.0, 4.0])
def test_a_blurred_half_asks_for_care_where_it_lies(blur_px: float, drawn: Draw, check_of: CheckOf) -> None:
    casting = graded(spoiled.half_defocused(drawn(11), blur_px))
    found = check_of(casting.fitness, "partial_blur")
    assert found.verdict is Verdict.CARE
    assert found.place.bounds_px is not None
    assert found.place.bounds_px[0] > 300.0  # right of the middle of 640 px


@pytest.mark.parametrize("blur_px", [0.0, 2.5])
def test_even_blur_is_not_a_part_s(blur_px: float, drawn: Draw, check_of: CheckOf) -> None:
    picture = drawn(11) if blur_px == 0.0 else spoiled.defocused(drawn(11), blur_px)
    assert check_of(graded(picture).fitness, "partial_blur").verdict is Verdict.FIT


def test_what_neighbours_share_beyond_the_sharper_ones_is_told_in_quadrature() -> None:
    blur_px2 = np.where(PLACES[:, 0] < 2, 2.5**2, 0.7**2)
    softest = softest_place(PLACES, blur_px2)
    assert softest.further_px == pytest.approx(math.sqrt(2.5**2 - 0.7**2))
    assert softest.at_px[:, 0].max() <= 3


def test_blur_that_differs_from_void_to_void_is_no_place_s() -> None:
    one_of_four = (np.arange(64) % 8 % 4 == 0) & (np.arange(64) // 8 % 2 == 0)
    assert softest_place(PLACES, np.where(one_of_four, 9.0, 0.5)).further_px == 0.0


def test_few_voids_do_not_tell() -> None:
    few = slice(LEAST_VOIDS - 1)
    assert math.isnan(softest_place(PLACES[few], np.ones(64)[few]).further_px)
