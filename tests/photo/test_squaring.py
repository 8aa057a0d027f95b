"""A squared photograph looks as if it were taken from straight above, and one mm is as many px everywhere."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.cards import Shot, photograph
from bubblegrade.errors import PhotoError
from bubblegrade.photo.card import make_card
from bubblegrade.photo.card_finding import FoundCard, find_card
from bubblegrade.photo.card_shapes import black_shapes
from bubblegrade.photo.squaring import card_corners_px, squared, squared_window

Draw = Callable[[Shot], np.ndarray]
SHOT = Shot(tilt_degrees=20.0, tilt_towards_degrees=30.0, turn_degrees=17.0, k1=-0.12, mm_per_px=0.18)


@pytest.fixture(scope="module")
def found_on(frame_shot: Draw) -> Callable[[Shot], FoundCard]:
    """Return a function that finds the usual card, its check length of 100 mm, once on each photograph."""
    return functools.cache(lambda shot: find_card(frame_shot(shot), printed_mm=100.0))


def test_the_card_in_a_squared_photograph_lies_flat_at_one_scale_without_distortion(
    frame_shot: Draw, found_on: Callable[[Shot], FoundCard]
) -> None:
    flat, mm_per_px = squared(frame_shot(SHOT), found_on(SHOT))
    again = find_card(flat, printed_mm=100.0)
    across = np.linalg.norm(again.points_px[:, None] - again.points_px[None], axis=2) * mm_per_px
    true = np.linalg.norm(again.places_mm[:, None] - again.places_mm[None], axis=2)
    far = true > 40.0
    assert np.abs(across[far] / true[far] - 1.0).max() < 0.003
    assert np.abs(across[far] / true[far] - 1.0).mean() < 0.0007
    assert again.tilt_degrees < 0.5


def test_the_scale_of_a_squared_photograph_is_that_of_the_window_in_the_one_taken(
    frame_shot: Draw, found_on: Callable[[Shot], FoundCard]
) -> None:
    found = found_on(SHOT)
    flat, mm_per_px = squared(frame_shot(SHOT), found)
    assert mm_per_px == found.mm_per_px == pytest.approx(SHOT.true_mm_per_px(np.zeros(2)), rel=0.001)
    middle = find_card(flat).plane.seen_px(np.zeros((1, 2)))[0]
    assert middle == pytest.approx(found.plane.seen_px(np.zeros((1, 2)))[0], abs=0.05)


def test_a_photograph_from_straight_above_stays_as_it_is(frame_shot: Draw) -> None:
    codes = frame_shot(Shot(mm_per_px=0.17, noise=0.0, jpeg=0))
    flat, _ = squared(codes, find_card(codes))
    inner = (slice(50, -50), slice(50, -50))
    assert np.abs(flat[inner].astype(int) - codes[inner]).mean() < 1.0


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("layers", [1, 3])
def test_shape_and_kind_of_pixel_stay(
    frame_shot: Draw, found_on: Callable[[Shot], FoundCard], kind: type, layers: int
) -> None:
    codes = frame_shot(SHOT).astype(kind) * (257 if kind is np.uint16 else 1)
    codes = codes if layers == 3 else codes[..., 1]
    found = found_on(SHOT)
    flat, _ = squared(codes, found)
    assert (flat.shape, flat.dtype) == (codes.shape, codes.dtype)
    assert squared_window(codes, found)[0].ndim == codes.ndim


@pytest.mark.parametrize("turn", [0.0, 40.0, 100.0, 200.0, -80.0])
def test_the_window_shows_the_bare_light_alone_with_its_millimetre_cut_off(frame_shot: Draw, turn: float) -> None:
    codes = frame_shot(Shot(tilt_degrees=10.0, turn_degrees=turn, mm_per_px=0.2, k1=0.1))
    window, mm_per_px = squared_window(codes, find_card(codes, printed_mm=100.0))
    assert len(window) * mm_per_px == pytest.approx(58.0, abs=mm_per_px)
    assert window.shape[0] == window.shape[1]
    assert window.min() > 200  # paper lets through half of the light: 180 codes


def test_a_strip_has_no_window_and_a_window_cut_off_is_refused(sheet_of: Callable[..., Any], frame_shot: Draw) -> None:
    strip = photograph(sheet_of(make_card("strip")), Shot())
    with pytest.raises(PhotoError, match="a strip has no window: use a card with one"):
        squared_window(strip, find_card(strip))
    cut = frame_shot(Shot(mm_per_px=0.12, aside_mm=(40.0, 0.0)))
    with pytest.raises(PhotoError, match="window is cut off by the picture's edge: show it whole"):
        squared_window(cut, find_card(cut))


def test_the_whole_board_lies_within_its_corners_in_the_squared_photograph(sheet_of: Callable[..., Any]) -> None:
    card = make_card("strip", film=True)
    shot = Shot(mm_per_px=0.2, tilt_degrees=15.0, turn_degrees=25.0, aside_mm=(5.0, 25.0))
    codes = photograph(sheet_of(card), shot)
    found = find_card(codes, printed_mm=100.0)
    flat, mm_per_px = squared(codes, found)
    corners = card_corners_px(found)
    black = np.concatenate([loop for shape in black_shapes(card.layout, film=True) for loop in shape])
    seen = find_card(flat, printed_mm=100.0).plane.seen_px(black)
    outline = corners.astype(np.float32)
    margins = [cv2.pointPolygonTest(outline, (float(x), float(y)), measureDist=True) for x, y in seen]
    assert min(margins) * mm_per_px == pytest.approx(3.0, abs=0.1)
    # 96 mm and twice 2.4 and 3 mm
    assert np.linalg.norm(corners[1] - corners[0]) * mm_per_px == pytest.approx(106.8, rel=1e-6)
