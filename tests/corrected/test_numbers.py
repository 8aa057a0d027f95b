"""Numbers after corrections, against what they follow from."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import chi2

from bubblegrade.corrected.changes import (
    Added,
    Change,
    LeftOut,
    Removed,
    Renamed,
    Resized,
    Scaled,
    Step,
    Zone,
)
from bubblegrade.corrected.finds import BY_HAND_ERR_PX, State
from bubblegrade.corrected.numbers import BY_HAND, Basis, Corrected, applied
from bubblegrade.grading_run import Casting
from bubblegrade.photo.mid_plane import AS_DRAWN, GRANTED, NO_THICKNESS
from bubblegrade.photo.scale import Scale, Span
from bubblegrade.settings import Settings
from bubblegrade.voids.table import Voids

BASIS = Basis(Settings(), whole=False)
LEFT_HALF = ((-0.5, -0.5), (149.5, -0.5), (149.5, 199.5), (-0.5, 199.5))  # holds the void at 60, 60

Known = Callable[..., Casting]


def after(casting: Casting, *changes: Change) -> Corrected:
    return applied(casting, [Step(number, "Ann", did) for number, did in enumerate(changes, start=1)], BASIS)


def test_without_changes_the_numbers_stay(known_casting: Known) -> None:
    before = known_casting()
    same = after(before).casting
    assert same.sizes_px == before.sizes_px
    assert (same.clarity.cover, same.clarity.veil) == (before.clarity.cover, before.clarity.veil)
    assert (same.count, same.judged_area_px, same.scale) == (before.count, before.judged_area_px, before.scale)
    assert same.warnings[:2] == before.warnings


@pytest.mark.parametrize("change", [(), (Zone("belly", LEFT_HALF),)])
def test_a_clarity_that_no_change_moves_stays_to_the_last_digit(known_casting: Known, change: tuple[Change]) -> None:
    before = known_casting()
    graded = replace(before, clarity=replace(before.clarity, score=30.0, low=17.1, high=46.2))  # a word's own limit
    assert after(graded, *change).casting.clarity == graded.clarity


def test_what_is_no_longer_unsure_may_no_longer_lower_the_clarity(known_casting: Known) -> None:
    before = known_casting()
    assert before.set_aside.kind[0] == "unsure"
    unsure = after(before, Removed("v2")).casting
    told = after(before, Removed("v2"), Renamed("s0", "fibre")).casting
    assert (told.clarity.score, told.clarity.high) == (unsure.clarity.score, unsure.clarity.high)
    assert told.clarity.low > unsure.clarity.low


def test_a_removed_void_is_no_longer_counted_and_takes_its_cover_along(known_casting: Known) -> None:
    before = known_casting()
    done = after(before, Removed("v2")).casting
    assert done.voids.diameter_px.tolist() == [8.0, 16.0]
    lost = math.pi / 4 * 30.0**2 / before.judged_area_px
    assert done.clarity.cover == pytest.approx(max(before.clarity.cover - lost, 0.0), abs=1e-12)
    assert done.clarity.score > before.clarity.score
    assert done.sizes_px.largest.value == 16.0


def test_a_void_takes_along_only_what_it_covers_of_the_judged_area(known_casting: Known) -> None:
    right = np.array([(230.0, 20.0), (280.0, 20.0), (280.0, 180.0), (230.0, 180.0)])
    clear = replace(known_casting().clarity, cover=0.1)
    before = known_casting(judged_px=(right,), judged_area_px=8000.0, clarity=clear)
    half = math.pi / 8 * 30.0**2 + 0.5 * 30.0  # the border runs through the middle of the outermost pixels
    for change, covered in ((Removed("v2"), half), (Removed("v0"), 0.0)):  # one across its border, one beside it
        lost = (before.clarity.cover - after(before, change).casting.clarity.cover) * before.judged_area_px
        assert lost == pytest.approx(covered, rel=0.03, abs=1e-9)


def test_removed_voids_take_the_doubt_of_their_cover_along(known_casting: Known) -> None:
    before = known_casting()
    one = after(before, Removed("v2")).casting.clarity
    assert one.cover_err == pytest.approx(before.clarity.cover_err * (0.8 + 3.2) / (0.8 + 3.2 + 9.0))
    assert after(before, Removed("v0"), Removed("v1"), Removed("v2")).casting.clarity.cover_err == 0.0


def test_a_smaller_judged_area_makes_the_doubt_of_the_cover_no_smaller_share_of_it(known_casting: Known) -> None:
    before = known_casting()
    empty = ((241.0, 20.0), (280.0, 20.0), (280.0, 110.0), (241.0, 110.0))
    done = after(before, LeftOut(empty)).casting
    assert done.judged_area_px < 0.95 * before.judged_area_px
    relative = [each.clarity.cover_err / each.clarity.cover for each in (done, before)]
    assert relative[0] == pytest.approx(relative[1])


@pytest.mark.parametrize("side", [6.0, 20.0, 80.0])
def test_what_is_left_out_is_as_large_as_it_was_drawn(known_casting: Known, side: float) -> None:
    before = known_casting()
    x, y = 150.2, 80.3
    square = ((x, y), (x + side, y), (x + side, y + side), (x, y + side))
    lost = before.judged_area_px - after(before, LeftOut(square)).casting.judged_area_px
    whole = before.judged_area_px / _shoelace(before.judged_px[0])  # the border runs through the outermost pixels
    assert lost == pytest.approx(side**2, rel=0.02 + abs(whole - 1.0))


def _shoelace(line: np.ndarray) -> float:
    x, y = line.T
    return abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2


def test_the_count_keeps_its_exact_limits(known_casting: Known) -> None:
    sizes = after(known_casting(), Added(100.0, 100.0, 20.0), Added(120.0, 60.0, 9.0)).casting.sizes_px
    assert sizes.count == 5
    assert sizes.count_low == pytest.approx(chi2.ppf(0.025, 2 * 5) / 2)  # Garwood 1936, by way of scipy
    assert sizes.count_high == pytest.approx(chi2.ppf(0.975, 2 * 7) / 2)  # with the one that is unsure


def test_an_added_void_says_who_added_it_and_how_far_it_can_be_trusted(known_casting: Known) -> None:
    done = after(known_casting(), Added(100.0, 100.0, 20.0))
    (new,) = [find for find in done.finds if find.name == "a1"]
    assert (new.who, new.state, new.reason) == ("Ann", State.COUNTED, "added by Ann")
    assert new.diameter_err_px == pytest.approx(0.7 * math.sqrt(2))  # two points, each read off a screen to 0.7 px
    assert done.casting.voids.diameter_err_px[-1] == BY_HAND_ERR_PX


def test_a_resized_void_moves_the_sizes(known_casting: Known) -> None:
    done = after(known_casting(), Resized("v2", 40.0)).casting
    assert done.sizes_px.largest.value == 40.0
    assert done.count == 3


def test_a_void_named_a_flake_is_set_aside_and_an_unsure_find_named_a_void_counts(known_casting: Known) -> None:
    done = after(known_casting(), Renamed("v0", "flake"), Renamed("s0", "void")).casting
    assert sorted(done.voids.diameter_px.tolist()) == [9.0, 16.0, 30.0]
    assert done.set_aside.kind.tolist() == ["flake", "flake"]
    assert done.unsure_count == 0
    assert np.isfinite(done.voids.diameter_err_px).all()


def test_an_area_left_out_takes_its_share_of_the_judged_area_and_its_voids(known_casting: Known) -> None:
    before = known_casting()
    done = after(before, LeftOut(LEFT_HALF))
    assert done.casting.judged_area_px == pytest.approx(before.judged_area_px / 2, rel=0.01)
    assert done.casting.voids.diameter_px.tolist() == [16.0, 30.0]
    assert [find.name for find in done.finds if find.state is State.LEFT_OUT] == ["v0", "s0"]
    part = done.casting.not_judged[-1]
    assert part.reason == BY_HAND
    assert part.area_px + done.casting.judged_area_px == pytest.approx(before.judged_area_px)


def test_where_all_is_left_out_the_clarity_cannot_be_told(known_casting: Known) -> None:
    everything = ((-0.5, -0.5), (299.5, -0.5), (299.5, 199.5), (-0.5, 199.5))
    done = after(known_casting(), LeftOut(everything)).casting
    assert (done.count, done.judged_area_px) == (0, 0.0)
    assert math.isnan(done.clarity.score)


def test_two_points_set_the_scale_and_every_length_follows(known_casting: Known) -> None:
    before = known_casting(scale=None, thickness_mm=None)
    done = after(before, Scaled(Span(20.0, 20.0, 280.0, 20.0, 26.0))).casting
    assert done.scale is not None
    assert done.scale.mm_per_px == pytest.approx(0.1)
    assert done.sizes_mm is not None
    assert done.sizes_mm.largest.value == pytest.approx(3.0)
    assert done.judged_area_cm2 == pytest.approx(before.judged_area_px * 0.01 / 100)
    assert done.span_px == ((20.0, 20.0), (280.0, 20.0))


def test_the_remark_that_there_is_no_scale_goes_when_one_is_set(known_casting: Known) -> None:
    none = after(known_casting(scale=None, thickness_mm=None)).casting
    assert any("no scale" in warning for warning in none.warnings)
    done = after(none, Scaled(Span(20.0, 20.0, 280.0, 20.0, 26.0))).casting
    assert not any("no scale" in warning for warning in done.warnings)
    assert "mind the light" in done.warnings


def test_what_a_card_takes_for_granted_goes_with_its_scale(known_casting: Known) -> None:
    on_card = Scale(0.05, 0.0005, f"card {AS_DRAWN}, {NO_THICKNESS}")
    before = after(known_casting(scale=on_card)).casting
    assert {GRANTED[AS_DRAWN], GRANTED[NO_THICKNESS]} <= {*before.warnings}
    done = after(before, Scaled(Span(20.0, 20.0, 280.0, 20.0, 26.0))).casting
    assert not {*GRANTED.values()} & {*done.warnings}


def test_a_zone_counts_its_own_voids(known_casting: Known) -> None:
    (zone,) = after(known_casting(), Zone("head", LEFT_HALF)).zones
    assert (zone.count, zone.largest_px) == (1, 8.0)
    (empty,) = after(known_casting(), Removed("v0"), Zone("head", LEFT_HALF)).zones
    assert (empty.count, empty.low) == (0, 0.0)
    assert empty.high == pytest.approx(chi2.ppf(0.975, 2 * 2) / 2)  # with the one that is unsure
    assert math.isnan(empty.largest_px)


def test_a_zone_without_any_find_has_the_limits_of_none_seen(known_casting: Known) -> None:
    (empty,) = after(known_casting(set_aside=Voids.none()), Removed("v0"), Zone("head", LEFT_HALF)).zones
    assert (empty.low, empty.high) == (0.0, pytest.approx(-math.log(0.025)))


def test_in_a_whole_frame_voids_that_it_cuts_have_no_size(known_casting: Known) -> None:
    before = known_casting()
    before.voids.cut[2] = True
    done = applied(before, [Step(1, "Ann", Added(100.0, 100.0, 20.0))], Basis(Settings(), whole=True)).casting
    assert done.sizes_px.count == 3
    assert done.sizes_px.largest.value == 20.0
    assert (done.count, done.cut_count) == (3, 1)


def test_an_added_void_and_its_removal_leave_the_numbers_as_they_were(known_casting: Known) -> None:
    before = after(known_casting()).casting
    done = after(known_casting(), Added(100.0, 100.0, 20.0), Removed("a1")).casting
    assert done.sizes_px == before.sizes_px
    assert done.clarity == before.clarity


JUDGED = np.array([(70.0, 40.0), (110.0, 40.0), (110.0, 120.0), (70.0, 120.0)])
OUTLINE = np.array([(20.0, 20.0), (280.0, 20.0), (280.0, 180.0), (20.0, 180.0)])


def added(done: Corrected) -> list[tuple[str, bool]]:
    """Return state and place of what was added."""
    return [(str(find.state), find.judged) for find in done.finds if find.name.startswith("a")]


@pytest.mark.parametrize(("x_px", "y_px"), [(10.0, 100.0), (290.0, 100.0), (150.0, 190.0)])
def test_what_is_added_on_the_light_beside_the_casting_is_kept_and_moves_no_number(
    known_casting: Known, x_px: float, y_px: float
) -> None:
    before = known_casting(judged_px=(JUDGED,), outline_px=OUTLINE)
    done = after(before, Added(x_px, y_px, 20.0))
    assert added(done) == [("left out", False)]
    assert done.casting.count == before.count
    assert done.casting.clarity.cover == pytest.approx(before.clarity.cover, abs=1e-12)
    assert done.casting.sizes_px == before.sizes_px


def test_a_void_seen_where_the_casting_could_not_be_judged_counts_and_says_where_it_lies(known_casting: Known) -> None:
    before = known_casting(judged_px=(JUDGED,), outline_px=OUTLINE)
    done = after(before, Added(200.0, 100.0, 8.0), Added(90.0, 60.0, 8.0))
    assert added(done) == [("counted", False), ("counted", True)]
    assert done.casting.count == before.count + 2


def test_in_a_whole_frame_a_hole_of_the_judged_area_is_beside_it(known_casting: Known) -> None:
    whole, hole = np.array(LEFT_HALF), np.array([(20.0, 20.0), (40.0, 20.0), (40.0, 40.0), (20.0, 40.0)])
    before = known_casting(judged_px=(whole, hole), outline_px=np.empty((0, 2)))
    done = after(before, Added(30.0, 30.0, 8.0), Added(60.0, 30.0, 8.0))
    assert added(done) == [("left out", False), ("counted", True)]


def test_a_void_added_where_the_frame_cuts_it_has_no_size_in_a_whole_frame(known_casting: Known) -> None:
    frame = np.array([(-0.5, -0.5), (299.5, -0.5), (299.5, 199.5), (-0.5, 199.5)])
    before = known_casting(judged_px=(frame,))
    basis = Basis(Settings(), whole=True)
    for x_px, count in ((5.0, 3), (50.0, 4)):
        done = applied(before, [Step(1, "Ann", Added(x_px, 100.0, 20.0))], basis).casting
        assert done.sizes_px.count == count
