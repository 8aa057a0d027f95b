"""The smallest countable size foretold from contrast, noise and blur."""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from bubblegrade.teaching.countable import limit_px, ordered
from bubblegrade.voids.countable import BEYOND_PX, BLUR_PX, CONTRAST, NOISE, smallest_countable_px


def table() -> np.ndarray:
    """Return the table that comes with the package, unreachable sizes as BEYOND_PX."""
    with files("bubblegrade.voids").joinpath("countable.npz").open("rb") as file, np.load(file) as held:
        return np.nan_to_num(held["limit_px"].astype(np.float64), nan=BEYOND_PX)


@pytest.mark.parametrize("cell", [(4, 0, 0), (3, 1, 2), (2, 2, 1), (0, 3, 5)])
def test_at_the_places_of_the_table_its_own_values_come_back(cell: tuple[int, int, int]) -> None:
    i, j, k = cell
    assert smallest_countable_px(CONTRAST[i], NOISE[j], BLUR_PX[k]) == pytest.approx(table()[cell], rel=1e-6)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.3), st.floats(0.1, 20.0))
def test_whatever_the_photograph_the_size_is_one_of_a_void(contrast: float, noise: float, blur: float) -> None:
    assert 3.0 <= smallest_countable_px(contrast, noise, blur) <= BEYOND_PX * (1 + 1e-9)


@given(st.floats(0.0, 1.0), st.floats(0.0, 0.3), st.floats(0.1, 20.0))
def test_between_the_places_the_logarithms_are_interpolated(contrast: float, noise: float, blur: float) -> None:
    """Against scipy's interpolation on a grid of uneven steps."""
    axes = (CONTRAST, NOISE, BLUR_PX)
    place = [
        np.log(np.clip(value, axis[0], axis[-1])) for value, axis in zip((contrast, noise, blur), axes, strict=True)
    ]
    grid = RegularGridInterpolator(tuple(map(np.log, axes)), np.log(table()), bounds_error=False, fill_value=None)
    assert smallest_countable_px(contrast, noise, blur) == pytest.approx(np.exp(grid(place)[0]), rel=1e-9)


def test_fainter_noisier_and_more_blurred_voids_must_be_larger() -> None:
    size = table()
    assert (np.diff(size, axis=0) <= 0).all()
    assert (np.diff(size, axis=1) >= 0).all()
    assert (np.diff(size, axis=2) >= 0).all()


def test_what_chance_brings_out_of_order_is_put_in_order_and_what_is_not_found_stays_so() -> None:
    limits = np.array([[[9.0, 8.0], [np.nan, 10.0]], [[5.0, 6.0], [4.0, 7.0]]])
    nan = np.nan
    np.testing.assert_array_equal(ordered(limits), [[[9.0, 9.0], [nan, nan]], [[5.0, 6.0], [5.0, 7.0]]])


@pytest.mark.parametrize(("contrast", "noise", "blur"), [(0.4, 0.01, 0.8), (0.27, 0.02, 1.8), (0.18, 0.02, 1.2)])
def test_planting_once_more_gives_the_tables_size_to_a_tenth(contrast: float, noise: float, blur: float) -> None:
    assert smallest_countable_px(contrast, noise, blur) == pytest.approx(limit_px(contrast, noise, blur), rel=0.1)
