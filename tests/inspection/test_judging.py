"""Voids in tables held against each limit: certain, in doubt, or within it. 0.05 mm per px, known to 1 %."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from bubblegrade.casting.curved import FLAT, Magnified
from bubblegrade.fitness.check import Fitness
from bubblegrade.fitness.check import Verdict as CareVerdict
from bubblegrade.grading.clarity import Clarity
from bubblegrade.grading.score import clarity_score
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.frame import moments
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.limits import Length, Limits
from bubblegrade.inspection.seen import Seen
from bubblegrade.inspection.verdicts import Fault, Judgement, Verdict
from bubblegrade.voids.kinds import DRAWN_OUT
from bubblegrade.voids.table import Voids
from tests.conftest import known_check

Judged = Callable[..., Judgement]
ALL = '[zones.piece]\nshape = "all"\n'
HARDWARE = '[zones.metal]\nshape = "hardware"\nmargin = "1mm"\n'
FACE = '[zones.face]\nshape = "box"\nalong = [0.0, 0.3]\nacross = [0.0, 1.0]\nunjudged = "100%"\n'


def rules(found: Judgement) -> list[tuple[str, str, str]]:
    return [(fault.zone, fault.rule, fault.verdict.value) for fault in found.faults]


def only(found: Judgement) -> Fault:
    assert len(found.faults) == 1
    return found.faults[0]


# The interval of 10 px is 1.96 * hypot(err / 10, 0.01), so 0.473 to 0.527 mm at an error of 0.25 px.
@pytest.mark.parametrize(
    ("limit", "verdict"),
    [("0.53mm", "pass"), ("0.52mm", "look again"), ("0.48mm", "look again"), ("0.47mm", "fail"), ("10.6px", "pass")],
)
def test_the_uncertainty_of_a_diameter_decides(judged: Judged, limit: str, verdict: str) -> None:
    found = judged(f'{ALL}largest = "{limit}"', (120.0, 90.0, 10.0, 0.25))
    assert found.verdict.value == verdict
    assert [fault.rule for fault in found.faults] == ["largest"] * (verdict != "pass")


def test_the_opening_of_a_loop_at_the_outline_is_held_against_nothing(judged: Judged, drop: np.ndarray) -> None:
    """A loop of 24 px stands out of the drop's flat back; its opening looks like a void of 16 px."""
    turn = np.radians(np.arange(123.0, 418.0, 5.0))
    loop = np.array([120.0, 40.0]) + 12.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    line = np.concatenate([drop[:42], loop, drop[49:]])
    limits = f'{ALL}largest = "0.4mm"'
    found = judged(limits, (120.0, 40.0, 16.0, 0.1), outline_px=line)
    assert found.verdict is Verdict.PASS
    assert found.remarks == ("in loops or ends of wire at the outline, held against nothing: 1 find",)
    assert judged(limits, (120.0, 90.0, 16.0, 0.1), outline_px=line).verdict is Verdict.FAIL


@pytest.mark.parametrize(("x", "verdict"), [(150.0, "fail"), (176.0, "fail"), (180.0, "pass"), (120.0, "pass")])
def test_a_round_piece_has_a_circle_around_its_middle_and_no_zone_along_it(
    piece: Callable[..., Casting], limits: Callable[[str], Limits], x: float, verdict: str
) -> None:
    """A disc of 80 px at 150, 100: 0.3 of its diameter is 24 px; a void of 8 px that reaches in breaks the limit."""
    turn = np.radians(np.arange(360.0))
    disc = np.array([150.0, 100.0]) + 40.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    rows, cols = np.indices((200, 300))
    whole = np.hypot(cols - 150, rows - 100) <= 40
    held = piece((x, 100.0, 8.0, 0.01), outline_px=disc, judged_px=(disc,))
    view = Seen(1, whole, whole, np.zeros_like(whole))
    oval = '[zones.face]\nshape = "oval"\nmiddle = [0.5, 0.5]\nhalf = {}\ncount = 0\n'
    found = judge(held, view, limits(oval.format("[0.3, 0.3]")))
    assert found.verdict.value == verdict
    assert found.zones[0].area_px == pytest.approx(math.pi * 24.0**2, rel=0.02)
    along = only(judge(held, view, limits(oval.format("[0.3, 0.2]"))))
    assert (along.rule, along.verdict) == ("frame", Verdict.AGAIN)
    assert along.reason.startswith("the piece is too round to tell its length, by which face would be placed: use")


