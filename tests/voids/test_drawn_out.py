"""Voids behind a bent surface look drawn out, and by how much is read from the two edges of their rings."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade import optics
from bubblegrade.voids.drawn_out import drawn_out
from bubblegrade.voids.table import Voids

SIDE_PX = 90
THETA = 0.62  # half-angle of the light inside the resin, radians: 85 % of the widest
Image = np.ndarray


def void(radius_px: float, *, ratio: float = 1.0, along: float = 0.0, unlike: float = 1.0) -> Image:
    """Return the darkness of a void that is `ratio` times as wide across as along; its light `unlike` times as wide."""
    offset = np.arange(SIDE_PX) - SIDE_PX / 2 + 0.5
    right, down = np.meshgrid(offset, offset)
    on = (right * math.cos(along) + down * math.sin(along)) * math.sqrt(ratio) / radius_px
    off = (-right * math.sin(along) + down * math.cos(along)) / math.sqrt(ratio) / radius_px
    b, way = np.hypot(on, off), np.arctan2(off, on)
    lights = THETA * unlike ** np.linspace(-0.5, 0.5, 9)  # from along to across
    rings = np.stack([optics.darkness(b, float(light)) for light in lights])
    nearest = np.rint((np.sin(way) ** 2) * (len(lights) - 1)).astype(int)
    sharp = np.take_along_axis(rings, nearest[None], axis=0)[0]
    return np.asarray(cv2.GaussianBlur(sharp.astype(np.float32), (0, 0), 0.8))


def body(count: int, *, radius_px: float = 15.0, **drawn: float) -> tuple[Image, Voids]:
    """Return a row of such voids and their table."""
    picture = np.concatenate([void(radius_px, **drawn) for _ in range(count)], axis=1)
    middle = np.arange(count) * SIDE_PX + SIDE_PX / 2 - 0.5
    rows = np.full(count, SIDE_PX / 2 - 0.5)
    return picture, Voids.of(
        x_px=middle, y_px=rows, diameter_px=np.full(count, 2 * radius_px), edge_width_px=np.full(count, 2.0)
    )


@settings(max_examples=25, deadline=None)
@given(st.floats(1.0, 1.4), st.floats(0.0, math.pi), st.floats(11.0, 20.0))
def test_the_ratio_of_width_to_length_is_read_at_any_angle_and_size(ratio: float, along: float, radius: float) -> None:
    found = drawn_out(*body(6, radius_px=radius, ratio=ratio, along=along), along=along)
    assert found is not None
    assert found.share == pytest.approx(math.log(ratio) / 2, abs=0.02)
    across = drawn_out(*body(6, radius_px=radius, ratio=ratio, along=along), along=along + math.pi / 2)
    assert across is not None
    assert across.share == pytest.approx(-found.share, abs=1e-3)


def test_light_that_is_wider_across_moves_the_ring_and_hardly_what_is_read() -> None:
    # b_o = cos(theta / 2) and b_c of optics.py, at 0.62 times or over the root of 1.2: the outer edge alone would say
    wide, narrow = (math.log(optics.ring_share(THETA * 1.2**power)) for power in (0.5, -0.5))
    outer = (wide - narrow) / 2
    assert outer == pytest.approx(-0.009, abs=0.001)
    found = drawn_out(*body(6, unlike=1.2), along=0.0)
    assert found is not None
    assert abs(found.share) < 0.03


def test_another_void_across_the_edge_is_left_out_of_the_form() -> None:
    dark, voids = body(6, ratio=1.2)
    for x in voids.x_px:
        cv2.circle(dark, (int(x) + 17, int(voids.y_px[0]) + 8), 6, 0.8, 2, cv2.LINE_AA)
    found = drawn_out(dark, voids, along=0.0)
    assert found is not None
    assert found.share == pytest.approx(math.log(1.2) / 2, abs=0.02)


def test_voids_drawn_out_every_way_are_a_spread_and_no_curve() -> None:
    pictures = [body(1, ratio=1.3, along=way) for way in np.arange(8) * math.pi / 8]
    dark = np.concatenate([picture for picture, _ in pictures], axis=1)
    _, voids = body(8)
    found = drawn_out(dark, voids, along=0.0)
    assert found is not None
    assert found.share == pytest.approx(0.0, abs=0.01)
    assert found.spread > 0.06


def test_too_few_small_soft_or_cut_voids_tell_nothing() -> None:
    dark, voids = body(6)
    assert drawn_out(dark, voids, along=0.0) is not None
    assert drawn_out(dark, voids[:4], along=0.0) is None
    unclear = {"edge_width_px": np.full(6, 9.0), "cut": np.ones(6, bool), "diameter_px": np.full(6, 11.0)}
    columns = {name: getattr(voids, name) for name in ("x_px", "y_px", "diameter_px", "edge_width_px")}
    for name, column in unclear.items():
        assert drawn_out(dark, Voids.of(**columns | {name: column}), along=0.0) is None
    assert drawn_out(np.zeros_like(dark), voids, along=0.0) is None
