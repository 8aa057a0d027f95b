"""Populations: their sizes follow the distribution and Boyle's law, and cups hold them apart."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.drawn.populations import cup, population


def test_median_and_spread_are_the_asked_for_ones_to_two_per_cent() -> None:
    sizes = population(20_000, 0.6, 1.65, rng=np.random.default_rng(4))
    assert np.median(sizes) == pytest.approx(0.6, rel=0.02)
    assert np.exp(np.std(np.log(sizes))) == pytest.approx(1.65, rel=0.02)


@given(ratio=st.floats(1, 10), seed=st.integers(0, 99))
def test_pressure_times_volume_stays_the_same(ratio: float, seed: int) -> None:
    poured = population(50, 0.6, 1.5, rng=np.random.default_rng(seed))
    squeezed = population(50, 0.6, 1.5, pressure_ratio=ratio, rng=np.random.default_rng(seed))
    np.testing.assert_allclose(squeezed**3 * ratio, poured**3, rtol=1e-9)


def test_no_voids_is_an_empty_population_and_an_empty_cup() -> None:
    none = population(0, 0.6, 1.5, rng=np.random.default_rng(0))
    assert np.size(cup(none, mm_per_px=0.05, rng=np.random.default_rng(0)).x_px) == 0


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 999), gap_px=st.floats(0, 10))
def test_voids_in_a_cup_keep_apart_and_inside_the_rim(seed: int, gap_px: float) -> None:
    rng = np.random.default_rng(seed)
    scene = cup(population(40, 0.6, 1.5, rng=rng), mm_per_px=0.05, gap_px=gap_px, rng=rng)
    x, y, diameter = (np.asarray(a) for a in (scene.x_px, scene.y_px, scene.diameter_px))
    apart = np.hypot(x[:, None] - x, y[:, None] - y) - (diameter[:, None] + diameter) / 2
    np.fill_diagonal(apart, np.inf)
    assert apart.min() >= gap_px - 1e-9
    assert np.all(np.hypot(x - 399.5, y - 399.5) + diameter / 2 < scene.casting_px)


def test_diameters_in_a_cup_are_those_asked_for_over_the_scale() -> None:
    scene = cup([0.5, 1.0], mm_per_px=0.1, rng=np.random.default_rng(0), seed=9)
    np.testing.assert_allclose(scene.diameter_px, [10.0, 5.0])
    assert scene.seed == 9


def test_voids_that_find_no_room_are_left_out() -> None:
    rng = np.random.default_rng(0)
    scene = cup([40.0, 2.0, 2.0], mm_per_px=0.1, rng=rng, casting_px=18.0)
    np.testing.assert_allclose(scene.diameter_px, [20.0])
