"""Random placement: that its p-values hold, for one score and for all questions together."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom

from bubblegrade.grading.pattern_chance import ENOUGH, Scatter, against_chance, holm, scattered
from bubblegrade.grading.pattern_ground import Ground
from bubblegrade.grading.pattern_record import Answer

SQUARE = Ground(np.ones((100, 100), bool), 10.0)


def first_x(scatter: Scatter) -> np.ndarray:
    """Return the x of each pattern's first void: a score that is even at random."""
    return np.asarray(scatter.points[:, 0, 0])


def one_void(random: np.random.Generator, patterns: int) -> Scatter:
    """Return patterns of one void each."""
    return Scatter(random.random((patterns, 1, 2)))


def test_p_holds_at_every_limit_although_drawing_stops_early() -> None:
    # Barnard 1963 and Besag and Clifford 1991: P(p <= k / m) = k / m exactly
    random, trials = np.random.default_rng(1), 3000
    p = np.array(
        [
            against_chance(one_void(random, 1), lambda count: one_void(random, count), {"x": first_x}, simulations=499)[
                "x"
            ].p
            for _ in range(trials)
        ]
    )
    for limit in (0.01, 0.05, 0.1, 0.25, 0.5, 0.9):
        low, high = binom.ppf([0.001, 0.999], trials, limit) / trials
        assert low - 0.03 * limit <= (p <= limit).mean() <= high


def test_drawing_ends_when_chance_has_matched_the_score_often_enough() -> None:
    random = np.random.default_rng(2)
    usual, rare = Scatter(np.full((1, 1, 2), 0.5)), Scatter(np.full((1, 1, 2), 2.0))
    stopped = against_chance(usual, lambda count: one_void(random, count), {"x": first_x}, simulations=499)["x"]
    full = against_chance(rare, lambda count: one_void(random, count), {"x": first_x}, simulations=499)["x"]
    assert stopped.simulations == 125
    assert stopped.p == pytest.approx(0.5, abs=0.25)
    assert stopped.p * round(ENOUGH / stopped.p) == pytest.approx(ENOUGH)
    assert (full.simulations, full.p) == (499, pytest.approx(1 / 500))
    assert (full.expected, full.spread) == (pytest.approx(0.5, abs=0.05), pytest.approx(12**-0.5, abs=0.03))
    assert (full.low, full.high) == (pytest.approx(0.025, abs=0.03), pytest.approx(0.975, abs=0.03))


def test_a_mirrored_chance_has_its_limits_the_other_way_round() -> None:
    chance = against_chance(
        Scatter(np.full((1, 1, 2), 0.5)),
        lambda count: one_void(np.random.default_rng(3), count),
        {"x": first_x},
        simulations=50,
    )["x"]
    turned = chance.mirrored()
    assert (turned.low, turned.high) == (-chance.high, -chance.low)
    assert turned.mirrored() == chance


def test_holms_correction_is_the_published_one() -> None:
    # S. Holm 1979; what R's p.adjust(c(0.01, 0.02, 0.03, 0.005), "holm") gives, computed by hand: steps 4, 3, 2, 1
    assert holm([0.01, 0.02, 0.03, 0.005]).tolist() == pytest.approx([0.03, 0.04, 0.04, 0.02])
    assert holm([]).shape == (0,)


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=9))
def test_a_corrected_p_lies_between_its_own_and_that_times_the_questions(values: list[float]) -> None:
    corrected, given_ = holm(values), np.array(values)
    assert (corrected >= given_).all()
    assert (corrected <= np.minimum(len(values) * given_, 1.0) + 1e-12).all() or len(values) > 1
    assert corrected.min() == pytest.approx(min(len(values) * min(values), 1.0))
    order = np.argsort(given_, kind="stable")
    assert (np.diff(corrected[order]) >= 0.0).all()


def test_scattered_voids_never_hide_one_another_and_never_leave_the_ground() -> None:
    judged = np.hypot(*(np.indices((60, 60)) - 29.5)) < 28.0
    ground, random = Ground(judged, 8.0), np.random.default_rng(4)
    sizes = np.exp(random.normal(math.log(20.0), 0.5, 120))
    scatter = scattered(ground, sizes, 20, random)
    assert ground.holds(scatter.points).all()
    for points in scatter.points:
        apart = np.hypot(*(points[:, np.newaxis] - points).transpose(2, 0, 1))
        np.fill_diagonal(apart, np.inf)
        assert (apart >= 0.5 * np.maximum(sizes[:, np.newaxis], sizes)).all()


def test_scattered_voids_lie_evenly_over_an_even_ground() -> None:
    scatter = scattered(SQUARE, np.full(50, 1.0), 400, np.random.default_rng(5))
    count, _, _ = np.histogram2d(*scatter.points.reshape(-1, 2).T, bins=4, range=[[-0.5, 999.5]] * 2)
    assert np.abs(count - 1250.0).max() < 4.5 * math.sqrt(1250.0)


def test_voids_that_cannot_all_be_seen_are_placed_all_the_same() -> None:
    scatter = scattered(SQUARE, np.full(40, 900.0), 2, np.random.default_rng(6))
    assert scatter.shape == (2, 40)


def test_no_voids_are_scattered_over_nothing() -> None:
    assert scattered(SQUARE, np.empty(0), 3, np.random.default_rng(7)).shape == (3, 0)


def test_an_answer_that_never_varies_at_random_is_as_strong_as_can_be() -> None:
    still = Answer("wall", 3.0, 0.0, 0.0, 0.0, 0.0, 0.002, 0.01, 499, ())
    assert still.strength == math.inf
