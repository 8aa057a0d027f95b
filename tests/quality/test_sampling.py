"""Sampling plans against the published example, and their operating curves against scipy's distributions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from bubblegrade.errors import InputError
from bubblegrade.quality.sampling import (
    NONE_ACCEPTED,
    SIZES,
    code_letter,
    fewest_failing,
    pass_probability,
    sampling_plan,
)


def test_a_lot_of_100_at_level_2_has_the_letter_of_the_published_example() -> None:
    # ISO 2859-1 / ANSI/ASQ Z1.4: lots of 91 to 150, general level II, code letter F, sample size 20
    assert {code_letter(lot) for lot in (91, 100, 150)} == {"F"}
    assert SIZES["F"] == 20


def test_at_one_percent_the_arrow_leads_from_f_to_e() -> None:
    # from memory: the cell of F at 1.0 is an arrow up, to 13 pieces of which none may fail
    plan = sampling_plan(100, 1.0)
    assert (plan.letter, plan.draw, plan.accept) == ("E", 13, 0)


@pytest.mark.parametrize(
    ("lot", "limit", "draw", "accept"),
    [
        (40, 2.5, 5, 0),  # D: arrow up to C
        (60, 2.5, 20, 1),  # E: arrow down to F
        (150, 2.5, 20, 1),
        (500, 2.5, 50, 3),
        (1200, 1.0, 80, 2),
        (3200, 1.0, 125, 3),
        (500, 4.0, 50, 5),
        (200, 6.5, 32, 5),
        (10, 0.65, 10, 0),  # the first plan of 0.65 needs 20: all are drawn
    ],
)
def test_plans_are_those_of_the_master_table(lot: int, limit: float, draw: int, accept: int) -> None:
    # ISO 2859-1 table 2-A, single sampling, normal inspection; cells from memory
    plan = sampling_plan(lot, limit)
    assert (plan.draw, plan.accept) == (draw, accept)
    assert plan.all_drawn is (draw == lot)


@pytest.mark.parametrize("limit", NONE_ACCEPTED)
def test_a_larger_batch_never_has_a_smaller_sample(limit: float) -> None:
    draws = [sampling_plan(lot, limit).draw for lot in range(2, 10_001, 7)]
    steps = np.diff(draws)
    assert (steps >= -7).all()  # an arrow up may send a batch to the plan below, no further than the next
    assert draws[-1] >= draws[0]


def test_a_batch_of_the_limits_quality_passes_more_often_than_not() -> None:
    for limit in NONE_ACCEPTED:
        for lot in (100, 400, 1000, 5000):
            assert pass_probability(sampling_plan(lot, limit), lot * limit / 100) > 0.8


@pytest.mark.parametrize(("lot", "limit"), [(16, 1.0), (20, 1.0), (50, 6.5), (100, 1.0), (150, 4.0), (3000, 0.65)])
def test_the_operating_curve_is_scipys_hypergeometric_law(lot: int, limit: float) -> None:
    plan, failing = sampling_plan(lot, limit), np.arange(lot + 1)
    law = stats.hypergeom.cdf(plan.accept, lot, failing, plan.draw)
    np.testing.assert_allclose(pass_probability(plan, failing), law, atol=1e-9)
    fewest = fewest_failing(plan, 0.10)
    assert law[fewest] <= 0.10 < law[fewest - 1]


def test_the_operating_curve_of_thirteen_and_none_has_the_known_values() -> None:
    # binomial and hypergeometric values computed outside (scipy); the curve of a very large batch is the binomial one
    plan = sampling_plan(100, 1.0)
    np.testing.assert_allclose(pass_probability(plan, [1, 5, 10]), [0.87, 0.4908, 0.2311], atol=5e-5)
    run = replace(plan, lot=1_000_000)
    np.testing.assert_allclose(pass_probability(run, [10_000, 50_000]), [0.877521, 0.513342], atol=1e-5)
    assert fewest_failing(run, 0.10) / run.lot == pytest.approx(0.16232, abs=1e-5)
    assert fewest_failing(run, 0.95) / run.lot == pytest.approx(0.003938, abs=2e-6)


def test_the_operating_curve_is_that_of_drawing_without_looking() -> None:
    plan, failing = sampling_plan(400, 2.5), 20
    rng = np.random.default_rng(5)
    batch = np.arange(plan.lot) < failing
    passed = [batch[rng.permutation(plan.lot)[: plan.draw]].sum() <= plan.accept for _ in range(4000)]
    spread = 4 * float(stats.binom.std(4000, 0.5)) / 4000
    assert np.mean(passed) == pytest.approx(float(pass_probability(plan, failing)), abs=spread)


@pytest.mark.parametrize(
    ("lot", "limit", "words"),
    [
        (1, 1.0, "a batch of 1 piece has no sampling plan: give 2 to 10000"),
        (20_000, 1.0, "a batch of 20000 pieces"),
        (100, 2.0, "2 % is no quality limit of ISO 2859-1: use one of 0.1, 0.15"),
    ],
)
def test_what_the_standard_has_no_plan_for_is_refused(lot: int, limit: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        sampling_plan(lot, limit)