def test_a_fault_says_value_limit_and_place(judged: Judged) -> None:
    found = judged(f'{ALL}largest = "0.4mm"', (120.0, 90.0, 10.0, 0.1), (150.0, 90.0, 20.0, 0.1))
    assert only(found).line == "piece: void of 0.978 to 1.02 mm, largest allowed 0.4 mm, and 1 more; look at 150,90"
    assert only(found).places_px.tolist() == [[150.0, 90.0], [120.0, 90.0]]


def test_a_limit_under_the_smallest_countable_void_is_never_passed(judged: Judged) -> None:
    found = judged(f'{ALL}largest = "0.2mm"')
    assert rules(found) == [("piece", "largest", "look again")]
    assert "from 0.25 mm on" in only(found).reason


def test_voids_over_a_size_are_counted_and_doubtful_ones_leave_a_doubt(judged: Judged) -> None:
    text = f'{ALL}count = 1\ncount_over = "0.5mm"'
    sure, doubtful, small = (100.0, 80.0, 12.0, 0.1), (140.0, 90.0, 10.0, 0.3), (180.0, 80.0, 8.0, 0.1)
    assert judged(text, sure, small).verdict is Verdict.PASS
    assert only(judged(text, sure, doubtful)).reason == "1 to 2 voids over 0.5 mm, allowed 1"
    assert judged(text, sure, doubtful).verdict is Verdict.AGAIN
    assert judged(text, sure, doubtful, (70.0, 80.0, 12.0, 0.1)).verdict is Verdict.FAIL


def test_cover_is_the_area_of_silhouettes_over_the_judged_area(judged: Judged, drop: np.ndarray) -> None:
    found = judged(f'{ALL}cover = "50%"', (120.0, 90.0, 30.0, 0.3))
    area = moments(drop)[0]
    assert found.zones[0].cover_share == pytest.approx(math.pi / 4 * 30.0**2 / area, rel=0.02)
    assert found.zones[0].cover_err == pytest.approx(2 * 0.3 / 30.0 * found.zones[0].cover_share)
    share = found.zones[0].cover_share
    for factor, verdict in ((1.06, Verdict.PASS), (1.0, Verdict.AGAIN), (0.94, Verdict.FAIL)):
        assert judged(f"{ALL}cover = {factor * share}", (120.0, 90.0, 30.0, 0.3)).verdict is verdict


def test_voids_measured_in_one_light_are_off_alike(judged: Judged) -> None:
    found = judged(f'{ALL}cover = "50%"', *((x, 90.0, 16.0, 0.4) for x in (90.0, 120.0, 150.0, 180.0)))
    assert found.zones[0].cover_err == pytest.approx(2 * 0.4 / 16.0 * found.zones[0].cover_share)


def test_a_void_across_the_border_of_a_zone_covers_its_own_part_of_each(judged: Judged) -> None:
    box = 'shape = "box"\nacross = [0.0, 1.0]\ncover = "90%"\nunjudged = "100%"'
    parts = f"[zones.fore]\n{box}\nalong = [0.0, 0.5]\n[zones.aft]\n{box}\nalong = [0.5, 1.0]"
    found = judged(parts, (150.0, 85.0, 20.0, 0.1))  # its centre on the border
    assert [zone.count for zone in found.zones] == [1, 1]
    covered = [zone.cover_share * zone.judged_px for zone in found.zones]
    assert sum(covered) == pytest.approx(math.pi * 100.0, rel=0.001)
    assert covered[0] == pytest.approx(covered[1], rel=0.15)


