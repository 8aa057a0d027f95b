"""Steep and flat tones ask for care, are straightened and widen diameters; tones as they were taken do nothing of that.

It is the one check that needs measured voids: graded photographs tell, photographs that are only checked do not.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.fitness.check import Check, Fitness, Verdict
from bubblegrade.fitness.tones import DOUBT, told_steepness
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

SIZES = np.linspace(16.0, 40.0, 16)  # px


def graded(picture: np.ndarray) -> Casting:
    """Return a picture graded."""
    return grade(Photo("cup.png", picture, "0" * 64), Request(), Settings())


@pytest.fixture(scope="module")
def picture() -> np.ndarray:
    """Return a drawn cup with large voids."""
    x, y = grid(np.linspace(200, 440, 4), np.linspace(200, 440, 4))
    scene = Scene(width_px=640, height_px=640, casting_px=250.0, x_px=x, y_px=y, diameter_px=SIZES, theta=0.62)
    return draw(scene).picture


def test_steep_tones_are_caught_and_their_diameters_hold_the_truth_all_the_same(
    picture: np.ndarray, check_of: Callable[..., Check]
) -> None:
    casting = graded(spoiled.steepened(picture, 2.0))
    found = check_of(casting.fitness, "tones")
    assert found.verdict is Verdict.CARE
    assert any(said.endswith("photograph in raw") for said in casting.warnings)
    assert len(casting.voids) == len(SIZES)
    share = casting.voids.diameter_err_px / casting.voids.diameter_px
    assert share.min() > DOUBT * math.log(found.value)
    off = np.abs(np.sort(casting.voids.diameter_px) - SIZES)
    assert np.mean(off < 1.96 * np.sort(casting.voids.diameter_err_px)) >= 0.9


@pytest.mark.parametrize("power", [1.6, 2.4])
def test_straightened_tones_give_the_light_and_the_sizes_of_the_photograph_as_taken(
    picture: np.ndarray, power: float
) -> None:
    taken, steep = graded(picture), graded(spoiled.steepened(picture, power))
    assert steep.passes == pytest.approx(taken.passes, abs=0.02)
    assert steep.clarity.score == pytest.approx(taken.clarity.score, abs=1.5)
    sizes = [np.sort(casting.voids.diameter_px) for casting in (taken, steep)]
    assert sizes[1] == pytest.approx(sizes[0], rel=0.012)


@pytest.mark.parametrize("power", [0.4, 0.5, 0.6])
def test_flat_tones_ask_for_care_and_leave_no_more_than_1_5_percent_of_size(
    picture: np.ndarray, power: float, check_of: Callable[..., Check]
) -> None:
    taken, pale = graded(picture), graded(spoiled.steepened(picture, power))
    assert check_of(taken.fitness, "flat_tones").verdict is Verdict.FIT
    assert check_of(pale.fitness, "flat_tones").verdict is Verdict.CARE
    assert 0.0 < pale.passes - taken.passes < 0.6 * (taken.passes**power - taken.passes)
    sizes = [np.sort(casting.voids.diameter_px) for casting in (taken, pale)]
    assert np.mean(sizes[1] / sizes[0]) == pytest.approx(1.0, abs=0.015)


def test_stray_light_over_the_picture_asks_for_care_and_its_diameters_hold_the_truth(
    picture: np.ndarray, check_of: Callable[..., Check]
) -> None:
    casting = graded(spoiled.hazed(picture, 0.6))
    assert check_of(casting.fitness, "flat_tones").verdict is Verdict.CARE
    off = np.abs(np.sort(casting.voids.diameter_px) - SIZES)
    assert np.mean(off < 1.96 * np.sort(casting.voids.diameter_err_px)) >= 0.9


@pytest.fixture(scope="module")
def small() -> np.ndarray:
    """Return a drawn cup whose voids are too small for their middles to be seen."""
    x, y = grid(np.linspace(200, 440, 4), np.linspace(200, 440, 4))
    sizes = np.linspace(8.0, 13.0, 16)
    scene = Scene(
        width_px=640, height_px=640, casting_px=250.0, x_px=x, y_px=y, diameter_px=sizes, theta=0.67, wall=0.5
    )
    return draw(scene).picture


@pytest.mark.parametrize(
    "spoil", [lambda picture: spoiled.steepened(picture, 0.45), lambda picture: spoiled.hazed(picture, 0.5)]
)
def test_voids_whose_middles_are_not_seen_tell_flat_tones_as_a_whole(
    small: np.ndarray, spoil: Callable[[np.ndarray], np.ndarray], check_of: Callable[..., Check]
) -> None:
    taken, pale = graded(small), graded(spoil(small))
    assert check_of(taken.fitness, "flat_tones").verdict is Verdict.CANNOT_TELL
    assert check_of(pale.fitness, "flat_tones").verdict is Verdict.CARE
    sizes = [np.sort(casting.voids.diameter_px) for casting in (taken, pale)]
    assert np.mean(sizes[1] / sizes[0]) == pytest.approx(1.0, abs=0.015)


@pytest.mark.parametrize("blur_px", [2.0, 3.0])
def test_blur_is_not_told_as_flat_tones(blur_px: float, check_of: Callable[..., Check]) -> None:
    lure = cv2.imread(str(Path(__file__).parents[2] / "sample_images" / "lure-plain-a.jpg"))
    casting = graded(spoiled.defocused(lure, blur_px))
    assert len(casting.voids) >= 20
    assert check_of(casting.fitness, "flat_tones").verdict is Verdict.CANNOT_TELL


@pytest.mark.parametrize(("pale", "passes"), [(0.5, 0.92), (0.1, 0.92), (-1.0, math.nan)])
def test_pale_middles_tell_nothing_where_resin_is_no_clearer_than_fresnel_allows(pale: float, passes: float) -> None:
    assert math.isnan(told_steepness(pale, (math.nan, math.nan), lambda: passes, index=1.5))


def test_tones_nearly_as_they_were_taken_pass_and_widen_nothing(
    picture: np.ndarray, check_of: Callable[..., Check]
) -> None:
    casting = graded(spoiled.steepened(picture, 1.1))
    assert check_of(casting.fitness, "tones").verdict is Verdict.FIT
    assert np.median(casting.voids.diameter_err_px / casting.voids.diameter_px) < 0.012


def test_a_photograph_that_is_only_checked_does_not_tell(
    picture: np.ndarray, checked: Callable[..., Fitness], check_of: Callable[..., Check]
) -> None:
    found = check_of(checked(picture), "tones")
    assert (found.verdict, found.fault) == (
        Verdict.CANNOT_TELL,
        "only grading measures voids, and enough of them must tell",
    )
