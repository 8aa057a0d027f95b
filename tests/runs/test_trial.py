"""From graded photographs to the cups of a trial."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.errors import InputError
from bubblegrade.grading.record import BEHIND_BODIES, NotJudged
from bubblegrade.grading_run import Casting
from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.pressure.poured import Poured, Stated
from bubblegrade.results.entry import entry_of
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.trial import check_left, poured_cup, unit_of, without_span
from bubblegrade.units import GaugePressure
from bubblegrade.voids.table import Voids

MakeCasting = Callable[..., Casting]
MakePoured = Callable[..., Poured]

OPEN = Stated("0 psi", GaugePressure(0.0), SEA_LEVEL)


def test_a_cup_has_its_whole_voids_in_mm(known_casting: MakeCasting) -> None:
    voids = Voids.of(
        x_px=[60.0, 90.0, 150.0], y_px=[60.0, 90.0, 99.0], diameter_px=[8.0, 4.0, 16.0], cut=[False, False, True]
    )
    cup = poured_cup(entry_of(known_casting(voids=voids)).record, OPEN)
    assert cup.diameters == pytest.approx([0.4, 0.2])
    assert cup.countable == pytest.approx([0.4])  # the smallest countable size is 5 px
    assert cup.smallest == pytest.approx(0.25)
    assert cup.volume_cm3 == pytest.approx(1.0)


def test_the_uncertainty_of_a_cups_sizes_is_that_of_its_countable_voids(known_casting: MakeCasting) -> None:
    table = {"x_px": [60.0, 90.0, 120.0], "y_px": [60.0] * 3, "diameter_px": [8.0, 4.0, 16.0]}
    voids = Voids.of(**table, diameter_err_px=[0.4, 2.0, 0.16])  # 5 %, too small to count, 1 %
    assert poured_cup(entry_of(known_casting(voids=voids)).record, OPEN).size_err == pytest.approx(0.03)
    assert poured_cup(entry_of(known_casting(voids=Voids.of(**table))).record, OPEN).size_err == 0.0


def test_without_a_scale_lengths_are_in_px(empty_casting: MakeCasting) -> None:
    cup = poured_cup(entry_of(empty_casting()).record, OPEN)
    assert (cup.smallest, math.isnan(cup.mm_per_px), math.isnan(cup.volume_cm3)) == (5.0, True, True)
    assert cup.diameters.size == 0


def test_where_much_is_hidden_the_places_tell_nothing(known_casting: MakeCasting) -> None:
    hidden = (NotJudged(BEHIND_BODIES, 10_000.0),)
    assert poured_cup(entry_of(known_casting(not_judged=hidden)).record, OPEN).pattern is None
    assert poured_cup(entry_of(known_casting()).record, OPEN).pattern is not None


def test_a_casting_tells_of_the_zoom_only_under_a_scale_that_is_not_its_own(known_casting: MakeCasting) -> None:
    square = np.array([[10.0, 10.0], [110.0, 10.0], [110.0, 110.0], [10.0, 110.0]])
    record = entry_of(replace(known_casting(), outline_px=square)).record
    for source, size in (("stated", 5.0), ("widest span of the casting, 44 mm", math.nan)):
        scaled = {**record, "scale": {**record["scale"], "mm_per_px": 0.05, "source": source}}
        assert poured_cup(scaled, OPEN).casting == pytest.approx(size, nan_ok=True)
    assert poured_cup({**record, "scale": None, "smallest_countable_px": 5.0}, OPEN).casting == pytest.approx(100.0)
    unsure = {**record, "scale": None, "unfit": ["the casting is cut by the frame: show it whole"]}
    assert math.isnan(poured_cup(unsure, OPEN).casting)


def test_all_cups_have_a_scale_or_none_has(poured: MakePoured) -> None:
    scaled, bare = poured(0.0), poured(60.0, mm_per_px=math.nan)
    assert unit_of([scaled, scaled], same_setup=False) == "mm"
    assert unit_of([bare, bare], same_setup=True) == "px"
    with pytest.raises(InputError, match=r"60psi-a.jpg without a scale cannot be compared with the others"):
        unit_of([scaled, bare], same_setup=True)
    with pytest.raises(InputError, match=r"sizes are in px, .* say --same-setup"):
        unit_of([bare, bare], same_setup=False)


def test_too_few_cups_left_are_no_trial(poured: MakePoured) -> None:
    check_left([poured(0.0), poured(60.0)], ())
    with pytest.raises(InputError, match="only cups at 0 psi are left, 1 photograph could not be graded"):
        check_left([poured(0.0)], (NotGraded("b.jpg", "empty"),))
    with pytest.raises(InputError, match="no cup is left, 2 photographs could not be graded"):
        check_left([], (NotGraded("b.jpg", "empty"), NotGraded("c.jpg", "empty")))
    with pytest.raises(InputError, match=r"only cups at 0 psi are left, b\.jpg shows a cup again; two pressures"):
        check_left([poured(0.0)], (), ["b.jpg shows a cup again.", "b.jpg shows a cup again."])


def test_a_photograph_whose_span_the_frame_cuts_is_left_out_where_a_length_gives_the_scale(poured: MakePoured) -> None:
    scaled, bare = poured(0.0), poured(60.0, mm_per_px=math.nan)
    assert without_span([scaled, bare], scaled=False) == {}
    (line,) = without_span([scaled, bare], scaled=True).values()
    assert line.startswith("60psi-a.jpg is left out: the frame cuts its casting's widest span")


def test_a_void_of_unknown_size_is_left_out(known_casting: MakeCasting) -> None:
    voids = Voids.of(x_px=[60.0, 90.0], y_px=[60.0, 90.0], diameter_px=[np.nan, 9.0])
    assert poured_cup(entry_of(known_casting(voids=voids)).record, OPEN).diameters == pytest.approx([0.45])