@pytest.mark.parametrize(("gap", "verdict"), [(4.0, "fail"), (10.0, "look again"), (14.0, "pass")])
def test_a_void_beside_hardware_is_too_near(judged: Judged, gap: float, verdict: str) -> None:
    text = f'{HARDWARE}from_hardware = "0.5mm"\nunjudged = "100%"'
    found = judged(text, (100.0 + 10.0 + gap + 5.0, 90.0, 10.0, 0.1), solid=(100.0, 90.0, 20.0))
    assert found.verdict.value == verdict


def test_a_hardware_zone_without_hardware_is_looked_at(judged: Judged) -> None:
    assert rules(judged(f'{HARDWARE}largest = "1mm"')) == [("metal", "hardware", "look again")]


@pytest.mark.parametrize(("gap", "verdict"), [(6.0, "fail"), (10.0, "look again"), (14.0, "pass")])
def test_a_void_beside_the_outline_is_too_near(judged: Judged, gap: float, verdict: str) -> None:
    above = 70.0 - 20.0 * math.sqrt(1 / 3) * (2 / 3) / 0.3849  # the flat side at its highest, at x = 110
    found = judged(f'{ALL}from_surface = "0.5mm"', (110.0, above + gap + 5.0, 10.0, 0.1))
    assert found.verdict.value == verdict


def test_a_bent_body_may_reach_beyond_its_outline_so_that_no_void_is_too_near_it_for_sure(judged: Judged) -> None:
    # 240 px long: its outline lies up to 1.96 * 0.004 * 240 = 1.9 px within the body
    above = 70.0 - 20.0 * math.sqrt(1 / 3) * (2 / 3) / 0.3849
    limits, bent = f'{ALL}from_surface = "0.5mm"', Magnified(1.08, 0.04, "curved body")

    def verdict(gap: float, body: Magnified) -> str:
        return judged(limits, (110.0, above + gap + 5.0, 10.0, 0.1), magnified=body).verdict.value

    assert [verdict(gap, FLAT) for gap in (7.8, 12.2)] == ["fail", "pass"]
    assert [verdict(gap, replace(bent, factor=1.0, err=0.0)) for gap in (7.8, 12.2)] == ["look again", "pass"]


def test_three_voids_within_a_distance_are_a_cluster(judged: Judged) -> None:
    text = f'{ALL}cluster_within = "1mm"'
    near = [(100.0, 90.0, 8.0, 0.1), (110.0, 90.0, 8.0, 0.1), (105.0, 100.0, 8.0, 0.1)]
    assert judged(text, *near[:2]).verdict is Verdict.PASS
    assert only(judged(text, *near)).reason == "3 voids within 1 mm of one of them, allowed 2"
    assert judged(text, *near).verdict is Verdict.FAIL
    assert judged(f'{text}\ncluster_over = "0.5mm"', *near).verdict is Verdict.PASS
    row = [(x, 90.0, 8.0, 0.1) for x in (100.0, 120.0, 140.0)]  # 20 px from the middle one: the limit itself
    assert judged(text, *row).verdict is Verdict.AGAIN


# 3 mm are 60 px, and a scale known to 1 % leaves 1.96 * hypot(0.71, 0.6) = 1.8 px of it open
@pytest.mark.parametrize(
    ("apart", "verdict"), [(58.0, "fail"), (58.4, "look again"), (61.6, "look again"), (62.0, "pass")]
)
def test_a_cluster_as_wide_as_the_scale_is_unsure_is_looked_at_again(
    judged: Judged, apart: float, verdict: str
) -> None:
    row = [(120.0 + step * apart, 85.0, 8.0, 0.1) for step in (-1, 0, 1)]
    assert judged(f'{ALL}cluster_within = "3mm"', *row).verdict.value == verdict


def test_a_cluster_across_the_border_of_a_zone_is_found_in_it(judged: Judged) -> None:
    row = [(x, 85.0, 8.0, 0.1) for x in (90.0, 106.0, 114.0)]  # the face reaches to about 102
    found = judged(f'{FACE}cluster_within = "1mm"', *row)
    assert only(found).reason == "3 voids within 1 mm of one of them, allowed 2"


