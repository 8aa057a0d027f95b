"""What single checks say, against values known from outside, and what cannot be told."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.drawn.lures import Lure, draw_lure
from bubblegrade.drawn.pictures import srgb
from bubblegrade.fitness.check import Check, Fitness, Limit, Verdict
from bubblegrade.fitness.checks import TESTS, Said, check_photo
from bubblegrade.photo.noted import Noted
from bubblegrade.photo.reading import Photo

Checked = Callable[..., Fitness]
CheckOf = Callable[..., Check]
Drawn = Callable[..., np.ndarray]


def test_every_check_has_its_own_name_and_says_what_it_costs_and_what_to_do() -> None:
    assert len({test.name for test in TESTS}) == len(TESTS) >= 12
    assert all(test.title and test.effect and test.cure for test in TESTS)


def test_a_limit_parts_fit_care_and_unfit() -> None:
    limit = Limit(2.0, 5.0)
    assert [limit.verdict(value) for value in (2.0, 2.1, 5.0, 5.1)] == [
        Verdict.FIT, Verdict.CARE, Verdict.CARE, Verdict.UNFIT,
    ]  # fmt: skip
    assert limit.verdict(math.nan) is Verdict.CANNOT_TELL


def test_what_was_not_said_cannot_be_told(checked: Checked, drawn: Drawn) -> None:
    fitness = checked(drawn(1))
    assert {check.name: check.fault for check in fitness.of(Verdict.CANNOT_TELL)} == {
        "pixels": "no smallest size was asked for", "perspective": "no thickness was given",
        **dict.fromkeys(
            ("void_blur", "partial_blur", "tones", "flat_tones"),
            "only grading measures voids, and enough of them must tell",
        ),
    }  # fmt: skip
    assert fitness.verdict is Verdict.FIT


@pytest.mark.parametrize("lost_px", [20.0, 120.0, 240.0])
def test_the_frame_that_cuts_a_round_casting_is_as_long_as_its_chord(
    lost_px: float, checked: Checked, check_of: CheckOf, drawn: Drawn
) -> None:
    # a circle of 240 px that lacks so much has a chord of 2 sqrt(240^2 - (240 - lost)^2); near its ends
    # the circle runs along the frame, and some of that counts
    picture = np.ascontiguousarray(drawn(1)[:, round(80 + lost_px) :])
    chord = 2.0 * math.sqrt(240.0**2 - (240.0 - lost_px) ** 2)
    assert check_of(checked(picture), "cut").value == pytest.approx(chord, rel=0.15)


@pytest.mark.parametrize(
    ("thickness", "height", "share"), [(10.0, 150.0, 0.044), (20.0, 150.0, 0.089), (20.0, 300.0, 0.044)]
)
def test_front_and_back_differ_as_the_trade_reckons(
    thickness: float, height: float, share: float, checked: Checked, check_of: CheckOf, drawn: Drawn
) -> None:
    # common practice: the apparent depth t / 1.5 over the camera's height, rounded to 0.1 %
    check = check_of(checked(drawn(1), thickness_mm=thickness, camera_height_mm=height), "perspective")
    assert check.value == pytest.approx(share, abs=0.0005)


def test_a_camera_nearer_than_fifteen_times_the_thickness_asks_for_care(
    checked: Checked, check_of: CheckOf, drawn: Drawn
) -> None:
    found = [
        check_of(checked(drawn(1), thickness_mm=10.0, camera_height_mm=height), "perspective").verdict
        for height in (155.0, 145.0, 70.0)
    ]
    assert found == [Verdict.FIT, Verdict.CARE, Verdict.UNFIT]


def test_the_focal_length_that_the_camera_noted_gives_its_height(drawn: Drawn, check_of: CheckOf) -> None:
    # 26 mm on 35 mm film: the diagonal of the view is 43.27 / 26 of the distance; 640 x 640 px at 0.1 mm are 90.5 mm
    photo = replace(Photo("cup.jpg", drawn(1), "0" * 64), noted=Noted(focal_35mm=26.0))
    check = check_of(check_photo(photo, Said(mm_per_px=0.1, thickness_mm=9.0)), "perspective")
    assert check.value == pytest.approx(9.0 / 1.5 / (90.51 * 26.0 / 43.27), rel=0.001)


def test_a_void_of_the_size_asked_for_needs_five_pixels(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    verdicts = [
        check_of(checked(drawn(1), mm_per_px=0.05, smallest_mm=size), "pixels").verdict for size in (0.2, 0.3, 0.5)
    ]
    assert verdicts == [Verdict.UNFIT, Verdict.CARE, Verdict.FIT]


def test_a_width_whose_span_the_frame_cuts_gives_no_scale(checked: Checked, check_of: CheckOf) -> None:
    picture = draw_lure(Lure()).picture
    check = check_of(checked(picture[:, : picture.shape[1] * 6 // 10], width_mm=76.0, smallest_mm=0.5), "pixels")
    assert (check.verdict, check.fault) == (Verdict.CANNOT_TELL, "there is no scale")


def test_the_castings_width_gives_the_scale(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    check = check_of(checked(drawn(1), width_mm=24.0, smallest_mm=0.5), "pixels")
    assert check.value == pytest.approx(10.0, rel=0.01)  # the drawn cup is 480 px wide


@pytest.mark.parametrize(("quality", "step"), [(50, 12), (75, 6), (30, 20)])
def test_the_step_of_jpeg_is_that_of_its_table(
    quality: int, step: int, checked: Checked, check_of: CheckOf, drawn: Drawn
) -> None:
    # ITU-T T.81, table K.1: 11, 12, 12, 10 and 14 for the five slowest waves, middle 12, at quality 50; times 0.5 at
    # 75 and 1.67 at 30 as encoders commonly scale it.
    check = check_of(checked(spoiled.compressed(drawn(1), quality)), "jpeg_step")
    assert check.value == pytest.approx(step, abs=1.0)


def test_sixteen_bits_are_judged_as_eight(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    picture = drawn(1)
    eight, sixteen = checked(picture), checked(picture.astype(np.uint16) * 257)
    for test in TESTS:
        assert check_of(sixteen, test.name).verdict is check_of(eight, test.name).verdict
        assert check_of(sixteen, test.name).value == pytest.approx(
            check_of(eight, test.name).value, rel=0.05, abs=0.02, nan_ok=True
        )


def test_one_colour_at_full_scale_is_named(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    check = check_of(checked(spoiled.coloured(drawn(1), (1.0, 1.0, 1.9))), "clipped_casting")
    assert check.verdict is Verdict.UNFIT
    assert check.fault.endswith("is at full scale in red")


def test_hardware_and_a_deep_amber_are_not_crushed_blacks(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    picture = spoiled.coloured(drawn(1), (0.02, 0.5, 1.0))
    cv2.rectangle(picture, (280, 200), (330, 440), (0, 0, 0), -1)
    assert check_of(checked(picture), "crushed").value == 0.0


def test_a_colour_cast_is_the_darkest_colour_over_the_brightest(
    checked: Checked, check_of: CheckOf, drawn: Drawn
) -> None:
    check = check_of(checked(spoiled.coloured(drawn(1), (0.25, 0.5, 1.0))), "colour_cast")
    assert check.value == pytest.approx(0.25, abs=0.01)
    assert check.fault.startswith("the light is red: its blue has")


def test_bands_are_placed_where_they_are_dark(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    check = check_of(checked(spoiled.banded(drawn(1), 0.06, 80.0)), "bands")
    rows = np.array([part[0, 1] for part in check.place.parts])
    light = 1.0 + 0.03 * np.cos(2 * np.pi * rows / 80.0)
    assert len(rows) == 8
    assert light.max() < 0.98  # dark bands pass 0.97


def test_a_cut_casting_is_placed_at_its_side(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    check = check_of(checked(np.ascontiguousarray(drawn(1)[:, 200:])), "cut")
    bounds = check.place.bounds_px
    assert bounds is not None
    assert bounds[0] == bounds[2] == 0.0
    assert check.line == "the casting is cut by the frame: show it whole, with no hand or clamp across it"


def test_a_black_photograph_is_unfit_for_want_of_light(checked: Checked) -> None:
    fitness = checked(np.zeros((300, 400, 3), np.uint8), whole=True)
    assert fitness.unfit == ("nothing is lit: expose longer",)


def test_a_grey_photograph_has_no_colour_to_judge(checked: Checked, check_of: CheckOf, drawn: Drawn) -> None:
    check = check_of(checked(drawn(1)[..., 1]), "colour_cast")
    assert (check.verdict, check.fault) == (Verdict.CANNOT_TELL, "the photograph is grey")


def test_the_whole_frame_is_checked_without_an_outline(checked: Checked) -> None:
    light = np.full((400, 400), 0.5) + np.random.default_rng(3).normal(0, 0.005, (400, 400))
    picture = np.repeat(np.asarray(srgb(light) * 255 + 0.5, np.uint8)[..., None], 3, 2)
    fitness = checked(picture, whole=True)
    assert fitness.verdict is Verdict.FIT
    assert {check.name for check in fitness.of(Verdict.CANNOT_TELL)} >= {"cut", "backlight", "edge_width"}
    assert checked(picture).verdict is Verdict.UNFIT


def test_the_same_photograph_is_judged_the_same_when_turned_and_mirrored(
    checked: Checked, check_of: CheckOf, drawn: Drawn
) -> None:
    picture = spoiled.moved(drawn(1), 8.0)
    one, other = checked(picture), checked(np.ascontiguousarray(picture.swapaxes(0, 1)))
    assert check_of(other, "motion").value == pytest.approx(check_of(one, "motion").value, rel=0.1)


@pytest.mark.parametrize("corner", [(0, 0), (0, 1), (1, 1)])
def test_motion_is_told_from_the_voids_wherever_they_lie(
    corner: tuple[int, int], checked: Checked, check_of: CheckOf, drawn: Drawn
) -> None:
    # a sheet of resin that fills a frame of 1,280 px, clear but for the voids of a cup in one corner
    cup = drawn(3)[160:480, 160:480]
    clear = np.median(cup, axis=(0, 1)).astype(np.uint8)
    sheet = np.broadcast_to(clear, (1280, 1280, 3)).copy()
    row, col = (40 + 880 * place for place in corner)
    sheet[row : row + 320, col : col + 320] = cup
    fitness = checked(spoiled.moved(sheet, 10.0, degrees=40.0), whole=True)
    assert check_of(fitness, "motion").value == pytest.approx(10.0, rel=0.12)
