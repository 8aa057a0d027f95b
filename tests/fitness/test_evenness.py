"""The fall of the light: as strong as it is, whatever the casting hides of it, and never taken for another fault."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.fitness.check import Check, Fitness, Verdict

SIDE, JUDGED_PX = 640, 240.0
FALLS = [0.3, 0.5, 0.7, 0.85]  # in the corners; a wide lens alone leaves 0.19 of the light 49 degrees off its axis
UNTOUCHED = ("backlight", "outline_held", "outline_dimmer", "pattern", "bands")


@pytest.fixture(name="even", scope="module")
def _even(drawn: Callable[..., np.ndarray]) -> np.ndarray:
    return drawn(11, vignette=0.0)


@pytest.mark.parametrize("fall", FALLS)
def test_a_vignette_reads_as_strong_as_the_cos_fourth_law_lays_it_over_the_casting(
    fall: float, even: np.ndarray, checked: Callable[..., Fitness], check_of: Callable[..., Check]
) -> None:
    # over a disc in the middle, between the brightest and the darkest fiftieth of its area
    tangents = ((1.0 - fall) ** -0.5 - 1.0) * (JUDGED_PX / math.hypot(SIDE / 2, SIDE / 2)) ** 2
    least, most = ((1.0 + tangents * area) ** -2 for area in (0.98, 0.02))
    check = check_of(checked(spoiled.vignetted(even, fall)), "unevenness")
    assert check.value == pytest.approx(1.0 - least / most, abs=0.02)
    assert check.fault in ("", f"the light falls by {100 * check.value:.0f} % over the casting")


@pytest.mark.parametrize("fall", FALLS)
def test_a_vignette_is_blamed_for_nothing_but_the_fall_of_the_light(
    fall: float, even: np.ndarray, checked: Callable[..., Fitness], check_of: Callable[..., Check]
) -> None:
    fitness = checked(spoiled.vignetted(even, fall))
    assert {name: check_of(fitness, name).verdict for name in UNTOUCHED} == dict.fromkeys(UNTOUCHED, Verdict.FIT)
