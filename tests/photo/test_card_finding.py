"""The card is found wherever it lies, and the scale that follows is right and as uncertain as it says."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.cards import Shot, photograph
from bubblegrade.errors import InputError, PhotoError
from bubblegrade.photo.card import FRAMES, make_card
from bubblegrade.photo.card_finding import FoundCard, find_card
from bubblegrade.photo.lens import FILM_DIAGONAL_MM, lens_from_focal

Draw = Callable[[Shot], np.ndarray]
CASES = 24
PLAIN = Shot(tilt_degrees=12.0, tilt_towards_degrees=40.0, turn_degrees=9.0, mm_per_px=0.17)


@pytest.fixture(scope="module")
def bench(random_scene: Callable[[int], Any]) -> list[tuple[Any, FoundCard]]:
    """Return drawn photographs of any card, each with the card as found."""
    scenes = [random_scene(seed) for seed in range(CASES)]
    return [(scene, find_card(scene.codes, printed_mm=scene.read_mm)) for scene in scenes]


def off_px(scene: Any, found: FoundCard) -> np.ndarray:
    """Return how far the fine marks were placed from where they are, (n, 2) px."""
    drawn_mm = found.places_mm / found.print_factor
    return found.points_px - scene.shot.seen_px(drawn_mm)


def scale_error(scene: Any, found: FoundCard) -> float:
    """Return by which share the scale is wrong."""
    return found.mm_per_px / scene.shot.true_mm_per_px(found.spot_mm / found.print_factor) - 1.0


def test_every_card_of_20_to_60_px_a_marker_is_found_with_half_of_it_hidden_tilted_and_distorted(bench: Any) -> None:
    assert all(found.layout == scene.card.layout for scene, found in bench)


def test_how_much_aslant_the_card_is_seen_is_told_without_the_focal_length(bench: Any) -> None:
    within = []
    for scene, found in bench:
        shot = scene.shot
        step = np.array([(0.0, 0.0), (0.01, 0.0), (0.0, 0.01)])
        rays = shot.rays(found.spot_mm / found.print_factor + step)  # from the camera to three places near the spot
        upright = np.cross(rays[1] - rays[0], rays[2] - rays[0])
        cosine = abs(upright @ rays[0]) / np.linalg.norm(upright) / np.linalg.norm(rays[0])
        within.append(abs(found.view_cosine - cosine) < 1.96 * found.view_cosine_err)
    assert np.mean(within) >= 0.95


def test_the_scale_is_within_three_thousandths(bench: Any) -> None:
    # two standard errors of a rule read to 0.1 mm are 0.2 %; the rest is ours
    errors = np.abs([scale_error(*pair) for pair in bench])
    assert np.quantile(errors, 0.95) < 0.003
    assert np.median(errors) < 0.001


def test_the_scale_lies_in_its_interval_of_95_per_cent(bench: Any) -> None:
    inside = [abs(scale_error(*pair)) < 1.96 * pair[1].mm_per_px_err / pair[1].mm_per_px for pair in bench]
    assert np.mean(inside) >= 0.90


def test_but_for_the_rule_the_scale_is_within_a_thousandth_and_in_its_own_narrower_interval(bench: Any) -> None:
    errors = np.array(
        [
            (1.0 + scale_error(scene, found)) * scene.shot.print_factor / found.print_factor - 1.0
            for scene, found in bench
        ]
    )
    assert np.quantile(np.abs(errors), 0.9) < 0.001
    assert np.mean(np.abs(errors) < 1.96 * np.array([found.fit_err_share for _, found in bench])) >= 0.90


def test_fine_marks_are_placed_to_0_15_px_root_mean_square(bench: Any) -> None:
    off = [off_px(*pair) for pair in bench]
    every = np.concatenate(off)
    assert np.sqrt(np.mean(np.sum(every**2, axis=1))) < 0.10
    assert np.mean([np.sqrt(np.mean(np.sum(one**2, axis=1))) < 0.15 for one in off]) >= 0.9
    assert np.abs(every.mean(axis=0)).max() < 0.01


def test_with_the_focal_length_noted_tilt_and_height_are_known(frame_shot: Draw) -> None:
    # 900 px of a diagonal of 1280.6 px are 30.4 mm on film; height over the plane by the camera's pose
    shot = Shot(tilt_degrees=18.0, tilt_towards_degrees=130.0, mm_per_px=0.17, k1=0.05)
    lens = lens_from_focal(900.0 / math.hypot(800, 1000) * FILM_DIAGONAL_MM, (800, 1000))
    found = find_card(frame_shot(shot), printed_mm=100.0, lens=lens)
    assert found.tilt_degrees == pytest.approx(18.0, abs=0.2)
    assert found.camera_height_mm == pytest.approx(900.0 * 0.17 * math.cos(math.radians(18.0)), rel=0.005)
    assert found.camera_height_err_mm == pytest.approx(0.04 * found.camera_height_mm, rel=1e-6)


def test_without_it_a_tilted_cards_perspective_tells_the_height_and_the_tilt_is_uncertain(frame_shot: Draw) -> None:
    found = find_card(frame_shot(PLAIN), printed_mm=100.0)
    height = 900.0 * 0.17 * math.cos(math.radians(12.0))
    assert found.nearest_mm < height
    assert abs(found.camera_height_mm - height) < 1.96 * found.camera_height_err_mm
    assert found.camera_height_err_mm < 0.08 * height
    assert abs(found.tilt_degrees - 12.0) < 2 * found.tilt_err_degrees


def test_without_it_a_card_from_straight_above_leaves_the_height_open(frame_shot: Draw) -> None:
    found = find_card(frame_shot(replace(PLAIN, tilt_degrees=0.0)), printed_mm=100.0)
    assert math.isnan(found.camera_height_mm)
    assert found.nearest_mm < 900.0 * 0.17 / 2


def test_the_direction_from_which_it_is_seen_is_known_on_the_card(frame_shot: Draw) -> None:
    # the camera leans about 40 degrees, so it looks along 130, and the card is turned by 9
    found = find_card(frame_shot(PLAIN), printed_mm=100.0)
    assert math.remainder(found.view_along - math.radians(121.0), math.pi) == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_a_photograph_turned_by_quarters_has_the_same_scale(frame_shot: Draw, turn: int) -> None:
    codes = frame_shot(PLAIN)
    one, other = (find_card(np.ascontiguousarray(np.rot90(codes, by)), printed_mm=100.0) for by in (0, turn))
    assert other.mm_per_px == pytest.approx(one.mm_per_px, rel=2e-4)


def test_a_darker_photograph_has_the_same_scale(frame_shot: Draw) -> None:
    codes = frame_shot(PLAIN)
    dark = (codes * 0.5).astype(np.uint8)
    assert find_card(dark).mm_per_px == pytest.approx(find_card(codes).mm_per_px, rel=2e-4)


def test_grey_and_16_bits_give_the_scale_of_8_bits_in_colour(frame_shot: Draw) -> None:
    codes = frame_shot(PLAIN)
    grey = cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY)
    want = find_card(codes).mm_per_px
    assert find_card(grey).mm_per_px == want
    assert find_card(codes.astype(np.uint16) * 257).mm_per_px == pytest.approx(want, rel=1e-5)


def test_a_large_photograph_is_searched_reduced_and_measured_whole(sheet_of: Callable[..., Any]) -> None:
    shot = Shot(shape_px=(1500, 1900), focal_px=1710.0, mm_per_px=0.079, tilt_degrees=10.0, turn_degrees=30.0)
    found = find_card(photograph(sheet_of(make_card()), shot), printed_mm=100.0)
    assert found.markers_seen >= 28
    assert found.mm_per_px == pytest.approx(shot.true_mm_per_px(np.zeros(2)), rel=1e-4)


def test_a_print_read_as_99_2_mm_makes_every_mm_as_much_smaller(frame_shot: Draw) -> None:
    drawn, read = (find_card(frame_shot(PLAIN), printed_mm=length) for length in (100.0, 99.2))
    assert read.mm_per_px == pytest.approx(0.992 * drawn.mm_per_px, rel=1e-6)
    assert np.abs(read.points_px - drawn.points_px).max() < 0.01


def test_a_print_that_nobody_measured_is_less_certain(frame_shot: Draw) -> None:
    # 0.5 mm of 100 against 0.15 mm, each with half a thousandth between the print's directions
    measured, not_measured = (find_card(frame_shot(PLAIN), printed_mm=length) for length in (100.0, None))
    assert measured.print_err_share == pytest.approx(math.hypot(0.0015, 0.0005))
    assert not_measured.print_err_share == pytest.approx(math.hypot(0.005, 0.0005))
    assert not_measured.mm_per_px == measured.mm_per_px


def test_opencv_places_the_strips_inner_marks_where_we_do(sheet_of: Callable[..., Any]) -> None:
    card = make_card("strip")
    shot = Shot(mm_per_px=0.12, tilt_degrees=8.0, turn_degrees=5.0, noise=1.0)
    codes = photograph(sheet_of(card), shot)
    board = cv2.aruco.CharucoBoard(
        (12, 3), 8.0, 5.6, cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000), np.arange(18)
    )
    theirs, ids, _, _ = cv2.aruco.CharucoDetector(board).detectBoard(cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY))
    places = np.asarray(board.getChessboardCorners())[np.ravel(ids)][:, :2] - (48.0, 12.0)
    found = find_card(codes, printed_mm=100.0)
    assert len(places) == 22
    np.testing.assert_allclose(found.plane.seen_px(places), np.reshape(theirs, (-1, 2)), atol=0.15)


def test_the_scale_with_a_strip_holds_in_the_middle_of_the_photograph(sheet_of: Callable[..., Any]) -> None:
    shot = Shot(mm_per_px=0.15, tilt_degrees=15.0, tilt_towards_degrees=10.0, aside_mm=(0.0, 35.0), k1=-0.05)
    found = find_card(photograph(sheet_of(make_card("strip")), shot), printed_mm=100.0)
    assert found.plane.seen_px(found.spot_mm[None])[0] == pytest.approx((499.5, 399.5), abs=1e-3)
    assert found.mm_per_px == pytest.approx(shot.true_mm_per_px(found.spot_mm), rel=3 * found.fit_err_share)


@pytest.mark.parametrize("printed", [89.9, 110.1, 992.0, 3.9, math.nan])
def test_an_absurd_printed_length_is_refused_with_value_and_cure(frame_shot: Draw, printed: float) -> None:
    with pytest.raises(InputError, match=rf"^--printed {printed:g}mm is no print of the 100 mm .* measure it again"):
        find_card(frame_shot(PLAIN), printed_mm=printed)


def test_a_photograph_without_a_card_is_refused_with_what_was_seen_and_what_is_needed() -> None:
    with pytest.raises(PhotoError, match=r"^cup\.jpg: no scale card is found \(0 markers seen, 4 needed\): show"):
        find_card(np.full((300, 400, 3), 180, np.uint8), name="cup.jpg")


def test_too_few_markers_are_refused_with_how_many_are_seen_and_needed(sheet_of: Callable[..., Any]) -> None:
    card = make_card()
    covered = ((-60.0, -60.0, 60.0, 30.0), (-60.0, 30.0, 30.0, 70.0))
    codes = photograph(sheet_of(card, covered), Shot(mm_per_px=0.17))
    with pytest.raises(PhotoError, match=r"^the photograph: [123] of the card's 32 markers are seen, and 4 are needed"):
        find_card(codes)


def test_markers_without_sharp_fine_marks_are_refused(sheet_of: Callable[..., Any]) -> None:
    card = make_card()
    dots = tuple((x - 2.0, y - 2.0, x + 2.0, y + 2.0) for x, y in card.layout.fine_marks[4:].tolist())
    codes = photograph(sheet_of(card, dots), Shot(mm_per_px=0.17))
    with pytest.raises(PhotoError, match=r"^the photograph: \d fine marks of the card are sharp enough, and 8 are"):
        find_card(codes)


def test_a_card_of_another_kind_is_said_to_be_one() -> None:
    board = cv2.aruco.GridBoard((4, 3), 40.0, 10.0, cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    codes = np.asarray(board.generateImage((900, 700), marginSize=40))
    with pytest.raises(PhotoError, match=r"^a\.jpg shows a card of another kind: print one with bubblegrade card$"):
        find_card(codes, name="a.jpg")


def test_markers_of_the_same_family_that_no_card_has_are_of_another_kind() -> None:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    board = cv2.aruco.GridBoard((4, 3), 40.0, 10.0, dictionary, np.arange(900, 912))
    with pytest.raises(PhotoError, match="another kind"):
        find_card(np.asarray(board.generateImage((900, 700), marginSize=40)))


def test_a_mirrored_card_is_said_to_lie_face_down(frame_shot: Draw) -> None:
    with pytest.raises(PhotoError, match=r"shows the card mirrored: lay it with the print up"):
        find_card(np.ascontiguousarray(frame_shot(PLAIN)[:, ::-1]))


def test_the_frame_of_another_window_is_told_from_its_markers(sheet_of: Callable[..., Any]) -> None:
    card = make_card("letter", window_mm=30.0)
    found = find_card(photograph(sheet_of(card), Shot(mm_per_px=0.13)))
    assert found.layout == FRAMES[0]
