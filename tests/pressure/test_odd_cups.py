"""Cups that do not belong where they stand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.odd_cups import changed_places, standing_out
from bubblegrade.pressure.shrinkage import fit_shrinkage

Cups = Callable[..., list[Cup]]


def named(cups: list[Cup]) -> tuple[tuple[int, int] | None, int | None]:
    """Return the cups that changed places and the one that is unlike all others."""
    fit = fit_shrinkage(gather(cups))
    return changed_places(fit), standing_out(fit)


def exchanged(cups: list[Cup], one: int, other: int) -> list[Cup]:
    """Return the cups with the voids of two exchanged."""
    changed = list(cups)
    changed[one] = replace(cups[one], diameters=cups[other].diameters)
    changed[other] = replace(cups[other], diameters=cups[one].diameters)
    return changed


@pytest.mark.parametrize("what", [{}, {"pressure_share": 0.5}, {"offsets": (-0.15, 0.0, 0.15)}, {"exponent": 0.0}])
def test_cups_that_stand_where_they_belong_are_not_named(even_cups: Cups, what: dict[str, object]) -> None:
    assert named(even_cups(**what)) == (None, None)


@pytest.mark.parametrize(("one", "other"), [(0, 9), (2, 14), (4, 12)])
def test_two_cups_that_changed_places_are_named(even_cups: Cups, one: int, other: int) -> None:
    assert named(exchanged(even_cups(), one, other))[0] == (one, other)


def test_cups_of_mixes_poured_over_all_pressures_changed_places_too(even_cups: Cups) -> None:
    mixes = [replace(cup, mix="abc"[i % 3]) for i, cup in enumerate(even_cups(offsets=(-0.2, 0.0, 0.2)))]
    assert named(mixes) == (None, None)
    assert named(exchanged(mixes, 1, 13))[0] == (1, 13)


@pytest.mark.parametrize("which", [0, 7, 13])
def test_a_cup_of_another_resin_is_named(even_cups: Cups, which: int) -> None:
    cups = even_cups()
    cups[which] = replace(cups[which], diameters=1.5 * cups[which].diameters)
    assert named(cups) == (None, which)


def test_settings_that_went_wrong_whole_name_no_cup(even_cups: Cups) -> None:
    leaked = [*even_cups(settings=(0.0, 15.0, 30.0, 45.0)), *even_cups(settings=(60.0,), pressure_share=0.0)]
    assert named(leaked) == (None, None)


def test_few_cups_fall_into_order_by_chance_and_name_none(even_cups: Cups) -> None:
    assert named(exchanged(even_cups(offsets=(0.0,)), 0, 3)) == (None, None)


def test_a_cup_is_seldom_named_by_chance(drawn_cups: Cups) -> None:
    random = np.random.default_rng(41)
    told = [named(drawn_cups(random, voids=60, cups=2)) for _ in range(60)]
    assert sum(each != (None, None) for each in told) <= 2
