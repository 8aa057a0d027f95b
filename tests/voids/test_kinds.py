"""Dark marks that are no voids get a kind and a reason."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
import pytest

from bubblegrade.voids.kinds import set_aside, with_wires
from bubblegrade.voids.marks import Marks
from bubblegrade.voids.naming import MARK_KINDS
from bubblegrade.voids.table import KINDS, Voids

SIDE = 400

MarksIn = Callable[..., Marks]
Bar = Callable[[int, int, float], np.ndarray]


def sure_of(kind: str, share: float = 0.9, count: int = 1) -> np.ndarray:
    """Return probabilities that name `kind` with `share`, the rest even."""
    likely = np.full((count, len(MARK_KINDS)), (1 - share) / (len(MARK_KINDS) - 1), np.float32)
    likely[:, MARK_KINDS.index(kind)] = share
    return likely


def amid(x: np.ndarray, _: np.ndarray) -> np.ndarray:
    """Return distances from a border that is far away."""
    return np.full(len(x), 100.0, np.float32)


def test_every_kind_of_mark_is_listed_under_a_kind_of_the_table_with_a_reason(marks_in: MarksIn, bar: Bar) -> None:
    marks = marks_in(bar(40, 9, 30))
    for kind in MARK_KINDS[:6]:
        table, aside = set_aside(marks, sure_of(kind), Voids.none())
        assert table.kind.tolist() == ["fibre" if kind == "speck" else kind]
        assert set(table.kind.tolist()) <= set(KINDS)
        assert "68 % sure" in table.reason[0]  # such a name, held likely to 0.9, is right so often
        np.testing.assert_array_equal(aside, marks.labels > 0)


def test_shade_is_not_listed_and_what_has_no_clear_name_is_unsure(marks_in: MarksIn, bar: Bar) -> None:
    marks = marks_in(bar(40, 9, 30))
    table, aside = set_aside(marks, sure_of("nothing"), Voids.none())
    assert len(table) == 0
    assert not aside.any()
    table, aside = set_aside(marks_in(bar(12, 9, 30)), sure_of("nothing", 0.6), Voids.none())
    assert table.kind.tolist() == ["unsure"]
    assert aside.any()
    table, _ = set_aside(marks, sure_of("flake", 0.4), Voids.none())
    assert table.kind.tolist() == ["unsure"]
    table, _ = set_aside(marks, sure_of("void"), Voids.none())
    assert table.kind.tolist() == ["unsure"]


def test_what_is_drawn_out_and_without_a_name_is_no_larger_than_its_thickest_place(marks_in: MarksIn) -> None:
    dark = np.zeros((SIDE, SIDE), np.float32)
    cv2.ellipse(dark, (200, 200), (150, 90), 0, 0, 180, 0.8, 9)  # as the dark rim of a round flank
    cv2.circle(dark, (150, 278), 9, 0.8, -1)
    table, _ = set_aside(marks_in(dark), sure_of("hardware", 0.4), Voids.none())
    assert table.kind.tolist() == ["unsure"]
    assert (table.x_px[0], table.y_px[0]) == pytest.approx((150, 279), abs=3)
    assert table.diameter_px[0] == pytest.approx(20, abs=3)
    assert "cannot be told" in table.reason[0]


def test_a_small_mark_without_a_name_may_be_a_void_too_small_to_count(marks_in: MarksIn, bar: Bar) -> None:
    table, _ = set_aside(marks_in(bar(3, 2, 0)), sure_of("void"), Voids.none())
    assert len(table) == 0


def test_a_doubtful_find_on_a_named_mark_is_that_mark_and_on_any_other_keeps_its_row(
    marks_in: MarksIn, bar: Bar
) -> None:
    marks = marks_in(bar(30, 30, 0))
    doubtful = Voids.of(x_px=[200.0], y_px=[200.0], diameter_px=[24.0], kind=["unsure"])
    table, _ = set_aside(marks, sure_of("flake"), doubtful)
    assert table.kind.tolist() == ["flake"]
    table, _ = set_aside(marks, sure_of("pit"), doubtful)  # dents and lop-sided voids look alike
    assert table.kind.tolist() == ["unsure"]
    assert table.diameter_px.tolist() == [24.0]
    table, _ = set_aside(marks, sure_of("void"), doubtful)
    assert table.diameter_px.tolist() == [24.0]


def test_a_wire_with_eye_and_ballast_on_it_is_three_pieces_of_hardware(marks_in: MarksIn) -> None:
    dark = np.zeros((SIDE, SIDE), np.float32)
    cv2.line(dark, (20, 200), (380, 200), 1.0, 7)
    cv2.circle(dark, (90, 200), 25, 1.0, -1)
    cv2.circle(dark, (260, 200), 30, 1.0, -1)
    table, _ = set_aside(marks_in(dark), sure_of("hardware"), Voids.none())
    assert set(table.kind.tolist()) == {"hardware"}
    places = sorted(zip(table.x_px.round().tolist(), table.y_px.round().tolist(), strict=True))
    assert len(places) == 3
    assert np.allclose(places[0], (90, 200), atol=3)
    assert np.allclose(places[2], (260, 200), atol=3)


def test_a_line_of_uneven_thickness_is_one_piece_of_hardware(marks_in: MarksIn) -> None:
    dark = np.zeros((SIDE, SIDE), np.float32)
    for x in range(20, 380):
        half = 12 if x < 60 else 5 + (x // 9) % 2
        dark[200 - half : 201 + half, x] = 0.9
    table, _ = set_aside(marks_in(dark), sure_of("hardware"), Voids.none())
    assert table.kind.tolist() == ["hardware"]


def test_a_doubtful_find_beside_the_marks_takes_none_of_them_away(marks_in: MarksIn, bar: Bar) -> None:
    doubtful = Voids.of(x_px=[60.0], y_px=[60.0], diameter_px=[24.0], kind=["unsure"])
    table, _ = set_aside(marks_in(bar(40, 9, 30)), sure_of("void"), doubtful)
    assert len(table) == 2
    nothing = marks_in(np.zeros((SIDE, SIDE), np.float32))
    table, _ = set_aside(nothing, np.empty((0, len(MARK_KINDS)), np.float32), doubtful)
    assert table.diameter_px.tolist() == [24.0]


def test_no_marks_and_no_doubts_leave_an_empty_table(marks_in: MarksIn) -> None:
    marks = marks_in(np.zeros((SIDE, SIDE), np.float32))
    table, aside = set_aside(marks, np.empty((0, len(MARK_KINDS)), np.float32), Voids.none())
    assert len(table) == 0
    assert not aside.any()


@pytest.mark.parametrize("angle", [0, 30, 90])
def test_a_straight_dark_bar_through_the_casting_is_hardware_whatever_the_namer_says(
    marks_in: MarksIn, bar: Bar, angle: int
) -> None:
    likely = with_wires(marks_in(bar(320, 12, angle)), sure_of("nothing"), amid, SIDE)
    assert likely.sum(axis=1) == pytest.approx(1)
    table, _ = set_aside(marks_in(bar(320, 12, angle)), likely, Voids.none())
    assert set(table.kind.tolist()) == {"hardware"}


def away_by(away_px: float) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    return lambda x, _: np.full(len(x), away_px, np.float32)


def test_no_wire_is_what_is_short_thin_or_pale(marks_in: MarksIn, bar: Bar) -> None:
    crossing = bar(320, 5, 0)
    crossing[196:205, 196:205] = crossing.max()
    for dark in (bar(200, 12, 0), bar(320, 4, 0), crossing, bar(320, 12, 0) * np.float32(0.7)):
        marks = marks_in(dark)
        assert len(marks) == 1
        assert (with_wires(marks, sure_of("nothing"), amid, SIDE) == sure_of("nothing")).all()


def within_a_disc(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return np.float32(195) - np.hypot(x - 200, y - 200)


@pytest.mark.parametrize("degrees", [110, 270, 360])
def test_a_dark_line_along_the_border_is_no_wire_however_far_it_goes_around(marks_in: MarksIn, degrees: int) -> None:
    border = np.zeros((SIDE, SIDE), np.float32)
    cv2.ellipse(border, (200, 200), (186, 186), 0, 0, degrees, 0.9, 12)
    marks = marks_in(border)
    assert len(marks) == 1
    assert (with_wires(marks, sure_of("nothing"), within_a_disc, SIDE) == sure_of("nothing")).all()


@pytest.mark.parametrize(("away_px", "kind"), [(90.0, "hardware"), (12.0, "scratch")])
def test_a_wire_with_a_hanger_is_hardware_well_within(marks_in: MarksIn, bar: Bar, away_px: float, kind: str) -> None:
    wire = bar(320, 12, 0)
    wire[100:200, 250:262] = 0.9
    likely = with_wires(marks_in(wire), sure_of("scratch", 0.7), away_by(away_px), SIDE)
    assert MARK_KINDS[int(likely[0].argmax())] == kind


def test_a_straight_dark_line_at_the_border_is_no_wire(marks_in: MarksIn, bar: Bar) -> None:
    likely = sure_of("nothing")
    named = with_wires(marks_in(bar(320, 12, 0)), likely, away_by(8.0), SIDE)
    assert (named == likely).all()


def test_what_is_finer_than_wire_is_the_likeliest_of_the_rest(marks_in: MarksIn, bar: Bar) -> None:
    likely = 0.8 * sure_of("hardware", 1.0) + 0.2 * sure_of("scratch", 0.8)
    for width, kind in ((4, "scratch"), (9, "hardware")):
        named = with_wires(marks_in(bar(60, width, 0)), likely, amid, SIDE)
        assert MARK_KINDS[int(named[0].argmax())] == kind
        assert named.sum() == pytest.approx(1)


def test_what_the_namer_is_surer_of_stays(marks_in: MarksIn, bar: Bar) -> None:
    likely = sure_of("hardware", 0.97)
    assert (with_wires(marks_in(bar(320, 12, 0)), likely, amid, SIDE) == likely).all()
