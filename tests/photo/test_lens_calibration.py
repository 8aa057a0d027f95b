"""A camera is calibrated from the card as OpenCV calibrates it from true places, and as it was drawn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.cards import Shot
from bubblegrade.errors import InputError
from bubblegrade.photo.card_finding import FoundCard, find_card
from bubblegrade.photo.lens_calibration import calibrated

Draw = Callable[[Shot], np.ndarray]
BASE = Shot(tilt_degrees=22.0, turn_degrees=10.0, k1=-0.12, k2=0.03, mm_per_px=0.15)
SHOTS = [replace(BASE, tilt_towards_degrees=towards, seed=int(towards)) for towards in (0.0, 90.0, 200.0)]


@pytest.fixture(scope="module")
def cards(frame_shot: Draw) -> list[FoundCard]:
    return [find_card(frame_shot(shot)) for shot in SHOTS]


@pytest.mark.parametrize("count", [2, 3])
def test_a_drawn_camera_is_found_again(cards: list[FoundCard], count: int) -> None:
    found = calibrated(cards[:count])
    assert found.lens.focal_px == pytest.approx(900.0, rel=0.002)
    assert found.lens.k1 == pytest.approx(-0.12, abs=0.005)
    assert found.lens.k2 == pytest.approx(0.03, abs=0.015)
    assert found.rms_px < 0.1
    assert found.photographs == count


def test_opencv_gives_the_same_camera_for_the_same_views_without_any_photograph(cards: list[FoundCard]) -> None:
    places = [np.column_stack((card.places_mm, np.zeros(len(card.places_mm)))).astype(np.float32) for card in cards]
    views = [shot.seen_px(card.places_mm).astype(np.float32) for card, shot in zip(cards, SHOTS, strict=True)]
    _, matrix, bends, _, _ = cv2.calibrateCamera(
        places, views, (1000, 800), None, None, flags=cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3
    )
    ours = calibrated(cards).lens
    assert ours.focal_px == pytest.approx(matrix[0, 0], rel=0.002)
    assert ours.centre_px == pytest.approx((matrix[0, 2], matrix[1, 2]), abs=0.1)
    assert (ours.k1, ours.k2) == pytest.approx(tuple(np.ravel(bends)[:2]), abs=0.01)


def test_a_calibrated_lens_tells_height_and_tilt_and_narrows_the_scale(
    cards: list[FoundCard], frame_shot: Draw
) -> None:
    lens = calibrated(cards).lens
    shot = replace(BASE, tilt_degrees=6.0, mm_per_px=0.2)
    plain, known = (find_card(frame_shot(shot), printed_mm=100.0, lens=one) for one in (None, lens))
    assert known.tilt_degrees == pytest.approx(6.0, abs=0.2)
    assert known.camera_height_mm == pytest.approx(900.0 * 0.2 * np.cos(np.radians(6.0)), rel=0.003)
    assert known.fit_err_share < plain.fit_err_share


def test_photographs_lying_on_their_side_count_as_well(frame_shot: Draw, cards: list[FoundCard]) -> None:
    lying = find_card(np.ascontiguousarray(np.rot90(frame_shot(SHOTS[1]))))
    found = calibrated([cards[0], lying, cards[2]])
    assert found.lens.focal_px == pytest.approx(calibrated(cards).lens.focal_px, rel=1e-3)


def test_one_photograph_is_too_few(cards: list[FoundCard]) -> None:
    with pytest.raises(InputError, match=r"^1 photograph of the card does not show a lens: give two or more"):
        calibrated(cards[:1])


def test_photographs_of_two_sizes_are_refused_with_both(frame_shot: Draw, cards: list[FoundCard]) -> None:
    small = find_card(np.ascontiguousarray(frame_shot(SHOTS[0])[:780]))
    with pytest.raises(
        InputError, match=r"^photographs of 1000 x 800 and of 1000 x 780 px are not of one camera setting"
    ):
        calibrated([cards[0], small])


def test_photographs_from_straight_above_tell_no_focal_length(frame_shot: Draw) -> None:
    flat = [find_card(frame_shot(replace(BASE, tilt_degrees=0.0, k1=0.0, k2=0.0, seed=seed))) for seed in (1, 2)]
    with pytest.raises(
        InputError, match=r"^no photograph is tilted by more than \d degrees \(at least 8\): add .* tilted"
    ):
        calibrated(flat)


def test_photographs_through_two_lenses_are_refused(frame_shot: Draw, cards: list[FoundCard]) -> None:
    other = find_card(frame_shot(replace(SHOTS[2], focal_px=1500.0, k1=0.15)))
    with pytest.raises(InputError, match=r"^the marks lie \d+\.\d px off \(at most 1\): photograph one flat card"):
        calibrated([*cards[:2], other])


@pytest.mark.parametrize("sides", [(0.0, 120.0, 240.0), (0.0, 10.0, 20.0)], ids=["all around", "to one side"])
def test_an_axis_within_a_hundredth_of_the_middle_is_in_what_is_stated(
    cards: list[FoundCard], sides: tuple[float, ...]
) -> None:
    draws, off, stated = np.random.default_rng(8), [], []
    for _ in range(30):
        aside = draws.uniform(-0.01, 0.01, 2) * max(cards[0].shape_px)
        tilted = [replace(BASE, tilt_towards_degrees=side + draws.uniform(0.0, 10.0)) for side in sides]
        moved = [
            replace(
                cards[0],
                points_px=shot.seen_px(cards[0].places_mm)
                + aside
                + draws.normal(0.0, 0.05, (len(cards[0].places_mm), 2)),
            )
            for shot in tilted
        ]
        lens = calibrated(moved).lens
        off.append([lens.focal_px / 900.0 - 1.0, lens.k1 + 0.12, lens.k2 - 0.03])
        stated.append([lens.focal_err_px / 900.0, lens.k1_err, lens.k2_err])
    within = np.abs(off) < 1.96 * np.array(stated)
    assert (within.mean(axis=0) >= 0.9).all()
    assert np.median(stated, axis=0)[0] < 0.03
