"""Size distributions after ISO 9276."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import ArrayLike, NDArray
from scipy.stats import norm

from bubblegrade.grading.distribution import size_histogram
from bubblegrade.grading.sizes import summarise

SIZES = st.lists(st.floats(0.01, 100.0), min_size=1, max_size=60)
MEANS = ("d_1_0", "d_3_2", "d_4_3")
NUMBER = ("d10_number", "d50_number", "d90_number")
VOLUME = ("d10_volume", "d50_volume", "d90_volume")


def told(names: tuple[str, ...], sizes: ArrayLike, weights: ArrayLike | None = None) -> list[float]:
    """Return the values of these statistics of diameters that are known exactly."""
    found = summarise(sizes, np.zeros_like(sizes), smallest=0.0, seed=1, weights=weights)
    return [getattr(found, name).value for name in names]


def lognormal(median: float, gsd: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return diameters with weights that are a lognormal distribution, out to 9 spreads on each side."""
    spreads = np.linspace(-9.0, 9.0, 6001)
    return median * gsd**spreads, norm.pdf(spreads)


def test_the_means_of_one_two_and_three_are_the_textbooks() -> None:
    # computed by hand; A. Rawle, "Basic Principles of Particle Size Analysis", prints 2.00 2.57 2.72 (from memory)
    assert told(MEANS, [1.0, 2.0, 3.0]) == pytest.approx([2.0, 2.571429, 2.722222], abs=6e-7)


@pytest.mark.parametrize(
    ("median", "gsd", "means"),
    [
        (100.0, 2.0, [127.1537, 332.3879, 537.4070]),
        (1.0, 1.6, [1.11678, 1.73717, 2.16661]),
        (250.0, 1.5, [271.4185, 377.0832, 444.4634]),
    ],
)
def test_lognormal_means_are_those_of_hatch_and_choate(median: float, gsd: float, means: list[float]) -> None:
    # T. Hatch and S. P. Choate, J. Franklin Inst. 207 (1929) 369; values computed from the closed forms
    assert told(MEANS, *lognormal(median, gsd)) == pytest.approx(means, rel=1e-5)


@given(SIZES)
def test_means_rise_with_their_powers(sizes: list[float]) -> None:
    assert all(lower <= upper * (1.0 + 1e-9) for lower, upper in pairwise(told(MEANS, sizes)))


@given(st.lists(st.tuples(st.floats(0.1, 10.0), st.integers(1, 4)), min_size=1, max_size=20))
def test_a_weight_is_as_good_as_repeating_the_void_for_means(pairs: list[tuple[float, int]]) -> None:
    sizes, weights = zip(*pairs, strict=True)
    assert told(MEANS, sizes, weights) == pytest.approx(told(MEANS, np.repeat(sizes, weights)))


@pytest.mark.parametrize(
    ("names", "expected"), [(NUMBER, [41.1353, 100.0, 243.1003]), (VOLUME, [173.8557, 422.6436, 1027.4477])]
)
def test_lognormal_quantiles_by_number_and_volume_are_the_closed_forms(
    names: tuple[str, ...], expected: list[float]
) -> None:
    # CMD 100, GSD 2.0, computed
    assert told(names, *lognormal(100.0, 2.0)) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(("gsd", "span"), [(2.0, 2.019650), (1.6, 1.278844), (1.5, 1.086652)])
def test_a_lognormal_span_is_the_closed_form(gsd: float, span: float) -> None:
    # 2 sinh(1.281552 ln GSD), computed
    assert told(("span_number",), *lognormal(1.0, gsd)) == pytest.approx([span], rel=1e-5)


@given(SIZES, st.floats(0.01, 100.0))
def test_quantiles_scale_with_the_unit_and_stay_among_the_sizes(sizes: list[float], factor: float) -> None:
    sizes = sorted(sizes)  # so that two which a factor makes equal keep their weights
    for weights in (None, np.linspace(1.0, 2.0, len(sizes))):
        found = told(VOLUME, sizes, weights)
        assert np.all(np.diff(found) >= -1e-9 * found[-1])
        assert min(sizes) <= found[0]
        assert found[-1] <= max(sizes)
        np.testing.assert_allclose(
            told(VOLUME, np.array(sizes) * factor, weights), np.multiply(found, factor), rtol=1e-6
        )


@given(SIZES)
def test_number_quantiles_are_those_of_numpys_hazen_rule(sizes: list[float]) -> None:
    np.testing.assert_allclose(told(NUMBER, sizes), np.quantile(sizes, [0.1, 0.5, 0.9], method="hazen"), rtol=1e-9)


@given(SIZES)
def test_a_histogram_holds_every_void_once_in_classes_of_r10(sizes: list[float]) -> None:
    found = size_histogram(sizes)
    assert found.count.sum() == len(sizes)
    assert found.count[0] > 0
    assert found.count[-1] > 0
    assert found.lower[0] <= min(sizes)
    assert max(sizes) < found.upper[-1]
    np.testing.assert_allclose(found.upper / found.lower, 10.0**0.1)
    np.testing.assert_array_equal(found.upper[:-1], found.lower[1:])
    assert found.number_share.sum() == pytest.approx(1.0)
    assert found.volume_share.sum() == pytest.approx(1.0)


def test_a_diameter_on_a_limit_belongs_to_the_class_above() -> None:
    found = size_histogram([1.0, 10.0**0.1, 10.0])
    assert found.lower[0] == 1.0
    assert found.count.tolist() == [1, 1, 0, 0, 0, 0, 0, 0, 0, 0, 1]


def test_a_histogram_gives_counts_their_exact_limits_and_shares_by_weight() -> None:
    found = size_histogram([1.1, 1.1, 2.2], weights=[1.0, 1.0, 2.0])
    assert found.count_low[0] == pytest.approx(0.242209, abs=1e-6)  # Garwood's limits of 2
    assert found.count_high[0] == pytest.approx(7.224688, abs=1e-6)
    assert found.number_share[[0, -1]].tolist() == [0.5, 0.5]
    assert found.volume_share[[0, -1]].tolist() == pytest.approx([1.0 / 9.0, 8.0 / 9.0])


def test_the_histogram_of_nothing_has_no_classes() -> None:
    found = size_histogram([])
    columns = (found.lower, found.upper, found.count, found.count_low, found.number_share, found.volume_share)
    assert [len(column) for column in columns] == [0] * 6
