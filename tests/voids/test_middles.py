"""What the middle of a find shows tells voids from spots of paint, opaque balls and rings."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.transmittance import darkness
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.photo.light import grey_light
from bubblegrade.settings import Settings
from bubblegrade.voids.detecting import Found, find_voids
from bubblegrade.voids.features import VIEW
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import Verdicts
from bubblegrade.voids.middles import dark_throughout, evenly_dark, held_to_optics, takes_nothing

STEPS = np.linspace(VIEW.inner, VIEW.outer, VIEW.radii, dtype=np.float32)


def rings_of(darkness: np.ndarray, *, radius_px: float) -> tuple[Fits, np.ndarray]:
    """Return fits of one radius and their rays, whose darkness by the distance from the centre is (N, radii)."""
    rays = np.repeat(darkness[:, None], VIEW.angles, axis=1).astype(np.float32)
    one = np.ones(len(darkness), np.float32)
    fits = Fits(
        x_px=one, y_px=one, radius_px=one * np.float32(radius_px), radius_err_px=one, blur_px=one, depth=one,
        level=0 * one, explained=one, agreeing=one, seen=one,
    )  # fmt: skip
    return fits, rays


@pytest.mark.parametrize(("radius_px", "dark"), [(28.0, True), (5.0, False)], ids=["large", "small"])
def test_a_dark_ball_with_a_gleam_is_no_void_and_a_small_one_cannot_be_told(radius_px: float, *, dark: bool) -> None:
    ball = np.where(STEPS < 1.0, np.where(STEPS < 0.3, 0.84, 0.98), 0.0)
    void = np.where(STEPS < 1.0, np.where(STEPS < 0.5, 0.1, 0.98), 0.0)  # a core half as wide takes 0.25 of the area
    narrow = np.where(STEPS < 1.0, np.where(STEPS < 0.15, 0.1, 0.98), 0.0)  # by a light of 9 degrees it takes 0.02
    fits, rays = rings_of(np.stack([ball, void, narrow]), radius_px=radius_px)
    assert dark_throughout(fits, rays).tolist() == [dark, False, False]


@pytest.mark.parametrize(("radius_px", "told"), [(10.0, True), (8.0, False)], ids=["large", "small"])
def test_a_spot_of_paint_has_no_core_and_where_blur_may_fill_one_it_cannot_be_told(
    radius_px: float, *, told: bool
) -> None:
    """The blur is 1 px; the core of the void is half as wide as it, of the narrow one a fifth."""
    soft = np.clip(1.5 - STEPS, 0.0, 1.0) * 0.6
    hard = np.where(STEPS < 1.0, 0.3, 0.0)
    void, narrow = (np.where((core < STEPS) & (STEPS < 1.0), 0.6, 0.1 * (core > STEPS)) for core in (0.5, 0.2))
    fits, rays = rings_of(np.stack([soft, hard, void, narrow]), radius_px=radius_px)
    assert evenly_dark(fits, rays, blur_px=1.0).tolist() == [told, told, False, False]


@pytest.mark.parametrize(("radius_px", "told"), [(14.0, True), (9.0, False)], ids=["large", "small"])
def test_a_ring_whose_middle_takes_no_light_is_no_void_by_its_faces(radius_px: float, *, told: bool) -> None:
    """By Fresnel's equations two faces of index 1.5 and air take 0.0784; what is brighter than around is a lens."""
    ring, void, lens = (np.where((STEPS > 0.5) & (STEPS < 1.0), 0.7, 0.0) for _ in range(3))
    void[STEPS <= 0.5], lens[STEPS <= 0.5] = 0.0784, -0.1
    fits, rays = rings_of(np.stack([ring, void, lens]), radius_px=radius_px)
    assert takes_nothing(fits, rays, blur_px=0.9, index=1.5).tolist() == [told, False, False]


@pytest.mark.parametrize(("others", "told"), [(0.0784, True), (0.04, False)], ids=["as taken", "sharpened"])
def test_where_the_middles_of_other_rings_take_too_little_none_is_told_by_it(others: float, *, told: bool) -> None:
    middles = np.array([0.0, *[others] * 8])[:, None]
    fits, rays = rings_of(np.where(STEPS < 1.0, np.where(STEPS > 0.5, 0.7, middles), 0.0), radius_px=14.0)
    assert takes_nothing(fits, rays, blur_px=0.9, index=1.5).tolist() == [told, *[False] * 8]


@functools.cache
def drawn() -> np.ndarray:
    """Return a casting with 25 voids of 16 to 44 px, 100 px from each other."""
    x, y = grid(np.linspace(200, 600, 5), np.linspace(200, 600, 5))
    return draw(Scene(casting_px=330.0, x_px=x, y_px=y, diameter_px=np.linspace(16.0, 44.0, 25))).picture


def between() -> np.ndarray:
    """Return where there is room between these voids, (12, 2) x, y."""
    return np.transpose(grid([250, 350, 450, 550], [250, 350, 450]))


def painted(left: np.ndarray) -> Found:
    """Return what is found in that casting where paint leaves a share of the light, (rows, cols)."""
    return found_in(np.clip(drawn() * left[..., None] ** (1 / 2.2), 0, 255).astype(np.uint8))


