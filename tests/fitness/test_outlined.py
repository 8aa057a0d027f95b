"""What is doubtful about an outline is said where it lies, with the cure."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from bubblegrade.casting.flattened import Flattened
from bubblegrade.casting.outline import find_outline
from bubblegrade.drawn import spoiled
from bubblegrade.fitness.check import Check, Fitness, Verdict
from bubblegrade.fitness.outlined import TESTS, along_edge, beside, dimmer, doubts, drawn_out, held, turns_inwards
from bubblegrade.fitness.view import View
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import Photo

Draw = Callable[..., np.ndarray]


def view_of(picture: np.ndarray, off_px: float = 0.0) -> View:
    """Return what the checks look at, the outline moved to the right by `off_px`."""
    photo = Photo("cup.png", picture, "0" * 64)
    outline = find_outline(grey_light(picture))
    assert outline is not None
    return View(photo, Flattened(photo), replace(outline, edge_px=outline.edge_px + np.array([off_px, 0.0])))


def test_two_castings_in_a_frame_ask_for_care(
    drawn: Draw, checked: Callable[..., Fitness], check_of: Callable[..., Check]
) -> None:
    fitness = checked(np.hstack([drawn(1), drawn(2)]))
    check = check_of(fitness, "beside")
    assert (check.verdict, check.value) == (Verdict.CARE, 1.0)
    assert check.line == "more than one casting in view: photograph one at a time, or crop"
    assert check.place.kind == "region"
    assert check_of(fitness, "outline_held").verdict is Verdict.FIT


def test_one_casting_has_none_beside_it_and_is_held_by_light(drawn: Draw) -> None:
    view = view_of(drawn(1))
    assert beside(view).value == 0.0
    assert held(view).value == 1.0


def test_an_outline_off_its_casting_is_not_held(drawn: Draw) -> None:
    found = held(view_of(drawn(1), 40.0))
    assert found.value < 0.6
    assert found.fault.startswith("light holds only ")


def test_light_at_full_scale_tells_nothing_of_what_the_resin_takes(drawn: Draw) -> None:
    # two faces of index 1.5 let 0.92 through (Fresnel), and so does the drawn cup
    assert dimmer(view_of(drawn(1))).value == pytest.approx(1 / 0.92, rel=0.02)
    assert math.isnan(dimmer(view_of(spoiled.exposed(drawn(1), 1.9))).value)


def test_an_outline_is_placed_where_it_runs_along_the_edge_of_the_light(drawn: Draw) -> None:
    # lit from 128 to 511 of 640 columns: the outline runs up one side and down the other, and is the cup's own below
    found = along_edge(view_of(spoiled.narrowed(drawn(1), 0.6)))
    bounds = found.place.bounds_px
    assert bounds is not None
    assert bounds[:3] == pytest.approx((128.0, 0.0, 511.0), abs=4.0)
    assert bounds[3] < 510.0
    assert found.fault == f"{100 * found.value:.0f} % of the outline runs along the edge of the light"


def test_an_outline_all_along_the_edge_of_the_light_is_one_line(drawn: Draw) -> None:
    view = view_of(drawn(1))
    found = along_edge(replace(view, outline=replace(view.outline, lit=view.outline.casting)))
    assert found.value == 1.0
    assert [len(part) for part in found.place.parts] == [len(view.outline.edge_px)]


def test_a_bay_is_placed_where_it_is(drawn: Draw) -> None:
    found = turns_inwards(view_of(spoiled.chipped(drawn(1), 240.0, 0.6)))
    bounds = found.place.bounds_px
    assert bounds is not None
    # it cuts 144 px into a cup of 240 px whose middle is 319.5: its tips are 137 px above and below (plane geometry)
    assert bounds == pytest.approx((415.5, 182.5, 516.0, 456.5), abs=8.0)


@pytest.mark.parametrize(("wide_px", "verdict"), [(3, Verdict.UNFIT), (24, Verdict.CARE)], ids=["line", "cuff"])
def test_a_line_in_a_piece_that_the_frame_cuts_is_no_casting_and_a_cuff_may_be(
    drawn: Draw, wide_px: int, verdict: Verdict
) -> None:
    """Three quarters of a ring whose radius is a quarter of the picture's side."""
    view = view_of(drawn(1))
    arc = np.zeros(view.outline.casting.shape, np.uint8)
    side = min(arc.shape)
    cv2.ellipse(arc, (side // 2, side // 2), (side // 4, side // 4), 0, 0, 270, 1, max(1, wide_px * side // 320))
    (test,) = (test for test in TESTS if test.name == "outline_hull")
    assert test.held(replace(view, outline=replace(view.outline, casting=arc > 0))).verdict is verdict


def test_the_lean_of_the_camera_is_told_where_a_round_casting_is_an_ellipse(drawn: Draw) -> None:
    found = drawn_out(view_of(spoiled.leant(drawn(1), 15.0)))
    assert found.value == pytest.approx(1 / np.cos(np.radians(15.0)) - 1, abs=0.002)
    assert found.fault.endswith("longer than wide: if the casting is round, the camera leans by 15 degrees")
    assert np.hypot(*np.diff(found.place.parts[0], axis=0)[0]) == pytest.approx(480.0, rel=0.01)


def test_doubts_about_an_outline_are_gathered_with_their_cures(drawn: Draw, checked: Callable[..., Fitness]) -> None:
    assert doubts(checked(drawn(1))) == ()
    assert doubts(checked(spoiled.in_company(drawn(1), 0.5))) == (
        "more than one casting in view: photograph one at a time, or crop",
    )


def test_where_no_outline_was_looked_for_none_is_held(drawn: Draw, checked: Callable[..., Fitness]) -> None:
    unknown = {check.name: check.fault for check in checked(drawn(1), whole=True).of(Verdict.CANNOT_TELL)}
    for name in ("outline_held", "outline_hull", "outline_along_edge", "drawn_out"):
        assert unknown[name] == "no outline was looked for"
