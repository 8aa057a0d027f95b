"""Bands and grids laid over photographs are read with the strength that they were laid on with."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.fitness.check import Check, Fitness

SWING, GRID = 0.08, 0.10  # some codes each, so that rounding the picture again takes 1 % of them and no more


def square(phase: np.ndarray) -> np.ndarray:
    """Return a lamp switched on and off in equal parts, -1 or 1."""
    return np.where(np.cos(phase) > 0, 1.0, -1.0)


def triangular(phase: np.ndarray) -> np.ndarray:
    """Return light that goes up and down evenly, -1 to 1."""
    return np.asarray(1.0 - 2.0 / np.pi * np.arccos(np.cos(phase)))


@pytest.fixture(name="picture", scope="module")
def _picture(drawn: Callable[..., np.ndarray]) -> np.ndarray:
    return drawn(11)


@pytest.mark.parametrize("way", ["level", "upright"])
@pytest.mark.parametrize("cycles", [3.0, 3.5, 4.0, 5.0, 6.0, 7.5, 9.0, 13.0, 20.5, 40.0])
def test_bands_read_as_strong_as_they_are_however_many_lie_over_the_frame(
    cycles: float, way: str, picture: np.ndarray,
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    period_px = picture.shape[0] / cycles
    found = check_of(checked(spoiled.banded(picture, SWING, period_px, upright=way == "upright", phase=1.0)), "bands")
    assert found.value == pytest.approx(SWING, rel=0.05)
    assert found.fault.startswith(way)
    assert found.fault.endswith(f"every {period_px:.0f} px")


@pytest.mark.parametrize("form", [square, triangular])
@pytest.mark.parametrize("cycles", [3.0, 4.5, 7.0, 13.0, 20.5])
def test_bands_of_lamps_that_switch_or_ramp_read_as_strong_as_they_are(
    cycles: float, form: Callable[[np.ndarray], np.ndarray], picture: np.ndarray,
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    # the first wave alone of Fourier's series would read 4 / pi of the swing of square bands, 8 / pi^2 of triangular
    period_px = picture.shape[0] / cycles
    found = check_of(checked(spoiled.banded(picture, SWING, period_px, phase=1.0, form=form)), "bands")
    assert found.value == pytest.approx(SWING, rel=0.12)


@pytest.mark.parametrize("degrees", [0.0, 20.0])
@pytest.mark.parametrize("period_px", [5.0, 7.0, 13.0, 17.0, 32.0, 40.0, 60.0, 90.0, 140.0])
def test_a_grid_reads_as_strong_as_it_is_however_wide_its_meshes_and_however_it_lies(
    period_px: float, degrees: float, picture: np.ndarray,
    checked: Callable[..., Fitness], check_of: Callable[..., Check],
) -> None:  # fmt: skip
    found = check_of(checked(spoiled.gridded(picture, GRID, period_px, degrees=degrees)), "pattern")
    assert found.value == pytest.approx(GRID, rel=0.05)