def test_clarity_is_that_of_the_zone(judged: Judged) -> None:
    clear = Clarity(score=90.0, low=85.0, high=95.0, cover=0.0, veil=0.0, cover_err=0.0, veil_err=0.0)
    void = (70.0, 80.0, 20.0, 0.1)
    found = judged(FACE + "clarity = 1", void, clarity=clear)
    score = clarity_score(found.zones[0].cover_share, 0.0)
    for least, verdict in ((score - 1, Verdict.PASS), (score, Verdict.AGAIN), (score + 1, Verdict.FAIL)):
        assert judged(f"{FACE}clarity = {least}", void, clarity=clear).verdict is verdict
    far = judged(f"{FACE}clarity = 99", (200.0, 80.0, 20.0, 0.1), clarity=clear)
    assert far.verdict is Verdict.PASS
    dark = Clarity(score=math.nan, low=math.nan, high=math.nan, cover=math.nan, veil=math.nan)
    assert judged(f"{FACE}clarity = 50", void, clarity=dark).verdict is Verdict.AGAIN


def test_what_stays_unjudged_is_looked_at(piece: Callable[..., Casting], seen_piece: Callable[..., Seen],
                                         limits: Callable[[str], Limits]) -> None:  # fmt: skip
    whole = seen_piece()
    half = whole.judged & (np.indices(whole.judged.shape)[1] < 110)
    for judged_part, faults in ((half, ["unjudged"]), (whole.judged, []), (half & False, ["unjudged"])):
        seen = Seen(1, whole.piece, judged_part, whole.solid)
        found = judge(piece(), seen, limits(f'{ALL}largest = "1mm"\nunjudged = "30%"'))
        assert [fault.rule for fault in found.faults] == faults
        assert found.verdict is (Verdict.AGAIN if faults else Verdict.PASS)


def test_what_could_hide_a_void_is_told(piece: Callable[..., Casting], limits: Callable[[str], Limits],
                                                            seen_piece: Callable[..., Seen]) -> None:  # fmt: skip
    whole = seen_piece()
    rows = np.flatnonzero(whole.piece.any(axis=1))
    rim = np.arange(len(whole.piece)) >= rows[-1] + 1 - 12  # the lowest 12 squares of the piece are too dark
    seen = Seen(1, whole.piece, whole.judged & ~rim[:, None], whole.solid)
    told = {}
    for asked in ("", 'unseen = "30px"', 'unseen = "16px"'):
        told[asked] = judge(piece(), seen, limits(f'{ALL}largest = "10px"\nunjudged = "100%"\n{asked}'))
    largest = told[""].zones[0].unseen_px
    assert largest == pytest.approx(2 * 12, abs=2)  # its middle where the light begins
    assert [str(found.verdict) for found in told.values()] == ["pass", "pass", "look again"]
    assert [len(found.remarks) for found in told.values()] == [1, 0, 0]
    assert f"up to {largest:.2g} px in piece" in told[""].remarks[0]
    assert "could lie where nothing can be judged, allowed 16 px" in told['unseen = "16px"'].faults[0].reason


def test_a_zone_beside_the_piece_is_looked_at(judged: Judged) -> None:
    corner = '[zones.corner]\nshape = "oval"\nmiddle = [0.99, 0.98]\nhalf = [0.01, 0.01]\nlargest = "1mm"'
    assert only(judged(corner)).reason == "the zone does not meet the piece"


def test_an_unfit_photograph_is_looked_at(judged: Judged, known_casting: Callable[..., Casting]) -> None:
    unfit = known_casting(unfit=("too dark",)).fitness
    found = judged(f'{ALL}largest = "1mm"', fitness=unfit)
    assert rules(found) == [("", "unfit", "look again")]
    large = judged(f'{ALL}largest = "0.5mm"', (120.0, 90.0, 30.0, 0.1), fitness=unfit)
    assert rules(large) == [("", "unfit", "look again"), ("piece", "largest", "look again")]


