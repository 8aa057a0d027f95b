"""One row of castings.csv."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.casting.curved import Magnified
from bubblegrade.grading.counting import frame_weights
from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading.sizes import summarise
from bubblegrade.grading_run import Casting
from bubblegrade.results.casting_row import casting_row
from bubblegrade.results.quantities import count_over, judged_area_cm2, judged_volume_cm3

MakeCasting = Callable[..., Casting]


def test_counts_are_over_the_judged_area_and_volume(known_casting: MakeCasting) -> None:
    # 40 000 px at 0.05 mm are 100 mm2, 1 cm2, and 10 mm thick 1 cm3
    row = casting_row(known_casting())
    assert row["judged_area_cm2"] == pytest.approx(1.0)
    assert row["judged_volume_cm3"] == pytest.approx(1.0)
    assert row["count_per_cm2"] == pytest.approx(3.0)
    assert row["count_per_cm3"] == pytest.approx(3.0)


def test_a_judged_frame_has_as_many_voids_to_the_cm2_as_were_scattered_though_it_cuts_some(
    known_casting: MakeCasting,
) -> None:
    # a frame of 200 x 300 px is 1.5 cm2; how many voids are there is told by their middles, cut or not
    rng, rows, cols, found = np.random.default_rng(5), 200, 300, []
    x, y, across = *rng.uniform(0, 2000, (2, 4000)), 30.0 * 1.4 ** rng.standard_normal(4000)
    for left, top in rng.uniform(200, 1500, (30, 2)):
        near = np.minimum(np.minimum(x - left, left + cols - x), np.minimum(y - top, top + rows - y))
        whole = across[near > across / 2]
        weights = frame_weights(whole, whole, width=cols, height=rows)
        sizes = summarise(whole, np.zeros_like(whole), smallest=5.0, seed=1, weights=weights)
        casting = known_casting(sizes_px=sizes, judged_area_px=float(rows * cols))
        density = count_over(casting, judged_area_cm2(casting))
        assert density.low < density.value < density.high
        found.append((density.value, np.count_nonzero(near > 0) / 1.5, sizes.count / 1.5))
    value, true, whole_ones = np.mean(found, axis=0)
    assert value == pytest.approx(true, rel=0.05)
    assert whole_ones < 0.85 * true


def test_the_area_is_twice_as_uncertain_as_the_scale(known_casting: MakeCasting) -> None:
    area = judged_area_cm2(known_casting())
    assert area.high - area.value == pytest.approx(1.959964 * 0.02, rel=1e-6)  # 1 % of the scale


def test_the_volume_has_the_doubt_of_scale_and_thickness_and_the_mean_depth_of_a_curved_body(
    known_casting: MakeCasting,
) -> None:
    # 2 % of the area, 0.2 mm of 10 mm for the thickness; of the curved one 5 % of its mean depth as well
    flat = judged_volume_cm3(known_casting())
    assert flat.high - flat.value == pytest.approx(1.959964 * math.hypot(0.02, 0.02), rel=1e-6)
    curved = known_casting(magnified=Magnified(1.07, 0.04, "curved body", filled=0.75, filled_err=0.0375))
    volume = judged_volume_cm3(curved)
    assert volume.value == pytest.approx(0.75)
    assert volume.high - volume.value == pytest.approx(
        1.959964 * 0.75 * math.sqrt(0.02**2 + 0.02**2 + 0.05**2), rel=1e-6
    )
    assert casting_row(curved)["count_per_cm3"] == pytest.approx(3.0 / 0.75)


def test_a_count_over_an_exact_area_has_exact_poisson_limits(known_casting: MakeCasting) -> None:
    # F. Garwood, Biometrika 28 (1936) 437: of 3 counted 0.619 and up, of these and one unsure up to 10.242
    rate = count_over(known_casting(), Estimate(2.0, 2.0, 2.0))
    assert (rate.value, rate.low, rate.high) == pytest.approx((1.5, 0.3093, 5.1208), abs=1e-4)


def test_an_uncertain_area_widens_the_limits_of_a_count(known_casting: MakeCasting) -> None:
    exact = count_over(known_casting(), Estimate(2.0, 2.0, 2.0))
    doubtful = count_over(known_casting(), Estimate(2.0, 1.5, 2.5))
    assert doubtful.low < exact.low
    assert doubtful.high > exact.high
    assert count_over(known_casting(), Estimate(2.0, 0.2, 2.5)).low >= 0.0


def test_lengths_have_both_units(known_casting: MakeCasting) -> None:
    row = casting_row(known_casting())
    assert row["largest_px"] == 30.0
    assert row["largest_mm"] == pytest.approx(1.5)
    assert row["smallest_countable_mm"] == pytest.approx(0.25)
    assert row["d50_number_mm"] == pytest.approx(0.8)


def test_without_a_scale_lengths_stay_in_px(known_casting: MakeCasting) -> None:
    row = casting_row(known_casting(scale=None))
    empty = [
        name for name in row if name.endswith(("_mm", "_mm_low", "_mm_high", "_cm2", "_cm3")) and name != "thickness_mm"
    ]
    assert len(empty) > 20
    assert all(isinstance(row[name], float) and math.isnan(row[name]) for name in empty)  # type: ignore[arg-type]
    assert row["d50_number_px"] == 16.0
    assert row["glass_class_unconfirmed"] == ""


def test_what_was_not_judged_is_said(known_casting: MakeCasting) -> None:
    row = casting_row(known_casting())
    assert row["not_judged_share"] == pytest.approx(0.2)
    assert row["not_judged"] == "border: 10000 px"


def test_reasons_and_warnings_share_a_cell(known_casting: MakeCasting) -> None:
    row = casting_row(known_casting(unfit=("too bright", "cut")))
    assert row["fit"] is False
    assert row["unfit"] == "too bright; cut"
    assert row["warnings"] == "few voids; mind the light"


def test_a_class_is_or_worse_where_the_photograph_cannot_show_what_it_counts(known_casting: MakeCasting) -> None:
    # 0.4, 0.8 and 1.5 mm in 1 cm3: 2.395 mm2, far over class 5's 0.50 mm2 per 100 cm3; 0.25 mm is over 0.03 mm
    row = casting_row(known_casting())
    assert row["glass_class_unconfirmed"] == "5 or worse"
    assert row["void_area_mm2_per_100cm3"] == pytest.approx(239.5, abs=0.1)


def test_every_row_has_the_same_columns(known_casting: MakeCasting, empty_casting: MakeCasting) -> None:
    assert list(casting_row(empty_casting())) == list(casting_row(known_casting()))


def test_every_number_with_an_interval_lies_in_it(known_casting: MakeCasting) -> None:
    row = casting_row(known_casting())
    with_limits = [name for name in row if f"{name}_low" in row and not math.isnan(row[f"{name}_low"])]  # type: ignore[arg-type]
    assert len(with_limits) >= 8
    for name in with_limits:
        assert row[f"{name}_low"] <= row[name] <= row[f"{name}_high"]  # type: ignore[operator]


def test_nothing_found_is_a_row_of_none(empty_casting: MakeCasting) -> None:
    row = casting_row(empty_casting())
    assert (row["count"], row["unsure_count"], row["set_aside_count"]) == (0, 0, 0)
    assert row["clarity"] == 100.0
    assert judged_volume_cm3(empty_casting()).known is False
    assert row["not_judged_share"] == 0.0
