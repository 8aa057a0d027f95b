"""The card's geometry: every marker and fine mark has its place, and every layout its own markers."""

from __future__ import annotations

import itertools

import cv2
import numpy as np
import pytest

from bubblegrade.errors import InputError
from bubblegrade.photo.card import (
    DICTIONARY,
    FRAMES,
    LAYOUTS,
    PAPERS_MM,
    STRIP,
    Layout,
    layout_of,
    make_card,
    marker_bits,
)
from bubblegrade.photo.card_shapes import black_shapes, outlines


def area_mm2(loops: list[np.ndarray]) -> float:
    """Return the area inside loops by the shoelace formula; a hole runs the other way and counts against it."""
    return sum(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2 for x, y in (loop.T for loop in loops))


def test_the_sheets_have_the_sizes_of_their_standards() -> None:
    # ISO 216; ANSI/ASME Y14.1: 8.5 x 11 in
    assert PAPERS_MM["a4"] == (210.0, 297.0)
    assert PAPERS_MM["letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4), abs=1e-12)


def test_no_marker_belongs_to_two_layouts_and_all_are_in_the_dictionary() -> None:
    ids = [number for layout in LAYOUTS for number in layout.markers]
    assert len(ids) == len(set(ids))
    assert max(ids) < len(cv2.aruco.getPredefinedDictionary(DICTIONARY).bytesList)


def test_every_layout_is_known_by_any_of_its_markers_and_by_most_where_they_disagree() -> None:
    for layout in LAYOUTS:
        assert all(layout_of([number]) == layout for number in layout.markers)
    assert layout_of([*list(FRAMES[3].markers)[:4], next(iter(STRIP.markers))]) == FRAMES[3]
    assert layout_of([]) is None
    assert layout_of([999]) is None


def test_the_strip_is_the_chessboard_that_opencv_draws() -> None:
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    board = cv2.aruco.CharucoBoard((12, 3), 8.0, 5.6, dictionary, np.array(list(STRIP.markers)))
    half = np.array([48.0, 12.0])
    theirs = np.asarray(board.getObjPoints())[:, :, :2] - half
    np.testing.assert_allclose(np.stack(list(STRIP.markers.values())), theirs, atol=1e-5)
    inner = np.asarray(board.getChessboardCorners())[:, :2] - half
    ours = {tuple(place) for place in STRIP.fine_marks.round(3).tolist()}
    assert {tuple(place) for place in inner.round(3).tolist()} <= ours


def test_a_frame_of_60_mm_by_hand() -> None:
    # 10 x 10 squares less 6 x 6 are 64, half of them white; corners outside the window's: 11 x 11 - 7 x 7
    layout = make_card("a4", window_mm=60.0).layout
    assert (layout.window_mm, len(layout.markers), len(layout.fine_marks)) == (60.0, 32, 72)
    first = next(iter(layout.markers.values()))
    np.testing.assert_allclose(first, [(-38.5, -48.5), (-31.5, -48.5), (-31.5, -41.5), (-38.5, -41.5)])


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda layout: f"{layout.window_mm:g}mm")
def test_nothing_black_lies_in_the_window_or_off_the_sheet(layout: Layout) -> None:
    for film in (False, True):
        corners = np.concatenate(list(itertools.chain(*black_shapes(layout, film=film))))
        assert np.all(np.abs(corners).max(axis=1) >= layout.window_mm / 2 - 1e-9)
        assert np.all(np.abs(corners[:, 0]) <= 210.0 / 2 - 8.0)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_widest_card_fits_its_sheet_with_room_for_its_words(paper: str) -> None:
    card = make_card(paper, window_mm=140.0)
    assert card.page_mm[2] - card.page_mm[0] == pytest.approx(PAPERS_MM[paper][0])
    assert card.page_mm[3] - card.check_mm[2] > 30.0


def test_the_area_of_a_square_with_a_hole_is_that_by_hand() -> None:
    cells = np.ones((3, 3), bool)
    cells[1, 1] = False
    assert area_mm2(outlines(cells)) == 8.0


@pytest.mark.parametrize("number", range(0, 500, 37))
def test_a_markers_outline_holds_as_many_cells_as_are_black(number: int) -> None:
    bits = marker_bits(number)
    assert area_mm2(outlines(bits)) == bits.sum()


def test_film_is_black_over_at_most_six_tenths_of_what_paper_is() -> None:
    paper, film = (sum(area_mm2(shape) for shape in black_shapes(FRAMES[3], film=film)) for film in (False, True))
    assert film <= 0.6 * paper


@pytest.mark.parametrize(("wanted", "made"), [(1.0, 30.0), (30.0, 30.0), (57.0, 60.0), (60.0, 60.0), (60.5, 70.0)])
def test_a_window_is_made_up_to_full_squares(wanted: float, made: float) -> None:
    assert make_card("a4", window_mm=wanted).layout.window_mm == made


@pytest.mark.parametrize("window", [0.0, -60.0, 140.5, 6000.0])
def test_a_window_that_does_not_fit_is_refused_with_value_and_cure(window: float) -> None:
    with pytest.raises(InputError, match=rf"^--window {window:g}mm does not fit the sheet: give up to 140mm, or lay"):
        make_card("a4", window_mm=window)


def test_an_unknown_paper_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputError, match=r"^--paper a5 is not known: choose one of a4, letter, strip$"):
        make_card("a5")
