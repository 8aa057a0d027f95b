"""Pressures that were written down wrong, or cups that stand at another's."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from bubblegrade.pressure.by_setting import by_setting
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.misread import misread
from bubblegrade.pressure.shrinkage import fit_shrinkage

Cups = Callable[..., list[Cup]]
AIR_PSI = 14.696


def said(cups: list[Cup]) -> str | None:
    """Return what is said of the cups' pressures."""
    return misread(by_setting(fit_shrinkage(gather(cups))), AIR_PSI)


@pytest.mark.parametrize("share", [1.0, 0.5, 0.0])
def test_pressures_that_a_fault_of_the_pot_explains_are_not_doubted(even_cups: Cups, share: float) -> None:
    assert said(even_cups(pressure_share=share)) is None


def test_sixty_psi_written_as_the_bar_that_they_are_is_found(even_cups: Cups) -> None:
    text = said(even_cups(settings=(0.0, 4.1), pressure_share=60.0 / 4.1))
    assert text is not None
    assert text.startswith("The voids at 4.1psi have shrunk as by 60 (")
    assert "check the number, its unit, and which photographs" in text


def test_cups_that_changed_places_are_found(even_cups: Cups) -> None:
    # (74.7 / 14.7)^(1/3) = 1.72
    text = said(even_cups(settings=(0.0, 60.0), exponent=-1.0 / 3.0))
    assert text is not None
    assert text.startswith("The voids at 60psi are 1.72 (")


@pytest.mark.parametrize(
    ("lowest", "told"), [(14.7, True), (14.65, True), (15.0, False), (14.504, False), (0.0, False)]
)
def test_absolute_pressures_written_as_a_dials_are_found(even_cups: Cups, lowest: float, told: bool) -> None:  # noqa: FBT001
    text = said(even_cups(settings=(lowest, 29.7, 44.7, 59.7)))
    assert (text is not None) == told
    if text is not None:
        assert text.startswith(f"The lowest pressure, {lowest:g}psi, is that of the air itself")


@pytest.mark.parametrize("name", ["1 bar gauge", "29.2psia", "2 bar abs"])
def test_pressures_that_say_what_they_count_from_are_not_doubted_where_they_are_the_airs(
    even_cups: Cups, name: str
) -> None:
    cups = even_cups(settings=(14.6, 29.7, 44.7))
    assert said([replace(cup, setting=name) if cup.setting == "14.6psi" else cup for cup in cups]) is None


def test_a_whole_number_of_psi_is_a_dials_also_where_the_air_is_thinner(even_cups: Cups) -> None:
    rows = by_setting(fit_shrinkage(gather(even_cups(settings=(14.7, 29.4)))))
    assert misread(rows, 12.0 / 14.7 * AIR_PSI) is None
    assert misread(rows, 12.1 / 14.7 * AIR_PSI) is not None
