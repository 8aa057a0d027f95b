"""Noise reads as strong as it was laid on, also after a camera smoothed it, and raises the smallest countable size."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.fitness.check import Check, Fitness, Verdict
from bubblegrade.fitness.checks import Said, check_photo
from bubblegrade.fitness.noise import SMALLEST_PX
from bubblegrade.grading_run import Request, grade
from bubblegrade.photo.reading import Photo, read_photo
from bubblegrade.settings import Settings

Draw = Callable[..., np.ndarray]
CheckOf = Callable[..., Check]


def noisy(picture: np.ndarray, share: float) -> np.ndarray:
    """Return the picture, grey, with noise of this share of its light in each pixel."""
    grey = np.repeat(picture[..., 1:2], 3, axis=2)
    noise = np.random.default_rng(4).standard_normal((*picture.shape[:2], 1))
    return spoiled.exposed(grey, 1.0 + share * noise)


@pytest.mark.parametrize("share", [0.06, 0.1, 0.15, 0.2])
def test_noise_reads_as_strong_as_it_is_to_a_sixth(
    share: float, drawn: Draw, checked: Callable[..., Fitness], check_of: CheckOf
) -> None:
    check = check_of(checked(noisy(drawn(12, 15, level=0.4, electrons=50_000.0), share)), "noise")
    assert check.value == pytest.approx(share, rel=1 / 6)


@pytest.mark.parametrize("smooth", [lambda p: cv2.medianBlur(p, 3), lambda p: cv2.GaussianBlur(p, (0, 0), 1.0)])
def test_noise_that_a_camera_smoothed_asks_for_care_all_the_same(
    smooth: Callable[[np.ndarray], np.ndarray], drawn: Draw, checked: Callable[..., Fitness], check_of: CheckOf
) -> None:
    assert check_of(checked(drawn(12, 15, level=0.4)), "noise").verdict is Verdict.FIT
    check = check_of(checked(smooth(noisy(drawn(12, 15, level=0.4), 0.18))), "noise")
    assert check.verdict is Verdict.CARE
    assert check.line.endswith("expose longer, at the camera's lowest ISO")


def test_noise_raises_the_smallest_countable_size_in_proportion(drawn: Draw) -> None:
    def smallest_px(share: float) -> float:
        picture = noisy(drawn(11, level=0.4), share)
        return grade(Photo("cup.png", picture, "0" * 64), Request(), Settings()).sizes_px.smallest

    assert smallest_px(0.02) == pytest.approx(SMALLEST_PX, abs=0.5)
    assert smallest_px(0.18) == pytest.approx(2 * SMALLEST_PX, rel=0.2)


def test_resin_without_any_noise_was_smoothed_and_asks_for_care(
    drawn: Draw, checked: Callable[..., Fitness], check_of: CheckOf
) -> None:
    taken = drawn(12, 15, level=0.4)
    assert check_of(checked(taken), "smoothed").verdict is Verdict.FIT
    assert check_of(checked(cv2.GaussianBlur(taken, (0, 0), 1.0)), "smoothed").verdict is Verdict.FIT
    check = check_of(checked(cv2.fastNlMeansDenoisingColored(taken, None, 8, 8, 5, 15)), "smoothed")
    assert (check.verdict, check.value) == (Verdict.CARE, pytest.approx(0.0, abs=0.003))


def test_a_quiet_photograph_is_not_blamed_for_noise_that_jpeg_took(
    tmp_path: Path, drawn: Draw, check_of: CheckOf
) -> None:
    quiet = drawn(12, 15, level=0.4, electrons=10_000.0)
    for ending, verdict in (("png", Verdict.FIT), ("jpg", Verdict.CANNOT_TELL)):
        place = tmp_path / f"quiet.{ending}"
        cv2.imwrite(str(place), quiet, [cv2.IMWRITE_JPEG_QUALITY, 85])
        assert check_of(check_photo(read_photo(place), Said()), "smoothed").verdict is verdict