@pytest.mark.parametrize(("policy", "verdict"), [("ignore", "pass"), ("look again", "look again"), ("count", "fail")])
def test_unsure_finds_do_what_the_maker_wants(judged: Judged, policy: str, verdict: str) -> None:
    aside = Voids.of(x_px=[120.0, 150.0], y_px=[90.0, 90.0], diameter_px=[30.0, 40.0], kind=["unsure", "flake"])
    found = judged(f'unsure = "{policy}"\n{ALL}largest = "0.6mm"', set_aside=aside)
    assert found.verdict.value == verdict
    assert all("1.06 to 1.94 mm" in fault.reason for fault in found.faults)


def test_zones_apply_where_they_lie_and_what_lies_in_none_is_said(judged: Judged) -> None:
    assert judged(f'{FACE}largest = "0.4mm"', (60.0, 80.0, 12.0, 0.1)).verdict is Verdict.FAIL
    found = judged(f'{FACE}largest = "0.4mm"', (200.0, 80.0, 12.0, 0.1))
    assert found.verdict is Verdict.PASS
    assert found.remarks == ("in no zone: 1 of 1 find, held against nothing",)


def test_where_the_head_cannot_be_told_both_ways_must_agree(judged: Judged) -> None:
    untold = f'head = ["up"]\n{FACE}largest = "0.4mm"'
    found = judged(untold, (60.0, 80.0, 12.0, 0.1))
    assert found.verdict is Verdict.AGAIN
    assert "the head cannot be told" in found.faults[0].reason
    assert {fault.verdict for fault in found.faults} == {Verdict.AGAIN}
    both = judged(untold, (60.0, 80.0, 12.0, 0.1), (240.0, 74.0, 12.0, 0.1))
    assert both.verdict is Verdict.FAIL
    assert "the verdict is the same either way" in both.remarks[-1]
    assert judged(untold, (150.0, 80.0, 12.0, 0.1)).verdict is Verdict.PASS


def test_a_round_piece_has_no_length_and_is_looked_at(judged: Judged) -> None:
    turn = np.linspace(0, 2 * math.pi, 100, endpoint=False)
    disc = np.array([100.0, 90.0]) + 40.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    found = judged(f'{FACE}largest = "1mm"', outline_px=disc)
    assert [fault.rule for fault in found.faults] == ["frame"]
    assert judged(f'{ALL}largest = "1mm"', outline_px=disc).verdict is Verdict.PASS


def test_the_drawn_border_of_a_zone_encloses_its_area(
    piece: Callable[..., Casting], seen_piece: Callable[..., Seen], limits: Callable[[str], Limits]
) -> None:
    held = limits(f'{FACE}largest = "1mm"')
    found = judge(piece(), seen_piece(), held)
    (line,) = found.zones[0].border_px
    assert moments(line)[0] == pytest.approx(found.zones[0].area_px, rel=0.06)  # the line runs through px, not around
    assert found.frame is not None
    assert found.frame.fractions(line)[:, 0].max() == pytest.approx(0.3, abs=1.0 / 240.0)


def test_a_length_in_mm_needs_a_scale() -> None:
    assert math.isnan(Length(1.0, "mm").px(math.nan))
    assert Length(3.0, "px").px(math.nan) == 3.0


def test_finds_that_are_the_moulds_are_left_out(
    piece: Callable[..., Casting], seen_piece: Callable[..., Seen], limits: Callable[[str], Limits]
) -> None:
    casting: Any = piece((120.0, 90.0, 20.0, 0.1), (180.0, 80.0, 8.0, 0.1))
    held = limits(f'{ALL}largest = "0.6mm"')
    marks = np.array([[120.0, 90.0, 20.0]])
    assert judge(casting, seen_piece(), held).verdict is Verdict.FAIL
    found = judge(casting, seen_piece(), held, mould_px=marks)
    assert found.verdict is Verdict.PASS
    assert found.remarks == ("the mould's, at places that repeat from piece to piece: 1 mark",)
    assert judge(casting, seen_piece(), held, mould_px=marks + 40.0).verdict is Verdict.FAIL


