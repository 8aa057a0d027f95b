"""Size distributions after ISO 9276."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from bubblegrade.grading.distribution import moment_mean, size_histogram, size_quantiles

SIZES = st.lists(st.floats(0.01, 100.0), min_size=1, max_size=60)


def lognormal(median: float, gsd: float, count: int = 200_000) -> NDArray[np.float64]:
    """Return diameters at the exact middle quantiles of a lognormal distribution."""
    return median * gsd ** norm.ppf((np.arange(count) + 0.5) / count)


@pytest.mark.parametrize(
    ("p", "q", "mean"),
    [(1, 0, 2.0), (2, 0, 2.160247), (3, 0, 2.289428), (3, 2, 2.571429), (4, 3, 2.722222)],
)
def test_the_means_of_one_two_and_three_are_the_textbooks(p: int, q: int, mean: float) -> None:
    # computed by hand; A. Rawle, "Basic Principles of Particle Size Analysis", prints
    # 2.00 2.16 2.29 2.57 2.72 (from memory)
    assert moment_mean([1.0, 2.0, 3.0], p, q) == pytest.approx(mean, abs=6e-7)


@pytest.mark.parametrize(
    ("median", "gsd", "means"),
    [
        (100.0, 2.0, [127.1537, 161.6807, 205.5830, 332.3879, 537.4070]),
        (1.0, 1.6, [1.11678, 1.24720, 1.39285, 1.73717, 2.16661]),
        (250.0, 1.5, [271.4185, 294.6720, 319.9177, 377.0832, 444.4634]),
    ],
)
def test_lognormal_means_are_those_of_hatch_and_choate(median: float, gsd: float, means: list[float]) -> None:
    # T. Hatch and S. P. Choate, J. Franklin Inst. 207 (1929) 369; values computed from the closed forms.
    # 200 000 exact quantiles lack the last of the tail, which D[4,3] at GSD 2 feels by 1.5 %
    sizes = lognormal(median, gsd)
    found = [moment_mean(sizes, p, q) for p, q in [(1, 0), (2, 0), (3, 0), (3, 2), (4, 3)]]
    assert found == pytest.approx(means, rel=0.02)
    assert found[:3] == pytest.approx(means[:3], rel=1e-3)


def test_the_geometric_mean_is_the_limit_of_equal_powers() -> None:
    sizes = [1.0, 2.0, 4.0]
    assert moment_mean(sizes, 0, 0) == pytest.approx(2.0)
    assert moment_mean(sizes, 3, 3) == pytest.approx(moment_mean(sizes, 3.0001, 2.9999), rel=1e-6)


def test_no_diameters_have_no_mean_and_no_quantiles() -> None:
    assert np.isnan(moment_mean([], 3, 2))
    assert np.isnan(size_quantiles([], [0.1, 0.5])).tolist() == [True, True]


@given(SIZES)
def test_means_rise_with_their_powers(sizes: list[float]) -> None:
    means = [moment_mean(sizes, p, q) for p, q in [(1, 0), (2, 0), (3, 0), (3, 2), (4, 3)]]
    assert all(lower <= upper * (1.0 + 1e-9) for lower, upper in pairwise(means))


@given(st.lists(st.tuples(st.floats(0.1, 10.0), st.integers(1, 4)), min_size=1, max_size=20))
def test_a_weight_is_as_good_as_repeating_the_void_for_means(pairs: list[tuple[float, int]]) -> None:
    sizes, weights = zip(*pairs, strict=True)
    repeated = np.repeat(sizes, weights)
    assert moment_mean(sizes, 4, 3, weights=weights) == pytest.approx(moment_mean(repeated, 4, 3))
    assert moment_mean(sizes, 0, 0, weights=weights) == pytest.approx(moment_mean(repeated, 0, 0))


@pytest.mark.parametrize(
    ("by", "expected"),
    [("number", [41.1353, 100.0, 243.1003]), ("volume", [173.8557, 422.6436, 1027.4477])],
)
def test_lognormal_quantiles_by_number_and_volume_are_the_closed_forms(by: str, expected: list[float]) -> None:
    # CMD 100, GSD 2.0, computed; D90 by volume feels the tail that 200 000 quantiles lack by 0.8 %
    found = size_quantiles(lognormal(100.0, 2.0), by="volume" if by == "volume" else "number")
    np.testing.assert_allclose(found, expected, rtol=0.01)


@pytest.mark.parametrize(("gsd", "span"), [(2.0, 2.019650), (1.6, 1.278844), (1.5, 1.086652)])
def test_a_lognormal_span_is_the_closed_form(gsd: float, span: float) -> None:
    # 2 sinh(1.281552 ln GSD), computed
    d10, d50, d90 = size_quantiles(lognormal(1.0, gsd))
    assert (d90 - d10) / d50 == pytest.approx(span, rel=1e-4)


@given(SIZES, st.floats(0.01, 100.0))
def test_quantiles_scale_with_the_unit_and_stay_among_the_sizes(sizes: list[float], factor: float) -> None:
    for weights in (None, np.linspace(1.0, 2.0, len(sizes))):
        found = size_quantiles(sizes, [0.0, 0.1, 0.5, 0.9, 1.0], by="volume", weights=weights)
        assert np.all(np.diff(found) >= -1e-9 * found[-1])
        assert found[0] == min(sizes)
        assert found[-1] == max(sizes)
        scaled = size_quantiles(np.array(sizes) * factor, [0.0, 0.1, 0.5, 0.9, 1.0], by="volume", weights=weights)
        np.testing.assert_allclose(scaled, found * factor, rtol=1e-6)


@given(SIZES)
def test_number_quantiles_are_those_of_numpys_hazen_rule(sizes: list[float]) -> None:
    shares = [0.1, 0.37, 0.5, 0.9]
    np.testing.assert_allclose(size_quantiles(sizes, shares), np.quantile(sizes, shares, method="hazen"), rtol=1e-9)


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
    assert found.number_undersize[-1] == pytest.approx(1.0)
    assert found.volume_undersize[-1] == pytest.approx(1.0)


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
    columns = (found.lower, found.upper, found.count, found.count_low, found.number_share, found.volume_undersize)
    assert [len(column) for column in columns] == [0] * 6
