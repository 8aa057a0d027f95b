"""Where the bare light shows through a casting."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from bubblegrade.casting.openings import openings
from bubblegrade.casting.outline import find_outline
from bubblegrade.grading.remarks import OPENED, on_opening
from bubblegrade.photo.light import grey_light

SIDE_PX, REACH_PX, BORE_PX = 300, 120, 40
RIM_PX, RIM_LIGHT = 3, 0.35
BARE = 0.6
NOTHING = np.zeros((SIDE_PX, SIDE_PX), bool)

Image = NDArray[np.float32]


def from_middle(side: int = SIDE_PX) -> Image:
    """Return the distance of each pixel from the middle of a square picture."""
    y, x = np.indices((side, side)) - (side - 1) / 2
    return np.hypot(x, y).astype(np.float32)


def ring(clear: float, *, bore: float = 1.0, rim: float = RIM_LIGHT, times: int = 1, bore_px: float = BORE_PX) -> Image:
    """Return the light of a disc of resin, and in its middle a bore of the light `bore` behind a rim."""
    away = from_middle(SIDE_PX * times) / times
    share = np.where(away < REACH_PX, clear, 1.0)
    share[(away < REACH_PX) & (away > REACH_PX - RIM_PX / times)] = RIM_LIGHT * clear
    share[(away > bore_px) & (away < bore_px + RIM_PX / times)] = rim * clear
    share[away < bore_px] = bore
    slope = 1 + 0.1 * np.linspace(-1, 1, len(away))
    return cv2.GaussianBlur((BARE * share * slope).astype(np.float32), (0, 0), 0.7)


@pytest.mark.parametrize("clear", [0.92, 0.6, 0.2])
def test_the_bore_of_a_ring_is_an_opening(clear: float) -> None:
    away = from_middle()
    found = openings(ring(clear), np.ones(away.shape, bool), away < REACH_PX, NOTHING)
    assert found.sum() == pytest.approx(np.pi * BORE_PX**2, rel=0.08)  # a pixel of its border is 5 %
    assert away[found].max() < BORE_PX + RIM_PX


@pytest.mark.parametrize("clear", [0.95, 0.6])
def test_the_opening_of_a_bangle_is_no_foot_of_a_cup(clear: float) -> None:
    """It is two thirds of what the outline encloses."""
    bore_px = 0.8 * REACH_PX
    outline = find_outline(ring(clear, times=4, bore_px=bore_px))
    assert outline is not None
    true = np.pi * (REACH_PX**2 - bore_px**2) * 16
    assert outline.area_px == pytest.approx(true, rel=0.04)
    assert outline.judged_area_px == pytest.approx(true, rel=0.04)
    assert on_opening(outline) == (OPENED,)


@pytest.mark.parametrize(("half_angle", "opens"), [(12, True), (25, True), (80, False)], ids=["narrow", "wide", "half"])
def test_the_bore_of_an_open_bangle_is_an_opening_where_the_outline_runs_across_its_mouth(
    half_angle: float, *, opens: bool
) -> None:
    bore_px = 0.85 * REACH_PX
    away, (y, x) = from_middle(), np.indices((SIDE_PX, SIDE_PX)) - (SIDE_PX - 1) / 2
    mouth = (np.abs(np.degrees(np.arctan2(y, x))) < half_angle) & (away > bore_px - 1) & (away < REACH_PX + 2)
    light = np.where(mouth, BARE * (1 + 0.1 * x / (SIDE_PX / 2)), ring(0.92, bore_px=bore_px)).astype(np.float32)
    found = openings(light, np.ones(away.shape, bool), away < REACH_PX, NOTHING)
    assert found.any() == opens
    bare = (away < bore_px) | mouth & (away < REACH_PX)
    assert not opens or found.sum() == pytest.approx(bare.sum(), rel=0.05)
    assert not found[(x < 0) & (away > bore_px + RIM_PX)].any()


def test_a_middle_that_gathers_light_within_a_dark_flank_is_no_opening() -> None:
    away = from_middle()
    lens = ring(0.5, bore=1.1, bore_px=0.8 * REACH_PX)
    assert not openings(lens, np.ones(away.shape, bool), away < REACH_PX, NOTHING).any()


@pytest.mark.parametrize(
    ("bore", "rim"), [(0.92**2, 0.05), (0.92, RIM_LIGHT), (1.0, 1.0), (0.3, 0.1)],
    ids=["a void", "a wire ring", "a light spot of no border", "a plug"],
)  # fmt: skip
def test_what_is_dimmer_than_the_bare_light_or_has_no_border_is_no_opening(bore: float, rim: float) -> None:
    away = from_middle()
    assert not openings(ring(0.92, bore=bore, rim=rim), np.ones(away.shape, bool), away < REACH_PX, NOTHING).any()


@pytest.mark.parametrize(("wire", "opens"), [(0.05, True), (RIM_LIGHT, False)], ids=["a loop of wire", "a dent"])
def test_a_loop_of_wire_at_the_outline_is_open(*, wire: float, opens: bool) -> None:
    """Its wire, 4 px wide, lets nothing through; the edge of resin lets through a third."""
    away, radius, wide = from_middle(), 12, 4
    y, x = np.indices(away.shape) - (SIDE_PX - 1) / 2
    loop = np.hypot(x - REACH_PX - radius + wide, y)
    share = np.where(away < REACH_PX, 0.92, 1.0)
    share[(loop < radius) & (loop >= radius - wide)] = wire
    share[loop < radius - wide] = 1.0
    light = cv2.GaussianBlur((BARE * share).astype(np.float32), (0, 0), 0.7)
    found = openings(light, np.ones(away.shape, bool), (away < REACH_PX) | (loop < radius), NOTHING)
    assert found.any() == opens
    assert not opens or found.sum() == pytest.approx(np.pi * (radius - wide) ** 2, rel=0.25)  # 1 px of border: 25 %


def test_nothing_opens_where_no_bare_light_is_seen() -> None:
    light = ring(0.92)
    whole = np.ones(light.shape, bool)
    assert not openings(light, whole, whole, ~whole).any()


def test_the_area_of_a_ring_is_that_of_its_resin() -> None:
    outline = find_outline(ring(0.92, times=4))
    assert outline is not None
    true = np.pi * (REACH_PX**2 - BORE_PX**2) * 16
    assert outline.area_px == pytest.approx(true, rel=0.02)
    assert outline.judged_area_px == pytest.approx(true, rel=0.02)
    assert len(outline.borders_px) == 2
    assert on_opening(outline) == ()


TINTS = {"amber": (0.4, 0.75, 1.0), "grey": (0.72, 0.72, 0.72), "the light's own": (1.0, 1.0, 1.0)}


@pytest.mark.parametrize(("tint", "middle", "opens"), [
    ("amber", "the light's own", True), ("amber", "amber", False), ("amber", "grey", False),
    ("grey", "the light's own", False),
])  # fmt: skip
def test_a_bore_of_straight_walls_shows_no_line_and_is_told_by_the_lights_colour(
    *, tint: str, middle: str, opens: bool
) -> None:
    """A bare middle in grey resin stays resin, as the flat of a cup that takes no light looks alike."""
    away = from_middle(4 * SIDE_PX) / 4
    shares = np.where((away < REACH_PX)[:, :, None], TINTS[tint], 1.0)
    shares[away < 0.7 * REACH_PX] = TINTS[middle]
    shares[(away < REACH_PX) & (away > REACH_PX - 1)] *= RIM_LIGHT
    linear = cv2.GaussianBlur((BARE * shares).astype(np.float32), (0, 0), 0.7)
    codes = np.rint(255 * linear ** (1 / 2.2)).astype(np.uint8)
    light = grey_light(codes)
    outline = find_outline(light, codes)
    assert outline is not None
    assert outline.opened.any() == opens
    within = find_outline(light)
    assert within is not None
    assert not within.opened.any()
    hole = 0.49 if opens else 0.0
    assert outline.area_px == pytest.approx(np.pi * REACH_PX**2 * 16 * (1 - hole), rel=0.03)