def found_in(picture: np.ndarray) -> Found:
    """Return what is found in a picture of a casting."""
    light = grey_light(picture)
    outline = find_outline(light)
    assert outline is not None
    return find_voids(darkness(light), picture, outline, Settings())


def test_sprayed_spots_among_voids_are_not_counted() -> None:
    """They are 24 to 46 px wide, and their borders fade over a third of that."""
    y, x = np.indices(drawn().shape[:2])
    left = np.ones(x.shape)
    for k, (at_x, at_y) in enumerate(between()):
        away = np.hypot(x - at_x, y - at_y) / (12.0 + k)
        left -= 0.5 * np.clip((1.33 - away) / 0.66, 0.0, 1.0)
    np.testing.assert_allclose(np.sort(painted(left).voids.diameter_px), np.linspace(16.0, 44.0, 25), rtol=0.05)


def test_painted_rings_among_voids_are_unsure_and_say_why() -> None:
    """They are 28 to 50 px wide, open over half of that, and take 0.6 of the light."""
    y, x = np.indices(drawn().shape[:2])
    left = np.ones(x.shape)
    for k, (at_x, at_y) in enumerate(between()):
        away = np.hypot(x - at_x, y - at_y) / (14.0 + k)
        left -= 0.6 * np.clip(np.minimum(away - 0.5, 1.0 - away) * (14.0 + k) + 0.5, 0.0, 1.0)
    found = painted(left)
    np.testing.assert_allclose(np.sort(found.voids.diameter_px), np.linspace(16.0, 44.0, 25), rtol=0.05)
    unsure = found.set_aside[found.set_aside.kind == "unsure"]
    at = np.column_stack([unsure.x_px, unsure.y_px])
    near = [np.hypot(*(at - place).T).argmin() for place in between()]
    assert np.hypot(*(at[near] - between()).T).max() < 2.0
    assert {str(reason) for reason in unsure.reason[near]} == {
        "dark ring whose middle takes no light, as a void's takes some: paint, metal or a drop"
    }


def test_voids_in_tinted_resin_are_counted_though_their_middle_takes_as_little_as_the_resin() -> None:
    """It passes 0.6 over 245 px, and beside a void of 40 to 46 px 7 to 8 % less: what the void's faces take."""
    x, y, across = (
        np.array([250.0, 550.0, 400.0, 400.0]),
        np.array([400.0, 400.0, 250.0, 550.0]),
        [40.0, 42.0, 44.0, 46.0],
    )
    picture = draw(Scene(x_px=x, y_px=y, diameter_px=across, clear=0.6)).picture
    rows, cols = np.indices(picture.shape[:2])
    away = np.hypot(cols - x[:, None, None], rows - y[:, None, None])
    within = np.sqrt(np.maximum(np.square(across)[:, None, None] - 4.0 * away**2, 0.0)).sum(axis=0)
    more = (0.92 / 0.6) ** (within / 245.0)
    found = found_in(np.clip(picture * more[..., None] ** (1 / 2.2), 0, 255).astype(np.uint8))
    np.testing.assert_allclose(np.sort(found.voids.diameter_px), across, rtol=0.03)


def test_what_shows_through_opaque_painted_rings_is_no_void_before_hardware() -> None:
    """They are 36 to 43 px wide, open over half of that, and take 0.9 of the light."""
    y, x = np.indices(drawn().shape[:2])
    left = np.ones(x.shape)
    for k, (at_x, at_y) in enumerate(between()):
        away = np.hypot(x - at_x, y - at_y) / (18.0 + 0.3 * k)
        left -= 0.9 * np.clip(np.minimum(away - 0.5, 1.0 - away) * (18.0 + 0.3 * k) + 0.5, 0.0, 1.0)
    np.testing.assert_allclose(np.sort(painted(left).voids.diameter_px), np.linspace(16.0, 44.0, 25), rtol=0.05)


@pytest.mark.parametrize(
    ("codes", "whole"),
    [
        (np.full((40, 40), 180, np.uint8), True),
        (np.full((40, 40, 3), (90, 180, 255), np.uint8), False),
        (np.full((40, 40), 65000, np.uint16), False),
        (np.full((40, 40), 40000, np.uint16), True),
    ],
    ids=["grey", "red at its end", "sixteen bits at their end", "sixteen bits"],
)
def test_light_at_the_end_of_the_scale_hides_what_a_middle_takes(codes: np.ndarray, *, whole: bool) -> None:
    fits, rays = rings_of(np.where((STEPS > 0.5) & (STEPS < 1.0), 0.7, 0.0)[None], radius_px=14.0)
    nothing = np.zeros(1, np.float32)
    verdicts = Verdicts(likely=nothing + 0.9, log_ratio=nothing, log_ratio_err=nothing, other=nothing[:, None])
    held, seen = held_to_optics(verdicts, fits, rays, codes, Settings(), blur_px=0.9, passes=0.92)
    assert seen.tolist() == [whole]
    assert held.likely[0] == pytest.approx(Settings().unsure if whole else 0.9)
