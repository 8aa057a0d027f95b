"""Wood, sheets and skeletons in a casting: they are no resin, and say nothing of it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from bubblegrade.casting.opaque import opaque_bodies, shows_resin
from bubblegrade.casting.outline import Outline, find_outline, whole_field
from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.grading.record import Request
from bubblegrade.grading_run import grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

SHAPE = 900, 1500
SCALE = (slice(250, 650), slice(200, 1300))  # a knife scale: rows, cols
BARE, WOOD, RIM = 0.6, 0.004, 0.35

Image = NDArray[np.float32]


def picture(share: Image) -> Image:
    """Return the noisy light that so large a share of the bare light leaves, (rows, cols)."""
    grain = np.random.default_rng(0).normal(0, 0.004, share.shape)
    return np.maximum(cv2.GaussianBlur(BARE * share, (0, 0), 0.8) + grain, 0).astype(np.float32)


def half_wood(resin: float, wooden: float) -> tuple[Image, int]:
    """Return the share of light that passes a scale of wood from one end on, and how many px are wood."""
    share = np.ones(SHAPE)
    share[SCALE] = resin
    top, left = SCALE[0].start, SCALE[1].start
    share[top : top + 400, left : left + 1100][:, [0, -1]] = RIM
    share[top : top + 400, left : left + 1100][[0, -1]] = RIM
    ends = left + 1100 * wooden + 40 * np.sin(np.arange(400) / 30)
    wood = (np.arange(SHAPE[1]) < ends[:, None]) & (np.arange(SHAPE[1]) >= left)
    share[SCALE[0]][wood] = WOOD
    return share.astype(np.float32), int(wood.sum())


def outlined(light: Image) -> Outline:
    """Return the outline that is found."""
    found = find_outline(light)
    assert found is not None
    return found


@pytest.mark.parametrize("resin", [0.92, 0.6])
@pytest.mark.parametrize("wooden", [0.2, 0.5, 0.7])
def test_the_outline_of_a_casting_of_wood_and_resin_holds_both_and_wood_tells_nothing_of_the_light(
    resin: float, wooden: float
) -> None:
    share, wood_px = half_wood(resin, wooden)
    outline = outlined(picture(share))
    assert outline.area_px == pytest.approx(400 * 1100, rel=0.02)
    assert outline.opaque.sum() * outline.step_px**2 == pytest.approx(wood_px, rel=0.03)
    assert outline.judged_area_px == outline.area_px
    assert np.quantile(outline.coarse[outline.clear], 0.05) > 0.9 * resin * BARE


def test_the_outline_of_a_lure_lies_around_the_printed_sheet_in_it() -> None:
    y, x = np.indices(SHAPE) - np.array(SHAPE)[:, None, None] / 2
    away = np.hypot(x / 560, y / 150)
    share = np.where(away < 1, 0.92, 1.0)
    share[(away < 1) & (away > 0.94)] = RIM
    sheet = np.hypot(x / 420, y / 90) < 1
    share[sheet] = 0.03
    outline = outlined(picture(share.astype(np.float32)))
    assert outline.area_px == pytest.approx(np.pi * 560 * 150, rel=0.02)
    assert outline.opaque.sum() * outline.step_px**2 == pytest.approx(sheet.sum(), rel=0.03)
    assert not outline.opened.any()


def test_resin_that_grows_dark_with_its_depth_is_no_opaque_body() -> None:
    y, x = np.indices((300, 300)) - 149.5
    depth = np.maximum(1 - np.hypot(x, y) / 130, 0)
    light = (BARE * np.exp(-4 * np.minimum(depth, 0.7))).astype(np.float32)
    casting = depth > 0
    assert light[150, 150] < 0.1 * light[150, 25]
    assert not opaque_bodies(light, casting, np.ones(light.shape, bool)).any()


def round_casting(passes: float, part: float, *, radius_px: float = 150.0, aside_px: float = 0.0) -> Image:
    """Return the share of light that passes a round casting, 330 px in radius, and a round part of it."""
    y, x = np.indices(SHAPE) - np.array(SHAPE)[:, None, None] / 2
    inner, outer = np.hypot(x - aside_px, y) < radius_px, np.hypot(x, y) < 330
    return np.select([inner, outer], [part, passes], 1.0).astype(np.float32)


@pytest.mark.parametrize("passes", [0.07, 0.1, 0.14])
def test_a_ring_of_deeply_tinted_resin_is_judged_and_its_opening_is_none_of_its_resin(passes: float) -> None:
    outline = outlined(picture(round_casting(passes, 1.0)))
    assert not outline.opaque.any()
    assert outline.judged_area_px == pytest.approx(np.pi * (330**2 - 150**2), rel=0.04)


@pytest.mark.parametrize(("passes", "is_body"), [(0.18, False), (0.15, False), (0.12, True), (WOOD, True)])
def test_a_second_pour_is_resin_where_it_passes_more_than_a_sheet_in_a_lit_room(
    passes: float, *, is_body: bool
) -> None:
    share = np.where(np.arange(SHAPE[1]) < 750, round_casting(passes, passes), round_casting(0.92, 0.92))
    outline = outlined(picture(share.astype(np.float32)))
    assert outline.opaque.any() == is_body
    assert outline.area_px == pytest.approx(np.pi * 330**2, rel=0.02)


def test_resin_in_a_frame_of_wood_is_resin_and_no_opening() -> None:
    outline = outlined(picture(round_casting(WOOD, 0.92, radius_px=180, aside_px=60)))
    assert not outline.opened.any()
    assert outline.area_px == pytest.approx(np.pi * 330**2, rel=0.02)
    assert outline.clear.sum() * outline.step_px**2 == pytest.approx(np.pi * 180**2, rel=0.05)


@pytest.mark.parametrize(("bore", "resin", "shows"), [(0.0, 0.0, False), (0.5, 0.0, False), (0.0, 0.2, True)])
def test_light_through_the_bore_of_hardware_or_at_its_soft_edge_is_none_through_resin(
    bore: float, resin: float, *, shows: bool
) -> None:
    y, x = np.indices((300, 300)) - 149.5
    away = np.hypot(x, y) / 100
    share = np.where((away < 1 - resin) & (away >= bore), WOOD, 1.0).astype(np.float32)
    light = picture(np.where((away < 1) & (share == 1), 0.92, share).astype(np.float32))
    assert shows_resin(light, away < 1.02, np.ones(away.shape, bool)) == shows


@pytest.mark.parametrize(("code", "grain"), [(6, 3), (76, 12)], ids=["wood", "a sheet in a lit room"])
def test_voids_beside_a_body_are_found_and_noise_before_it_is_none(code: int, grain: int) -> None:
    rng = np.random.default_rng(3)
    x, y = (
        part.ravel() + rng.uniform(-8, 8, part.size)
        for part in np.meshgrid(np.arange(160, 640, 48), range(430, 700, 45))
    )
    kept = np.hypot(x - 399.5, y - 399.5) < 300
    drawn = draw(Scene(x_px=x[kept], y_px=y[kept], diameter_px=rng.uniform(9, 24, kept.sum())))
    codes = drawn.picture.copy()
    rows, cols = np.indices(codes.shape[:2])
    wood = (np.hypot(cols - 399.5, rows - 399.5) < 341) & (rows < 400 + 12 * np.sin(cols / 25))
    codes[wood] = np.clip(rng.normal(code, grain, (wood.sum(), 3)), 0, 255)
    casting = grade(Photo("half.png", codes, "0" * 64), Request(), Settings())
    assert len(casting.voids) == kept.sum()
    assert casting.voids.y_px.min() > 400
    assert len(casting.set_aside) < 5
    assert casting.fitness.value("crushed") == 0.0
    assert sum(part.area_px for part in casting.not_judged) == pytest.approx(wood.sum(), rel=0.05)


def test_the_gleam_of_a_void_before_a_body_belongs_to_the_body_and_a_window_of_resin_in_it_does_not() -> None:
    share, _ = half_wood(0.92, 0.6)
    share[400:412, 500:512] = 0.5
    share[500:580, 600:680] = 0.92
    outline = outlined(picture(share))
    at = np.array([505.5, 640.0]), np.array([405.5, 540.0])
    assert outline.holds(outline.opaque, *at).tolist() == [True, False]
    assert outline.holds(outline.well_opaque, *at).tolist() == [True, False]


def test_where_the_whole_frame_is_judged_nothing_is_taken_for_opaque() -> None:
    """Beside bare light a tinted casting would be."""
    assert not whole_field(picture(round_casting(0.1, 0.1))).opaque.any()
