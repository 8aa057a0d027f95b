"""Tails against scipy, whose values they give without its import."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from scipy import special, stats

from bubblegrade.quality.tails import chances_up_to, chi_square_above, enough_counts


@pytest.mark.parametrize("free", [1, 2, 3, 10, 101, 9999, 100_000])
def test_the_tail_of_chi_square_is_scipys(free: int) -> None:
    chances = np.array([1e-12, 1e-3, 0.01, 0.3, 0.5, 0.9, 0.999999])
    values = special.chdtri(free, chances)
    found = [chi_square_above(value, free) for value in values]
    np.testing.assert_allclose(found, special.chdtrc(free, values), rtol=1e-9)


def test_the_tail_of_chi_square_at_its_ends() -> None:
    assert chi_square_above(0.0, 7) == 1.0
    assert chi_square_above(1e7, 7) == 0.0


@pytest.mark.parametrize("mean", [0.001, 0.3, 4.0, 60.0, 900.0])
def test_the_law_of_counts_is_scipys(mean: float) -> None:
    counts = np.arange(enough_counts(mean, math.inf) + 1)
    found = chances_up_to(mean, math.inf, most=counts[-1])
    np.testing.assert_allclose(found, stats.poisson.cdf(counts, mean), atol=1e-11)
    assert 1.0 - found[-1] < 1e-9
    for shape in (0.2, 3.0, 500.0):
        counts = np.arange(enough_counts(mean, shape) + 1)
        found = chances_up_to(mean, shape, most=counts[-1])
        np.testing.assert_allclose(found, stats.nbinom.cdf(counts, shape, shape / (shape + mean)), atol=1e-10)
        assert 1.0 - found[-1] < 1e-9


def test_several_laws_at_once_are_each_their_own() -> None:
    means = [0.0, 0.3, 60.0]
    for shape in (3.0, math.inf):
        each = [chances_up_to(mean, shape, most=40).tolist() for mean in means]
        assert chances_up_to(means, shape, most=40).tolist() == each


def test_of_no_expected_void_there_is_none() -> None:
    assert chances_up_to(0.0, 2.0, most=2).tolist() == [1.0, 1.0, 1.0]


def test_charts_import_no_part_of_scipy() -> None:
    code = (
        "import sys, bubblegrade.runs.log_charts; print([name for name in sys.modules if name.startswith('scipy.s')])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
