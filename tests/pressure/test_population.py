"""Truncated log-normal populations against Cohen's identities, integrals and computed shares."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import norm

from bubblegrade.pressure.population import (
    hazard,
    mean_power,
    seen_moments,
    seen_share,
    void_information,
)

# A. C. Cohen, Technometrics 1 (1959) 217, left truncation of the standard normal at z: mean Q, variance, alpha,
# theta, computed. The clearance here is -z.
COHEN = [
    (-2.0, 0.055248, 0.886452, 0.209859, 0.026881),
    (-1.0, 0.287600, 0.629686, 0.379806, 0.223361),
    (-0.5, 0.509160, 0.486175, 0.477389, 0.504539),
    (0.0, 0.797885, 0.363380, 0.570796, 1.000000),
    (0.5, 1.141078, 0.268480, 0.653268, 1.779937),
    (1.0, 1.525135, 0.199098, 0.721978, 2.904271),
]
# Bias of naive 60 psi over open-air ratios, limit 0.19, spread 0.5: median, seen at 0 and 60 psi, of means, D[3,2].
NAIVE = [
    (0.6, 0.989, 0.888, 6.9, 1.0),
    (0.4, 0.932, 0.657, 18.6, 5.1),
    (0.3, 0.820, 0.432, 29.4, 11.7),
    (0.2, 0.541, 0.163, 43.7, 25.8),
]
CLEARANCES = st.floats(-6.0, 6.0)


@pytest.mark.parametrize(("z", "mean", "variance", "alpha", "theta"), COHEN)
def test_moments_above_a_limit_are_cohens(z: float, mean: float, variance: float, alpha: float, theta: float) -> None:
    q, spread = seen_moments(-z)
    assert float(q) == pytest.approx(mean, abs=6e-7)
    assert float(spread) == pytest.approx(variance, abs=6e-7)
    assert float(spread) / (float(q) - z) ** 2 == pytest.approx(alpha, abs=6e-7)
    assert float(q) / (float(q) - z) == pytest.approx(theta, abs=6e-7)


def test_a_lognormal_seen_only_above_a_limit_looks_larger() -> None:
    # computed: spread 0.5 seen above exp(-0.5): 84.1345 % seen, mean 1.256852 instead of 1.133148
    assert float(seen_share(0.0, 0.5, -0.5)) == pytest.approx(0.841345, abs=6e-7)
    assert float(mean_power(1.0, 0.0, 0.5, -0.5)) == pytest.approx(1.256852, abs=6e-7)
    assert float(mean_power(1.0, 0.0, 0.5, -50.0)) == pytest.approx(1.133148, abs=6e-7)


@pytest.mark.parametrize(("median", "seen_open", "seen_60", "means", "surface"), NAIVE)
def test_the_naive_ratio_is_off_by_what_the_limit_hides(
    median: float, seen_open: float, seen_60: float, means: float, surface: float
) -> None:
    limit, true = math.log(0.19), math.exp(-1.6259 / 3)  # computed
    middles = np.array([math.log(median), math.log(median * true)])
    assert seen_share(middles, 0.5, limit) == pytest.approx([seen_open, seen_60], abs=6e-4)
    first, second, third = (mean_power(k, middles, 0.5, limit) for k in (1.0, 2.0, 3.0))
    assert 100.0 * (first[1] / first[0] / true - 1.0) == pytest.approx(means, abs=0.06)
    sauter = third / second
    assert 100.0 * (sauter[1] / sauter[0] / true - 1.0) == pytest.approx(surface, abs=0.06)


def test_the_naive_ratio_of_medians_that_a_fixed_limit_gives() -> None:
    # computed: median 0.2 mm, GSD 1.6, cut 0.1 mm, open air to 60 psi: seen 92.986 % and 62.616 %, medians 0.208447
    # and 0.146251, ratio 0.701622 against the true 0.581612
    spread, limit = math.log(1.6), math.log(0.1)
    middles = np.log([0.2, 0.2 * 0.581612])
    seen = seen_share(middles, spread, limit)
    assert seen == pytest.approx([0.92986, 0.62616], abs=6e-6)
    medians = np.exp(middles + spread * norm.isf(seen / 2.0))
    assert medians == pytest.approx([0.208447, 0.146251], abs=6e-7)
    assert medians[1] / medians[0] == pytest.approx(0.701622, abs=2e-6)


@given(CLEARANCES, st.floats(0.5, 3.0))
def test_the_mean_of_a_power_is_its_integral(clearance: float, power: float) -> None:
    def weighed(x: float) -> float:
        return math.exp(0.3 * power * x) * float(norm.pdf(x)) / float(norm.cdf(clearance))

    integral, _ = quad(weighed, -clearance, max(-clearance, 0.0) + 12.0, epsabs=0.0)
    assert float(mean_power(power, 0.0, 0.3, -0.3 * clearance)) == pytest.approx(integral, rel=1e-6)


@given(st.floats(-5.0, 5.0))
def test_a_void_tells_less_of_its_median_the_more_of_the_population_is_hidden(clearance: float) -> None:
    of_median, mixed, of_spread = void_information([clearance, clearance + 0.1])
    left = of_median - mixed**2 / of_spread  # with the spread unknown
    assert 0.0 < left[0] < left[1] < 1.0


@given(st.floats(-30.0, 30.0))
def test_the_hazard_is_the_slope_of_ln_seen(clearance: float) -> None:
    step = 1e-5
    slope = (norm.logcdf(clearance + step) - norm.logcdf(clearance - step)) / (2.0 * step)
    assert float(hazard(clearance)) == pytest.approx(slope, rel=1e-5, abs=1e-9)