def test_a_dark_rim_is_no_find_but_what_is_wider_or_compact_is_one(
    piece: Callable[..., Casting], limits: Callable[[str], Limits], seen_piece: Callable[..., Seen]
) -> None:
    whole = seen_piece()
    last = np.flatnonzero(whole.piece.any(axis=1))[-1]
    rim = np.arange(len(whole.piece))[:, None] > last - 12
    seen = Seen(1, whole.piece, whole.judged & ~rim, whole.solid)
    at = float(np.median(np.flatnonzero(whole.piece[last - 6]))), float(last - 6)
    for diameter, reason, verdict in (
        (11.0, DRAWN_OUT, Verdict.PASS),
        (20.0, DRAWN_OUT, Verdict.AGAIN),
        (11.0, "looks half like a void", Verdict.AGAIN),
    ):
        aside = Voids.of(x_px=at[:1], y_px=at[1:], diameter_px=[diameter], kind=["unsure"], reason=[reason])
        text = f'{ALL}largest = "10px"\nunjudged = "100%"\nunseen = "40px"'
        assert judge(replace(piece(), set_aside=aside), seen, limits(text)).verdict is verdict


@pytest.mark.parametrize(
    ("unsure", "verdict"), [("look again", "look again"), ("count", "look again"), ("ignore", "pass")]
)
@pytest.mark.parametrize("largest", [10, 40])
def test_what_shows_in_the_dark_rim_is_looked_at_where_it_may_be_too_large(
    piece: Callable[..., Casting], limits: Callable[[str], Limits], seen_piece: Callable[..., Seen],
    unsure: str, verdict: str, largest: int,
) -> None:  # fmt: skip
    seen = replace(seen_piece(), breaks_px=np.array([[120.0, 130.0, 24.0]]))
    found = judge(piece(), seen, limits(f'unsure = "{unsure}"\n{ALL}largest = "{largest}px"'))
    assert found.verdict.value == (verdict if largest == 10 else "pass")
    assert [fault.rule for fault in found.faults] == (["in_rim"] if found.verdict is Verdict.AGAIN else [])


def test_a_broken_ring_is_one_unsure_find_in_place_of_its_arcs_and_none_where_its_void_is_counted(
    piece: Callable[..., Casting], limits: Callable[[str], Limits], seen_piece: Callable[..., Seen]
) -> None:
    seen = replace(seen_piece(), rings_px=np.array([[120.0, 95.0, 24.0]]))
    arcs = Voids.of(x_px=[111.0, 129.0], y_px=[95.0, 95.0], diameter_px=[8.0, 9.0], kind=["unsure", "unsure"])
    for voids, aside, found in (
        ((), arcs, 1),
        ((), Voids.none(), 1),
        (((120.5, 95.0, 22.0, 0.2),), Voids.none(), 1),
        (((112.0, 95.0, 6.0, 0.2),), arcs, 2),
        (((112.0, 95.0, 6.0, 0.2), (128.0, 95.0, 6.0, 0.2)), Voids.none(), 2),  # their own borders, side by side
    ):
        finds = judge(replace(piece(*voids), set_aside=aside), seen, limits(f'{ALL}largest = "10px"')).finds
        assert len(finds) == found
        assert finds.sure.sum() == len(voids)


def test_a_judgement_goes_to_another_process_without_what_follows_from_it(seen_piece: Callable[..., Seen]) -> None:
    seen = seen_piece((100.0, 90.0, 20.0))
    before = seen.from_solid
    sent = pickle.dumps(seen)
    assert len(sent) < 4 * seen.piece.size
    assert (pickle.loads(sent).from_solid == before).all()  # noqa: S301 - it was written a moment ago


def test_a_doubt_about_the_outline_is_remarked_on_and_changes_no_verdict(judged: Judged) -> None:
    care = known_check("the outline turns inwards", name="outline_hull", verdict=CareVerdict.CARE, cure="see")
    found = judged(f'{ALL}largest = "1mm"', fitness=Fitness((care, replace(care, name="bands"))))
    assert found.verdict is Verdict.PASS
    assert found.remarks == ("the outline turns inwards: see",)
