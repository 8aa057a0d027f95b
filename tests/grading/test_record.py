"""A graded casting's lengths: what its voids share of the scale's doubt, and what each has for itself."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.casting.curved import FLAT, Magnified
from bubblegrade.grading.estimate import NORMAL_95
from bubblegrade.grading.record import Casting
from bubblegrade.grading.sizes import summarise
from bubblegrade.photo.scale import Scale
from bubblegrade.voids.table import Voids

SCALE = Scale(0.05, 0.0002, "card", enlarged=1.02, enlarged_err=0.003, height_err_share=0.01)


def test_voids_seen_from_aside_are_as_much_smaller_in_mm_and_the_area_is_not(
    known_casting: Callable[..., Casting],
) -> None:
    casting, plain = known_casting(scale=SCALE), known_casting(scale=Scale(0.05, 0.0002, "card"))
    assert casting.void_scale is not None
    assert casting.void_scale.mm_per_px == pytest.approx(0.05 / 1.02)
    assert casting.judged_area_cm2 == plain.judged_area_cm2


def test_the_height_of_a_void_is_in_the_doubt_of_the_largest_and_in_that_of_no_mean(
    known_casting: Callable[..., Casting],
) -> None:
    diameters = np.random.default_rng(3).lognormal(3.0, 0.3, 60)
    in_px = summarise(diameters, 0.01 * diameters, smallest=5.0, seed=1)
    casting = known_casting(scale=SCALE, sizes_px=in_px)
    sizes = casting.sizes_mm
    assert sizes is not None
    shared = math.hypot(0.0002 / 0.05, 0.003 / 1.02)
    for found, of, share in (
        (sizes.d_1_0, in_px.d_1_0, shared),
        (sizes.largest, in_px.largest, math.hypot(shared, 0.01)),
    ):
        above = math.hypot((of.high - of.value) / of.value, NORMAL_95 * share)
        assert (found.high - found.value) / found.value == pytest.approx(above, rel=1e-6)


def test_the_cross_section_has_the_doubt_of_a_curve_and_of_the_volume_in_its_limits(
    known_casting: Callable[..., Casting],
) -> None:
    bent = Magnified(1.0, 0.05, "curved body", filled=1.0, filled_err=0.08)
    sure = Voids.of(x_px=[60.0] * 200, y_px=[60.0] * 200, diameter_px=[20.0] * 200, diameter_err_px=[0.0] * 200)
    flat, curved = (known_casting(voids=sure, magnified=body, thickness_mm=10.0).glass for body in (FLAT, bent))
    assert flat is not None
    assert curved is not None
    plain, open_ = flat.area_mm2_per_100cm3, curved.area_mm2_per_100cm3
    assert open_.value == plain.value
    # 0.2 of 10 mm is in both; twice 0.05 of a diameter and 0.08 of the depth in the curved one's alone
    more = math.sqrt((open_.high - plain.value) ** 2 - (plain.high - plain.value) ** 2) / plain.value
    assert more == pytest.approx(NORMAL_95 * math.hypot(0.1, 0.08))
