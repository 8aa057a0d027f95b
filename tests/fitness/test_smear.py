"""Motion: pictures averaged over a known row of shifts are told as long, and along the direction, of that row."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from bubblegrade.fitness.smear import smear_of

SIDE = 400
ALONG = np.sin(np.pi * (np.arange(SIDE) + 0.5) / SIDE)
FADE = np.asarray(ALONG[:, None] * ALONG, np.float32)
RIGHT, DOWN, ASLANT = (1, 0), (0, 1), (1, 1)


def voids(seed: int = 0, count: int = 60) -> np.ndarray:
    """Return the light past dark rings of 8 to 40 px, on a field that goes round."""
    rng = np.random.default_rng(seed)
    light = np.ones((SIDE, SIDE))
    y, x = np.mgrid[:SIDE, :SIDE]
    for left, top, radius in zip(*rng.uniform(0, SIDE, (2, count)), rng.uniform(4, 20, count), strict=True):
        away = np.hypot(*((place + SIDE / 2) % SIDE - SIDE / 2 for place in (x - left, y - top)))
        light -= 0.6 * np.clip(radius + 0.5 - away, 0, 1) * np.clip(away / radius, 0, 1) ** 2
    return light


def smeared(light: np.ndarray, steps: int, direction: tuple[int, int]) -> np.ndarray:
    """Return the mean of the picture at so many steps of a pixel along a direction."""
    across, down = direction
    return np.mean([np.roll(light, (step * down, step * across), (0, 1)) for step in range(steps)], axis=0)


def seen(light: np.ndarray, noise: float = 0.004, seed: int = 1) -> np.ndarray:
    """Return a picture as the check hands it on: noisy, about its clear light."""
    noisy = light + np.random.default_rng(seed).normal(0.0, noise, light.shape)
    return np.asarray(noisy - np.median(noisy), np.float32)


@pytest.mark.parametrize("direction", [RIGHT, DOWN, ASLANT])
@pytest.mark.parametrize("steps", [5, 6, 8, 11, 15])
def test_motion_is_told_to_a_tenth_and_its_direction_to_a_sector(steps: int, direction: tuple[int, int]) -> None:
    smear = smear_of(seen(smeared(voids(), steps, direction)), FADE)
    assert smear.length_px == pytest.approx(steps * math.hypot(*direction), rel=0.1)
    assert math.degrees(smear.direction) == pytest.approx(math.degrees(math.atan2(direction[1], direction[0])), abs=16)
    assert smear.notched


@pytest.mark.parametrize("count", [6, 60, 300])
@pytest.mark.parametrize("seed", [3, 4, 5])
def test_what_did_not_move_reads_less_than_three_pixels(count: int, seed: int) -> None:
    assert smear_of(seen(voids(seed, count)), FADE).length_px < 3.0


def test_a_fibre_is_no_motion() -> None:
    y, x = np.mgrid[:SIDE, :SIDE]
    fibre = np.where(np.abs(y - 150 - 0.3 * x) < 1.5, 0.4, 1.0)
    assert not smear_of(seen(voids(2, 6) * fibre), FADE).length_px > 4.0


@pytest.mark.parametrize("apart", [8, 11, 14, 20])
def test_steep_edges_beside_each_other_are_no_motion(apart: int) -> None:
    y, x = np.mgrid[:SIDE, :SIDE]
    off = np.hypot(x - 200, y + 400) - 600
    rim = np.where((np.abs(off) < 1.5) | (np.abs(off - apart) < 1.5), 0.3, 1.0)
    assert not smear_of(seen(voids(2, 3) * rim), FADE).length_px > 4.0


@pytest.mark.parametrize("steps", [8, 14, 20])
def test_sharpening_as_cameras_do_it_hides_no_motion(steps: int) -> None:
    light = np.asarray(smeared(voids(), steps, RIGHT), np.float32)
    sharpened = light + 1.0 * (light - cv2.GaussianBlur(light, (0, 0), 2.0))
    assert smear_of(seen(sharpened), FADE).length_px == pytest.approx(steps, rel=0.1)


def test_where_noise_hides_the_notch_the_length_is_the_least_that_it_can_be() -> None:
    smear = smear_of(seen(smeared(voids(), 6, RIGHT), noise=0.15), FADE)
    assert not smear.notched
    assert not smear.length_px > 6.6


def test_a_picture_of_nothing_tells_of_no_motion() -> None:
    smear = smear_of(np.zeros((96, 96), np.float32), np.ones((96, 96), np.float32))
    assert np.isnan(smear.length_px)
    assert np.isnan(smear.direction)
