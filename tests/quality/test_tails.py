"""Tails against scipy, whose values they give without its import."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest
from scipy import special, stats

from bubblegrade.quality.tails import chi_square_above, poisson_quantile


@pytest.mark.parametrize("free", [1, 2, 3, 10, 101, 9999, 100_000])
def test_the_tail_of_chi_square_is_scipys(free: int) -> None:
    chances = np.array([1e-12, 1e-3, 0.01, 0.3, 0.5, 0.9, 0.999999])
    values = special.chdtri(free, chances)
    found = [chi_square_above(value, free) for value in values]
    np.testing.assert_allclose(found, special.chdtrc(free, values), rtol=1e-9)


def test_the_tail_of_chi_square_at_its_ends() -> None:
    assert chi_square_above(0.0, 7) == 1.0
    assert chi_square_above(1e7, 7) == 0.0


@pytest.mark.parametrize("share", [0.00135, 0.5, 0.99865])
def test_the_quantiles_of_poisson_are_scipys(share: float) -> None:
    means = np.linspace(0.001, 9.0, 1999)
    np.testing.assert_array_equal(poisson_quantile(share, means), stats.poisson.ppf(share, means))


def test_no_expected_void_has_the_quantile_none() -> None:
    assert poisson_quantile(0.99865, np.zeros(2)).tolist() == [0.0, 0.0]


def test_charts_import_no_part_of_scipy() -> None:
    code = (
        "import sys, bubblegrade.runs.log_charts; print([name for name in sys.modules if name.startswith('scipy.s')])"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"
