"""A coin on the light is found among what else lies there, and its edge measured to a fraction of a pixel."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from bubblegrade.errors import PhotoError
from bubblegrade.photo.disc import MOST_TILT, find_disc

Light = NDArray[np.float32]
FINE = 8


def ellipse_share(
    shape: tuple[int, int], x: float, y: float, long: float, short: float, turn: float = 0.0
) -> NDArray[np.float64]:
    """Return the share of each pixel's area that an ellipse covers, (rows, cols)."""
    reach = math.ceil(max(long, short) / 2) + 1
    ends = [(max(round(at) - reach, 0), min(round(at) + reach + 1, n)) for at, n in zip((y, x), shape, strict=True)]
    rows, cols = (low - 0.5 + (np.arange((high - low) * FINE) + 0.5) / FINE for low, high in ends)
    dx, dy = cols[None, :] - x, rows[:, None] - y
    along, across = dx * math.cos(turn) + dy * math.sin(turn), dy * math.cos(turn) - dx * math.sin(turn)
    fine = np.hypot(along / (long / 2), across / (short / 2)) < 1.0
    (top, bottom), (left, right) = ends
    share = np.zeros(shape)
    share[top:bottom, left:right] = fine.reshape(bottom - top, FINE, right - left, FINE).mean(axis=(1, 3))
    return share


def on_light(*bodies: NDArray[np.float64], blur: float = 1.0, slope: float = 0.0, through: float = 0.01) -> Light:
    """Return a light, uneven by `slope` from left to right, with opaque bodies on it, and noise."""
    rows, cols = bodies[0].shape
    light = 0.7 * (1.0 + slope * np.linspace(-0.5, 0.5, cols)) * np.ones((rows, 1))
    for body in bodies:
        light = light * (1.0 - body) + through * body
    light = cv2.GaussianBlur(light, (0, 0), blur)
    light += 0.004 * np.random.default_rng(3).standard_normal(light.shape)
    return np.asarray(np.clip(light, 0.0, 1.0), np.float32)


SHAPE = (420, 560)


@pytest.mark.parametrize("blur", [0.6, 1.5, 3.0])
@pytest.mark.parametrize("slope", [0.0, 0.5])
def test_a_round_disc_is_measured_to_a_quarter_of_a_pixel(blur: float, slope: float) -> None:
    disc = find_disc(on_light(ellipse_share(SHAPE, 130.3, 211.8, 151.4, 151.4), blur=blur, slope=slope))
    assert disc.long_px == pytest.approx(151.4, abs=0.25)
    assert disc.short_px == pytest.approx(151.4, abs=0.25)
    assert (disc.x_px, disc.y_px) == pytest.approx((130.3, 211.8), abs=0.15)
    assert disc.long_err_px < 0.5


@pytest.mark.parametrize("turn", [0.0, 0.6, 1.5, 2.4])
def test_a_disc_seen_from_aside_has_both_axes_and_its_turn(turn: float) -> None:
    disc = find_disc(on_light(ellipse_share(SHAPE, 140.0, 200.0, 150.0, 141.0, turn)))
    assert (disc.long_px, disc.short_px) == pytest.approx((150.0, 141.0), abs=0.3)
    assert math.remainder(disc.turn_rad - turn, math.pi) == pytest.approx(0.0, abs=0.03)
    assert math.degrees(disc.tilt_rad) == pytest.approx(math.degrees(math.acos(141 / 150)), abs=1.0)
    (x0, y0), (x1, y1) = disc.ends_px
    assert math.hypot(x1 - x0, y1 - y0) == pytest.approx(disc.long_px)


def test_gleams_on_the_coin_and_dirt_at_its_rim_do_not_move_its_edge() -> None:
    light = on_light(ellipse_share(SHAPE, 130.0, 210.0, 150.0, 150.0))
    cv2.circle(light, (120, 200), 25, 0.6, -1)  # type: ignore[call-overload]
    cv2.line(light, (204, 210), (230, 214), 0.05, 3)  # type: ignore[call-overload]
    disc = find_disc(light)
    assert disc.long_px == pytest.approx(150.0, abs=0.5)


def test_a_clear_casting_beside_it_is_not_the_disc() -> None:
    casting = 0.1 * ellipse_share(SHAPE, 380.0, 210.0, 300.0, 300.0)
    disc = find_disc(on_light(casting, ellipse_share(SHAPE, 110.0, 210.0, 120.0, 120.0)))
    assert disc.x_px == pytest.approx(110.0, abs=0.2)


def test_a_square_block_is_no_disc() -> None:
    block = np.zeros(SHAPE)
    block[150:260, 60:170] = 1.0
    with pytest.raises(PhotoError, match=r"^cup\.jpg: no coin or disc on the bare light is in view: "):
        find_disc(on_light(block), name="cup.jpg")


@pytest.mark.parametrize("corners", [5, 6])
def test_a_block_with_corners_gives_no_scale(corners: int) -> None:
    turn = 0.05 + 2 * np.pi * np.arange(corners) / corners
    line = np.stack([130 + 60 * np.cos(turn), 210 + 60 * np.sin(turn)], axis=1)
    block = cv2.fillPoly(np.zeros(SHAPE), [np.rint(line).astype(np.int32)], 1.0)  # type: ignore[call-overload]
    with pytest.raises(PhotoError, match=r"^cup\.jpg: the edge of what looks like a disc is not clear and round: "):
        find_disc(on_light(block), name="cup.jpg")


def test_a_disc_cut_by_the_frame_is_no_disc() -> None:
    with pytest.raises(PhotoError, match="no coin or disc"):
        find_disc(on_light(ellipse_share(SHAPE, 60.0, 210.0, 150.0, 150.0)))


def test_a_disc_on_dark_ground_is_no_disc() -> None:
    with pytest.raises(PhotoError, match="no coin or disc"):
        find_disc(np.full(SHAPE, 0.5, np.float32))


def test_two_discs_leave_it_open_which_is_meant() -> None:
    two = [ellipse_share(SHAPE, x, 210.0, 120.0, 120.0) for x in (110.0, 440.0)]
    with pytest.raises(PhotoError, match="2 discs are in view: leave only the one that is measured"):
        find_disc(on_light(*two))


def test_a_small_dot_beside_it_is_passed_over() -> None:
    dot = ellipse_share(SHAPE, 440.0, 210.0, 40.0, 40.0)
    disc = find_disc(on_light(ellipse_share(SHAPE, 130.0, 210.0, 150.0, 150.0), dot))
    assert disc.x_px == pytest.approx(130.0, abs=0.2)


def test_a_disc_seen_from_too_far_aside_is_refused() -> None:
    short = 150.0 * math.cos(MOST_TILT + 0.06)
    with pytest.raises(PhotoError, match="photograph from straight above, 25 degrees at most"):
        find_disc(on_light(ellipse_share(SHAPE, 130.0, 210.0, 150.0, short)))


def test_the_region_covers_the_disc_and_its_margin() -> None:
    disc = find_disc(on_light(ellipse_share(SHAPE, 130.0, 210.0, 150.0, 150.0)))
    region = disc.region(SHAPE, margin=1.1)
    assert region.sum() == pytest.approx(math.pi / 4 * 165.0**2, rel=0.02)
    assert not region[210, 400]
