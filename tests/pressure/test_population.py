"""Truncated log-normal populations against Cohen's identities, worked cups, scipy and published fits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize
from scipy.stats import CensoredData, lognorm, norm, truncnorm

from bubblegrade.pressure.population import (
    fit_cup,
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
# Time to failure of locomotive controls in 1000 miles, 59 more unfailed at 135, as scipy's own tests print it with
# the published fit mu 5.1169, sigma 0.7055.
FAILED = [
    *[22.5, 37.5, 46.0, 48.5, 51.5, 53.0, 54.5, 57.5, 66.5, 68.0, 69.5, 76.5, 77.0, 78.5, 80.0, 81.5, 82.0, 83.0],
    *[84.0, 91.5, 93.5, 102.5, 107.0, 108.5, 112.5, 113.5, 116.0, 117.0, 118.5, 119.0, 120.0, 122.5, 123.0, 127.5],
    *[131.0, 132.5, 134.0],
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


@given(st.floats(-3.0, 3.0), st.floats(0.1, 1.0), st.floats(-3.0, 4.0))
def test_a_cups_fit_is_cohens_identity(log_limit: float, spread: float, clearance: float) -> None:
    # Cohen: mu = xbar - theta (xbar - T), sigma^2 = s^2 + theta (xbar - T)^2
    mean, variance = (float(each) for each in seen_moments(clearance))
    middle = log_limit + clearance * spread
    xbar, deviation = middle + spread * mean, spread * math.sqrt(variance)
    theta = mean / (mean + clearance)
    found = fit_cup(50, mean=xbar, deviation=deviation, log_limit=log_limit)
    assert found.log_median == pytest.approx(xbar - theta * (xbar - log_limit), abs=1e-5)
    assert found.spread == pytest.approx(math.hypot(deviation, math.sqrt(theta) * (xbar - log_limit)), rel=1e-5)
    assert found.log_median == pytest.approx(middle, abs=1e-5)


@pytest.mark.parametrize(
    ("mean", "deviation", "middle", "spread", "seen", "err"),
    [(0.9, 0.45, 0.8538, 0.4941, 0.958, 0.058), (0.6, 0.4, 0.3665, 0.5478, 0.748, 0.133)],
)
def test_a_hundred_voids_give_the_population_behind_them(
    mean: float, deviation: float, middle: float, spread: float, seen: float, err: float
) -> None:
    found = fit_cup(100, mean=mean, deviation=deviation, log_limit=0.0)  # computed by maximum likelihood
    assert found.exists
    assert not found.extrapolated
    assert found.log_median == pytest.approx(middle, abs=6e-5)
    assert found.spread == pytest.approx(spread, abs=6e-5)
    assert found.seen_share == pytest.approx(seen, abs=6e-4)
    assert found.log_median_err == pytest.approx(err, abs=6e-4)
    assert found.total == pytest.approx(100 / seen, rel=1e-3)


def test_a_population_of_which_a_third_is_seen_is_flagged() -> None:
    found = fit_cup(100, mean=0.5, deviation=0.4, log_limit=0.0)
    assert found.log_median == pytest.approx(-0.311, abs=6e-4)
    assert found.spread == pytest.approx(0.752, abs=6e-4)
    assert found.seen_share == pytest.approx(0.34, abs=6e-4)
    assert found.extrapolated


@pytest.mark.parametrize(
    ("count", "mean", "deviation"), [(100, 0.4, 0.41), (100, 0.4, 0.4), (100, 0.4, 0.399), (1, 0.4, 0.0), (0, 0.0, 0.0)]
)
def test_where_voids_thin_out_like_an_exponential_no_estimate_exists(count: int, mean: float, deviation: float) -> None:
    found = fit_cup(count, mean=mean, deviation=deviation, log_limit=0.0)
    assert not found.exists
    assert math.isnan(found.spread)
    assert found.count == count


def test_a_cups_fit_is_where_scipy_finds_the_likelihoods_maximum() -> None:
    logs = np.log(0.3) + 0.5 * np.random.default_rng(4).standard_normal(600)
    logs = logs[logs > np.log(0.2)]

    def loss(parameters: np.ndarray) -> float:
        middle, spread = parameters[0], np.exp(parameters[1])
        cut = (np.log(0.2) - middle) / spread
        return -float(np.sum(truncnorm.logpdf(logs, cut, np.inf, loc=middle, scale=spread)))

    best = minimize(loss, [logs.mean(), np.log(logs.std())], method="Nelder-Mead", options={"xatol": 1e-7})
    found = fit_cup(logs.size, mean=float(logs.mean()), deviation=float(logs.std()), log_limit=math.log(0.2))
    assert found.log_median == pytest.approx(best.x[0], abs=1e-4)
    assert found.spread == pytest.approx(np.exp(best.x[1]), abs=1e-4)


def test_with_everything_above_the_limit_the_fit_is_scipys_lognormal() -> None:
    sizes = 0.5 * np.exp(0.4 * np.random.default_rng(5).standard_normal(500))
    shape, _, scale = lognorm.fit(sizes, floc=0.0)
    logs = np.log(sizes)
    found = fit_cup(500, mean=float(logs.mean()), deviation=float(logs.std()), log_limit=math.log(1e-3))
    assert found.log_median == pytest.approx(math.log(scale), abs=1e-6)
    assert found.spread == pytest.approx(shape, abs=1e-6)


def test_truncated_is_not_censored() -> None:
    # scipy stats/tests/test_continuous_fit_censored.py::test_lognorm: mu 5.1169, sigma 0.7055; the failed alone, as
    # right-truncated at 135, give mu 5.59788, sigma 0.85433 (computed)
    shape, _, scale = lognorm.fit(
        CensoredData.right_censored(FAILED + [135.0] * 59, [False] * 37 + [True] * 59), floc=0
    )
    assert math.log(scale) == pytest.approx(5.1169, abs=5e-4)
    assert shape == pytest.approx(0.7055, abs=5e-4)
    mirrored = -np.log(FAILED)  # a limit above becomes one below
    found = fit_cup(37, mean=float(mirrored.mean()), deviation=float(mirrored.std()), log_limit=-math.log(135.0))
    assert -found.log_median == pytest.approx(5.59788, abs=6e-6)
    assert found.spread == pytest.approx(0.85433, abs=6e-6)
    assert float(np.log(FAILED).mean()) == pytest.approx(4.422567, abs=6e-7)


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
