"""Blur as the rings of voids show it: as strong as it was, where edges are too thin to tell, and it bounds counts."""

from __future__ import annotations

import math
from collections.abc import Callable

import cv2
import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.fitness.check import Check, Fitness, Verdict
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

Draw = Callable[..., np.ndarray]
CheckOf = Callable[..., Check]
OWN_PX = 0.7  # blur of the drawn photograph


def graded(picture: np.ndarray) -> Casting:
    """Return a picture graded."""
    return grade(Photo("cup.png", picture, "0" * 64), Request(), Settings())


@pytest.mark.parametrize("blur_px", [2.0, 2.5, 3.0])
def test_voids_tell_blur_to_a_fifth(blur_px: float, drawn: Draw, check_of: CheckOf) -> None:
    casting = graded(spoiled.defocused(drawn(11, blur_px=OWN_PX), blur_px))
    assert check_of(casting.fitness, "void_blur").value == pytest.approx(math.hypot(OWN_PX, blur_px), rel=0.2)


def test_blur_asks_for_care_and_raises_the_smallest_countable_size(drawn: Draw, check_of: CheckOf) -> None:
    sharp = graded(drawn(11, blur_px=OWN_PX))
    soft = graded(spoiled.defocused(drawn(11, blur_px=OWN_PX), 2.5))
    assert check_of(sharp.fitness, "void_blur").verdict is Verdict.FIT
    assert check_of(soft.fitness, "void_blur").verdict is Verdict.CARE
    assert sharp.sizes_px.smallest < 6.0
    assert soft.sizes_px.smallest > 8.0


def test_few_voids_do_not_tell_blur(drawn: Draw, check_of: CheckOf) -> None:
    assert check_of(graded(drawn(31, 5)).fitness, "void_blur").verdict is Verdict.CANNOT_TELL


def enlarged(picture: np.ndarray) -> np.ndarray:
    """Return a picture at four times its pixels each way."""
    return cv2.resize(picture, None, fx=4.0, fy=4.0, interpolation=cv2.INTER_CUBIC)


def test_a_casting_of_more_pixels_bears_as_much_wider_edges_where_its_voids_tell_the_blur(
    drawn: Draw, checked: Callable[..., Fitness], check_of: CheckOf
) -> None:
    # The cup, of 240 px in radius, at four times the pixels; the usual size is 1,100 px, the root of its area.
    large = enlarged(drawn(11))
    more = math.sqrt(math.pi) * 960.0 / 1100.0
    fitness = graded(large).fitness
    assert check_of(graded(drawn(11)).fitness, "edge_width").limit.unfit == 5.0
    assert check_of(fitness, "edge_width").limit.unfit == pytest.approx(5.0 * more, rel=0.02)
    assert check_of(checked(large), "edge_width").limit.unfit == 5.0
    assert check_of(fitness, "motion").limit.unfit == 12.0


def test_voids_blurred_by_more_than_5_px_are_unfit_however_many_pixels_there_are(
    drawn: Draw, check_of: CheckOf
) -> None:
    soft = graded(spoiled.defocused(enlarged(drawn(11)), 6.0)).fitness
    assert check_of(soft, "void_blur").verdict is Verdict.UNFIT
    assert soft.verdict is Verdict.UNFIT


# Blurred so far, no ring tells, and edges hardly rise above the noise: three of eight such photographs passed for fit.
@pytest.mark.parametrize("blur_px", [12.0, 14.0])
def test_gross_defocus_is_unfit_though_no_void_is_left_to_tell_it(
    blur_px: float, drawn: Draw, check_of: CheckOf
) -> None:
    picture = drawn(11, width_px=1600, height_px=1600, casting_px=700.0)
    noise = np.random.default_rng(3).normal(0.0, 1.5, (1600, 1600, 1))
    blurred = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), blur_px)
    casting = graded(np.clip(blurred + noise, 0, 255).astype(np.uint8))
    edges = check_of(casting.fitness, "edge_width")
    assert edges.verdict is Verdict.UNFIT
    assert 10.0 < edges.value < 1.1 * 2.563 * blur_px
