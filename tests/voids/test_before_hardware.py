"""Voids in front of a wire, drawn by Snell's law: the core shows the wire small, the ring hides it."""

import cv2
import numpy as np
import pytest

from bubblegrade import optics
from bubblegrade.voids.before_hardware import before_hardware, coloured
from bubblegrade.voids.table import Voids

SIDE, MIDDLE = 400, (200.0, 200.0)
STEEL = 0.93  # darkness of a wire on a light (common practice: hardly anything comes back from below)
THETA = np.radians(38.0)
DEEP = 8.0  # radii from the void down to the wire


def wire(x, y, *, turn, wide):
    """Say where a wire through the middle lies."""
    across = (y - MIDDLE[1]) * np.cos(turn) - (x - MIDDLE[0]) * np.sin(turn)
    return np.abs(across) < wide / 2


def picture(voids, *, turn=0.0, wide=30.0, blur=0.8, noise=0.01):
    """Return darkness and the wire's pixels; each void is x, y and radius."""
    y, x = np.mgrid[:SIDE, :SIDE].astype(np.float64)
    seen = np.where(wire(x, y, turn=turn, wide=wide), STEEL, 0.0)
    for at_x, at_y, radius in voids:
        rho = np.hypot(x - at_x, y - at_y) / radius
        inside, b = rho < 1, np.minimum(rho, 1.0)
        bent = np.minimum(optics.turned(b), THETA)
        far = (b + DEEP * np.tan(bent)) / np.maximum(b, 1e-6)
        behind = wire(at_x + (x - at_x) * far, at_y + (y - at_y) * far, turn=turn, wide=wide)
        ring = optics.darkness(b, THETA, wall=0.5)
        core = b < optics.core_share(THETA)
        seen = np.where(inside, np.where(core & behind, STEEL, ring), seen)
    seen = cv2.GaussianBlur(seen, (0, 0), blur) + np.random.default_rng(1).normal(0, noise, seen.shape)
    return seen.astype(np.float32), seen > 0.5


def found(voids, **how):
    """Return what is found in a picture that is judged all over."""
    blur = how.get("blur", 0.8)
    darkness, dark = picture(voids, **how)
    _, marks, size, _ = cv2.connectedComponentsWithStats(dark.astype(np.uint8), connectivity=8)
    solid = marks == 1 + size[1:, cv2.CC_STAT_AREA].argmax()
    return before_hardware(darkness, solid, Voids.none(), lambda x, _: np.full(len(x), 1e3), blur_px=blur, noise=0.01)


@pytest.mark.parametrize("radius", [5.0, 8.0, 12.0])
@pytest.mark.parametrize("turn", [0.0, 0.4, 1.2])
def test_a_void_over_a_wire_is_found_where_it_is_and_as_large_as_its_uncertainty_says(radius, turn):
    void = found([(*MIDDLE, radius)], turn=turn, wide=15.0)
    assert len(void) == 1
    assert np.hypot(void.x_px[0] - MIDDLE[0], void.y_px[0] - MIDDLE[1]) < 0.3 * radius
    assert abs(void.diameter_px[0] - 2 * radius) < 1.96 * void.diameter_err_px[0]


@pytest.mark.parametrize("beside", [-0.4, 0.4])
def test_a_void_half_beside_a_wire_is_one_find(beside):
    radius, edge = 11.0, 15.0
    void = found([(MIDDLE[0], MIDDLE[1] + edge + beside * radius, radius)])
    assert len(void) == 1
    assert abs(np.log(void.diameter_px[0] / (2 * radius))) < np.log(1.5)


def test_a_bare_wire_shows_nothing():
    for wide in (6.0, 15.0, 40.0):
        assert not len(found([], wide=wide, noise=0.03))


def test_the_bright_wedge_between_two_wires_is_no_void():
    y, x = np.mgrid[:SIDE, :SIDE].astype(np.float64)
    both = wire(x, y, turn=0.0, wide=20) | wire(x, y, turn=0.5, wide=20)
    darkness = cv2.GaussianBlur(np.where(both, STEEL, 0.0), (0, 0), 0.8).astype(np.float32)
    assert not len(
        before_hardware(darkness, both, Voids.none(), lambda x, _: np.full(len(x), 1e3), blur_px=0.8, noise=0.005)
    )


def test_gleams_in_the_dark_rim_beside_the_border_are_left_alone():
    darkness, dark = picture([(*MIDDLE, 8.0)])
    near = before_hardware(darkness, dark, Voids.none(), lambda x, _: np.full(len(x), 30.0), blur_px=0.8, noise=0.01)
    assert not len(near)


def test_no_hardware_is_an_ordinary_answer():
    darkness, _ = picture([])
    nothing = np.zeros(darkness.shape, bool)
    assert not len(
        before_hardware(darkness, nothing, Voids.none(), lambda x, _: np.full(len(x), 1e3), blur_px=0.8, noise=0.01)
    )


def test_a_void_that_is_counted_already_is_not_found_again():
    darkness, dark = picture([(*MIDDLE, 9.0)])
    known = Voids.of(x_px=[MIDDLE[0] + 2], y_px=[MIDDLE[1]], diameter_px=[18.0])
    assert not len(before_hardware(darkness, dark, known, lambda x, _: np.full(len(x), 1e3), blur_px=0.8, noise=0.01))


@pytest.mark.parametrize(("tint", "shown", "told"), [
    ((1.0, 1.0, 1.0), (1.0, 1.0, 1.0), False),
    ((0.55, 0.8, 1.0), (0.55, 0.8, 1.0), False),  # a void in amber resin
    ((1.0, 1.0, 1.0), (0.4, 0.75, 1.0), True),  # a flake of gold
    ((0.55, 0.8, 1.0), (1.0, 1.0, 1.0), True),  # one of silver in amber resin
])  # fmt: skip
def test_a_flake_before_a_wire_is_told_by_its_colour(tint, shown, told):
    darkness, _ = picture([(*MIDDLE, 8.0)], noise=0.0)
    codes = 200 * np.array(tint) * np.repeat(1 - darkness[..., np.newaxis], 3, axis=2)
    y, x = np.mgrid[:SIDE, :SIDE]
    codes[np.hypot(y - MIDDLE[1], x - MIDDLE[0]) < 6] = 150 * np.array(shown)
    codes = (codes + np.random.default_rng(2).normal(0, 4, codes.shape)).clip(0, 255).astype(np.uint8)
    finds = Voids.of(x_px=[MIDDLE[0]], y_px=[MIDDLE[1]], diameter_px=[16.0])
    assert coloured(codes, darkness, finds).tolist() == [told]
    assert coloured(codes[..., 0], darkness, finds).tolist() == [False]  # a grey picture has no colours
