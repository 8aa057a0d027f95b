"""The likelihood of cups against scipy's distributions and optimiser, and its derivatives against differences."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.stats import truncnorm

from bubblegrade.pressure.cups import Cup, Trial, gather
from bubblegrade.pressure.likelihood import information, log_likelihood, maximise, one_spread
from bubblegrade.pressure.population import seen_moments
from bubblegrade.pressure.replicas import group, leave_one_out
from bubblegrade.pressure.shrinkage import shrinking_layout

Cups = Callable[..., list[Cup]]


@pytest.fixture(name="trial", scope="module")
def _trial(drawn_cups: Cups) -> Trial:
    return gather(drawn_cups(np.random.default_rng(8), limit=0.25))


def by_scipy(trial: Trial, parameters: NDArray[np.float64]) -> float:
    """Return the log-likelihood of all voids by scipy's truncated normal distribution."""
    level, exponent, log_spread = parameters
    spread, total = np.exp(log_spread), 0.0
    for logs, squeeze, limit in zip(trial.log_diameters, trial.log_squeeze, trial.log_limit, strict=True):
        middle = level - exponent * squeeze
        total += truncnorm.logpdf(logs, (limit - middle) / spread, np.inf, loc=middle, scale=spread).sum()
    return float(total)


def test_the_likelihood_is_that_of_scipys_truncated_normal_but_for_a_constant(trial: Trial) -> None:
    layout, everything = shrinking_layout(trial, group(trial)), np.ones((1, 15))
    points = np.array([[-0.5, 0.33, -0.7], [-0.6, 0.2, -0.5], [-0.9, 0.4, -0.3]])
    ours = [float(log_likelihood(trial, layout, point[np.newaxis], everything)[0]) for point in points]
    scipys = [by_scipy(trial, point) for point in points]
    assert np.diff(ours) == pytest.approx(np.diff(scipys), rel=1e-9)


def test_the_maximum_is_where_scipy_finds_it(trial: Trial) -> None:
    layout = shrinking_layout(trial, group(trial))
    found = maximise(trial, layout, np.array([-0.4, 0.1, -0.2]), np.ones((1, 15))).parameters[0]
    best = minimize(lambda p: -by_scipy(trial, p), [-0.5, 0.33, -0.7], method="Nelder-Mead", options={"fatol": 1e-9})
    assert found == pytest.approx(best.x, abs=2e-4)


def test_all_selections_at_once_are_each_alone(trial: Trial) -> None:
    layout = shrinking_layout(trial, group(trial))
    selections = leave_one_out(np.arange(15))
    start = np.array([-0.5, 0.33, -0.7])
    together = maximise(trial, layout, start, selections).parameters
    alone = [maximise(trial, layout, start, row[np.newaxis]).parameters[0] for row in selections]
    np.testing.assert_allclose(together, alone, atol=1e-8)


def test_a_cup_left_out_is_a_cup_never_cast(trial: Trial) -> None:
    layout = shrinking_layout(trial, group(trial))
    start, keep = np.array([-0.5, 0.33, -0.7]), np.arange(15) != 4
    left_out = maximise(trial, layout, start, keep[np.newaxis].astype(float)).parameters[0]
    fewer = gather([each for each, kept in zip(trial.cups, keep, strict=True) if kept])
    never = maximise(fewer, shrinking_layout(fewer, group(fewer)), start, np.ones((1, 14))).parameters[0]
    np.testing.assert_allclose(left_out, never, atol=1e-8)


def test_at_the_maximum_the_likelihood_is_flat_and_falls_as_the_information_says(trial: Trial) -> None:
    layout, everything = shrinking_layout(trial, group(trial)), np.ones((1, 15))
    peak = maximise(trial, layout, np.array([-0.5, 0.33, -0.7]), everything).parameters[0]
    known, _ = information(trial, layout, peak)
    step = 1e-3
    for i in range(3):
        aside = np.zeros(3)
        aside[i] = step
        here, up, down = (
            float(log_likelihood(trial, layout, (peak + move)[np.newaxis], everything)[0])
            for move in (0.0 * aside, aside, -aside)
        )
        assert (up - down) / (2 * step) == pytest.approx(0.0, abs=0.05)
        assert (2 * here - up - down) / step**2 == pytest.approx(known[i, i], rel=0.1)


def test_the_answer_to_a_shift_of_one_cup_is_that_of_shifted_voids(trial: Trial) -> None:
    layout, everything, shift = shrinking_layout(trial, group(trial)), np.ones((1, 15)), 1e-4
    peak = np.array([-0.5, 0.33, -0.7])
    known, answer = information(trial, layout, peak)

    def fitted(shifts: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the fit to cups that hold just what their populations, shifted, are expected to show."""
        spread = np.exp(peak[-1])
        middles = layout.location @ peak + shifts
        mean, variance = seen_moments((middles - trial.log_limit) / spread)
        other = gather(trial.cups)
        other.__dict__["mean"] = middles + spread * mean
        other.__dict__["squares"] = trial.count * spread**2 * variance
        return np.asarray(maximise(other, layout, peak, everything).parameters[0])

    assert fitted(np.zeros(15)) == pytest.approx(peak, abs=1e-7)
    moved = fitted(shift * (np.arange(15) == 7)) - peak
    assert moved / shift == pytest.approx(np.linalg.solve(known, answer[:, 7]), abs=1e-4)


def test_voids_that_thin_out_like_an_exponential_drive_the_spread_to_its_limit() -> None:
    logs = -np.log1p(-(np.arange(200) + 0.5) / 200)  # quantiles of an exponential with mean 1
    trial = gather([Cup("a", 0.0, np.exp(1.2 * logs), 1.0), Cup("b", 1.0, np.exp(1.2 * logs), 1.0)])
    layout = shrinking_layout(trial, group(trial))
    found = maximise(trial, layout, np.array([0.0, 0.33, -0.5]), np.ones((1, 2)))
    assert found.at_bound[0]
    assert found.parameters[0, -1] == pytest.approx(np.log(2.0))


@settings(deadline=None, max_examples=40)
@given(st.lists(st.lists(st.floats(0.2, 50.0), min_size=1, max_size=6), min_size=2, max_size=5), st.floats(0.0, 3.0))
def test_any_voids_have_a_finite_maximum(cups: list[list[float]], gauge_ratio: float) -> None:
    trial = gather([Cup(f"{i}", (1.0 + gauge_ratio) * i, np.array(sizes), 0.2) for i, sizes in enumerate(cups)])
    layout = one_spread(np.column_stack([np.ones(len(cups)), -trial.log_squeeze, np.zeros(len(cups))]))
    start = np.array([trial.mean.mean(), 1 / 3, -0.7])
    found = maximise(trial, layout, start, np.ones((1, len(cups))))
    before, after = (
        float(log_likelihood(trial, layout, at[np.newaxis], np.ones((1, len(cups))))[0])
        for at in (start, found.parameters[0])
    )
    assert np.isfinite(found.parameters).all()
    assert after >= before - 1e-9
