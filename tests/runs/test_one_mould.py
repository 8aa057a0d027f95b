"""Cups of one form in a trial have lengths in mm as through one curved surface."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.casting.curved import BY_FORM, FLAT, Magnified
from bubblegrade.grading_run import Casting
from bubblegrade.pressure.poured import Poured
from bubblegrade.results.entry import entry_of
from bubblegrade.runs.one_mould import Body, body_of, through_one_surface

MakeCasting = Callable[..., Casting]
MakePoured = Callable[..., Poured]

BAR = math.log(3.0)  # of length over width
TOLD = Magnified(1.12, 0.06, f"curved body: {BY_FORM}, 40 of them")
GUESSED = Magnified(1.05, 0.12, "flat or curved body, no dark border tells which: between the two")


def test_small_voids_of_a_pressed_cup_are_divided_by_what_the_large_ones_of_an_open_cup_tell(
    poured: MakePoured,
) -> None:
    cups = [poured(0.0), poured(30.0), poured(60.0)]
    forms = [Body(BAR, TOLD), Body(BAR + 0.05, GUESSED), Body(BAR, FLAT)]
    bodies = {cup.photo: form for cup, form in zip(cups, forms, strict=True)}
    after, said = through_one_surface(cups, bodies)
    for before, cup, own in zip(cups, after, (1.12, 1.05, 1.0), strict=True):
        np.testing.assert_allclose(cup.diameters, before.diameters * own / 1.12)
        assert cup.smallest == pytest.approx(before.smallest * own / 1.12)
    assert "1.00 to 1.05 times" in said[0]


def test_cups_of_several_forms_keep_what_each_form_tells(poured: MakePoured) -> None:
    cups = [poured(0.0), poured(60.0)]
    bodies = {cups[0].photo: Body(BAR, TOLD), cups[1].photo: Body(0.0, FLAT)}
    after, said = through_one_surface(cups, bodies)
    assert said == ()
    for before, cup in zip(cups, after, strict=True):
        np.testing.assert_allclose(cup.diameters, before.diameters)


def test_what_is_told_worse_counts_less(poured: MakePoured) -> None:
    cups = [poured(0.0), poured(60.0)]
    bodies = {
        cups[0].photo: Body(BAR, TOLD),
        cups[1].photo: Body(BAR, replace(TOLD, factor=1.30, err=0.6)),
    }
    after, _ = through_one_surface(cups, bodies)
    shared = cups[0].smallest * 1.12 / after[0].smallest
    assert shared == pytest.approx(cups[1].smallest * 1.30 / after[1].smallest)
    assert 1.12 < shared < 1.13


def test_lengths_in_px_stay(poured: MakePoured) -> None:
    cups = [poured(0.0, mm_per_px=math.nan), poured(60.0, mm_per_px=math.nan)]
    bodies = {cups[0].photo: Body(BAR, TOLD), cups[1].photo: Body(BAR, FLAT)}
    after, said = through_one_surface(cups, bodies)
    assert said == ()
    assert [cup.smallest for cup in after] == [cup.smallest for cup in cups]


def test_a_body_is_read_from_the_record(known_casting: MakeCasting) -> None:
    oblong = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 10.0], [0.0, 10.0], [0.0, 5.0]])
    body = body_of(entry_of(known_casting(outline_px=oblong, magnified=TOLD)).record)
    assert (body.slender, body.curve) == (pytest.approx(BAR), TOLD)
    assert math.isnan(body_of(entry_of(known_casting(outline_px=np.empty((0, 2)))).record).slender)
