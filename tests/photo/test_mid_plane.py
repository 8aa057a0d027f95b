"""The casting's middle is nearer to the camera than the card, and its scale is smaller by as much."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.drawn.cards import Shot
from bubblegrade.errors import InputError
from bubblegrade.photo.card_finding import FoundCard, find_card
from bubblegrade.photo.lens import FILM_DIAGONAL_MM, lens_from_focal
from bubblegrade.photo.mid_plane import apparent_height_mm, mid_plane_scale, taken_for_granted

SHOT = Shot(mm_per_px=0.17)


@pytest.fixture(scope="module")
def found(frame_shot: Callable[[Shot], np.ndarray]) -> FoundCard:
    return find_card(frame_shot(SHOT), printed_mm=100.0)


@given(st.floats(1.0, 80.0), st.floats(1.3, 1.7), st.floats(0.0, 0.02))
def test_the_apparent_height_is_that_of_a_ray_traced_from_the_middle(
    thickness: float, index: float, small: float
) -> None:
    # A ray leaves the middle at a small angle, meets the top face, is bent by Snell's law and drawn back straight.
    inside = small + 1e-4
    meets = thickness / 2 * math.tan(inside)
    outside = math.asin(index * math.sin(inside))
    seen_at = thickness - meets / math.tan(outside)
    assert apparent_height_mm(thickness, index=index) == pytest.approx(seen_at, rel=1e-3)


def test_without_refraction_the_middle_is_at_half_the_thickness() -> None:
    assert apparent_height_mm(10.0, index=1.0) == 5.0


def test_a_height_that_is_stated_gives_the_scale_by_hand(found: FoundCard) -> None:
    # 15 mm of resin of index 1.5 look 10 mm high; from 300 mm they are 1/30 larger in the picture than on the card
    scale = mid_plane_scale(found, 15.0, 300.0)
    assert scale.mm_per_px == pytest.approx(found.mm_per_px * 29 / 30, rel=1e-12)
    assert scale.source == "card, 10.0 mm over it to the casting's middle, 300 mm to the camera"
    # 10 mm and 1 % of 300 mm: 10.44 mm of 300 on 1/30; index 0.03 x 15 / 4.5 = 0.1 mm, thickness 0.2 x 2/3 mm, of 300
    lift = math.hypot(10.44 / 300 / 30, math.hypot(0.1, 0.133) / 300) * 30 / 29
    assert scale.mm_per_px_err / scale.mm_per_px == pytest.approx(
        math.hypot(found.mm_per_px_err / found.mm_per_px, lift), rel=0.01
    )


def test_the_height_from_the_focal_length_is_used_where_none_is_stated(
    frame_shot: Callable[[Shot], np.ndarray],
) -> None:
    lens = lens_from_focal(900.0 / math.hypot(800, 1000) * FILM_DIAGONAL_MM, (800, 1000))
    known = find_card(frame_shot(SHOT), printed_mm=100.0, lens=lens)
    # the camera is 153 mm over the card, the middle looks 8 mm high
    assert mid_plane_scale(known, 12.0).mm_per_px == pytest.approx(known.mm_per_px * (1 - 8 / 153), rel=1e-3)
    assert mid_plane_scale(known, 12.0, 400.0).mm_per_px == pytest.approx(known.mm_per_px * (1 - 8 / 400), rel=1e-6)


@pytest.mark.parametrize(("thickness", "height"), [(6.0, 300.0), (14.0, 260.0)])
def test_one_void_is_off_by_the_height_at_which_it_happens_to_lie(
    found: FoundCard, thickness: float, height: float
) -> None:
    depths = np.random.default_rng(5).uniform(0.0, thickness, 20_000)
    seen_high = thickness - depths / 1.5
    drawn = (height - seen_high) / height  # true mm per px of each, over that of the card
    scale = mid_plane_scale(found, thickness, height)
    assert scale.height_err_share == pytest.approx(np.std(drawn) / np.mean(drawn), rel=0.02)


def test_where_less_is_known_one_void_is_off_by_the_root_mean_square_of_what_may_be(found: FoundCard) -> None:
    # thickness over the camera's height: up to 0.7 of 25 mm, or 12 mm, over the nearest 100 mm
    draws = np.random.default_rng(6)
    off = draws.uniform(0.0, 1.0, 200_000) * draws.uniform(-0.5, 0.5, 200_000) / 1.5
    for thickness, most in ((None, 0.175), (12.0, 0.12)):
        scale = mid_plane_scale(found, thickness)
        err = scale.height_err_share * scale.mm_per_px / found.mm_per_px
        assert err == pytest.approx(most * np.std(off), rel=0.01)


def test_an_unknown_height_is_said_to_be_unknown_and_costs_certainty(found: FoundCard) -> None:
    unknown, stated = mid_plane_scale(found, 10.0), mid_plane_scale(found, 10.0, 153.0)
    assert unknown.source.endswith("the camera's height unknown, 100 mm or more")
    assert unknown.mm_per_px_err > 2 * stated.mm_per_px_err
    assert abs(unknown.mm_per_px - stated.mm_per_px) < 1.96 * unknown.mm_per_px_err


def test_an_unknown_thickness_is_taken_as_up_to_a_fifteenth_of_the_height(found: FoundCard) -> None:
    # at most 1/15 x 2/3 nearer: half of that to either side of the middle, to the ends of a 95 % interval
    scale = mid_plane_scale(replace(found, nearest_mm=300.0), None)
    assert scale.mm_per_px == pytest.approx(found.mm_per_px * (1 - 1 / 45), rel=1e-12)
    assert scale.source == "card, the casting's thickness unknown"
    assert scale.mm_per_px_err / scale.mm_per_px == pytest.approx(
        math.hypot(found.mm_per_px_err / found.mm_per_px, 1 / 45 / 1.96 / (1 - 1 / 45)), rel=1e-3
    )


@pytest.mark.parametrize("top", [0.0, 1.9])
@pytest.mark.parametrize("height", [100.0, 125.0, 160.0, 190.0, 300.0, 600.0])
@pytest.mark.parametrize("thickness", [3.0, 6.0, 12.0, 20.0, 25.0])
def test_what_is_not_told_is_held_by_the_doubt_from_near_to_far(
    found: FoundCard, thickness: float, height: float, top: float
) -> None:
    # by hand: resin of index 1.5 looks two thirds as high
    beside = replace(found, top_mm=top)
    true = beside.mm_per_px * (1.0 - (2.0 * thickness / 3.0 - top) / height)
    nothing = (None, None) if thickness <= 0.175 * height else (thickness, None)  # 95 in 100 lie below
    for said in ((thickness, None), (None, height), nothing):
        scale = mid_plane_scale(beside, *said)
        assert abs(scale.mm_per_px - true) < 1.96 * scale.mm_per_px_err, said
    assert mid_plane_scale(beside, thickness, height).mm_per_px == pytest.approx(true, rel=1e-9)


@pytest.mark.parametrize(("thickness", "height"), [(2.0, 110.0), (6.0, 400.0), (12.0, 181.0), (15.0, 300.0)])
def test_knowing_more_never_tells_less(found: FoundCard, thickness: float, height: float) -> None:
    nothing, thick = mid_plane_scale(found, None), mid_plane_scale(found, thickness)
    known = mid_plane_scale(found, thickness, height)
    assert known.mm_per_px_err <= thick.mm_per_px_err <= 1.03 * nothing.mm_per_px_err


def test_where_the_frame_or_the_card_tells_of_a_camera_far_off_the_doubt_stays_small(found: FoundCard) -> None:
    # a telephone's main lens is twice as long as the widest: what it sees from 400 mm, that sees from 200 mm
    wide = replace(found, mm_per_px=found.mm_per_px * 200.0 / (13.0 / FILM_DIAGONAL_MM * math.hypot(800, 1000) * 0.17))
    tilted = replace(found, nearest_mm=200.0)
    for one in (wide, tilted):
        scale = mid_plane_scale(one, 12.0)
        assert scale.source.endswith("200 mm or more")
        assert scale.mm_per_px_err / scale.mm_per_px == pytest.approx(8 / 200 / 2 / 1.96, rel=0.04)


def test_what_lies_as_high_as_a_disc_is_counted_from_there_also_where_the_thickness_is_unknown(
    found: FoundCard,
) -> None:
    # the disc's face 3 mm up makes 1 % of 300 mm, and the casting's middle is that much less over it
    raised, flat = (mid_plane_scale(replace(found, top_mm=top), None, 300.0).mm_per_px for top in (3.0, 0.0))
    assert raised - flat == pytest.approx(0.01 * found.mm_per_px, rel=1e-9)


@given(st.floats(1.0, 40.0), st.floats(150.0, 2000.0), st.floats(1.1, 3.0))
def test_a_higher_camera_changes_the_scale_less(
    found: FoundCard, thickness: float, height: float, factor: float
) -> None:
    near, far = (mid_plane_scale(found, thickness, h).mm_per_px for h in (height, height * factor))
    assert near < far < found.mm_per_px


@pytest.mark.parametrize("height", [0.0, -300.0, 24.0, 10_001.0, math.nan])
def test_a_camera_height_that_cannot_be_is_refused_with_value_and_cure(found: FoundCard, height: float) -> None:
    with pytest.raises(
        InputError, match=rf"^--camera-height {height:g}mm cannot be: give .* more than 24mm .* as 300mm"
    ):
        mid_plane_scale(found, 12.0, height)


def test_a_camera_nearer_than_any_lens_is_refused_also_where_the_thickness_is_unknown(found: FoundCard) -> None:
    with pytest.raises(InputError, match=r"^--camera-height 5mm cannot be: give .* more than 20mm "):
        mid_plane_scale(found, None, 5.0)


def test_what_a_scale_takes_for_granted_is_said_with_its_cure(found: FoundCard) -> None:
    assert taken_for_granted(mid_plane_scale(found, None))[0].endswith("within the stated doubt: give --thickness")
    assert taken_for_granted(mid_plane_scale(found, 12.0))[0].endswith("give --camera-height")
    assert taken_for_granted(mid_plane_scale(found, 12.0, 300.0)) == ()
