"""The clarity score, its interval and its words."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.grading.clarity import Clarity, clarity, grade_word
from bubblegrade.grading.score import clarity_score, lost_share
from bubblegrade.settings import GRADES

SHARES = st.floats(0.0, 1.0)


def graded(cover: float, veil: float = 0.0, *, cover_err: float = 0.0, count: float = 50.0) -> Clarity:
    """Return the clarity of a casting with a smallest countable void of a hundred thousandth of its area."""
    return clarity((cover, cover_err), (veil, 0.0), diameters=np.ones(round(count)), smallest_share=1e-5)


def test_nothing_lost_is_100_one_percent_is_50_and_all_is_0() -> None:
    assert clarity_score(0.0, 0.0) == 100.0
    assert clarity_score(0.01, 0.0) == pytest.approx(50.0)
    assert clarity_score(0.0, 0.01) == pytest.approx(50.0)
    assert clarity_score(1.0, 0.0) == 0.0
    assert clarity_score(0.3, 1.0) == 0.0


@given(SHARES, SHARES, SHARES)
def test_the_score_falls_with_cover_and_with_veil(first: float, second: float, other: float) -> None:
    less, more = sorted((first, second))
    assert 100.0 >= clarity_score(less, other) >= clarity_score(more, other) - 1e-9 >= -1e-9
    assert clarity_score(other, less) >= clarity_score(other, more) - 1e-9


@given(SHARES, SHARES)
def test_cover_and_veil_weigh_the_same(cover: float, veil: float) -> None:
    assert clarity_score(cover, veil) == pytest.approx(clarity_score(veil, cover))
    assert 1.0 - lost_share(cover, veil) == pytest.approx((1.0 - cover) * (1.0 - veil))


@given(SHARES, SHARES, st.floats(0.0, 0.1), st.floats(0.0, 0.1), st.floats(0.0, 1000.0))
def test_the_interval_encloses_the_score_within_0_and_100(
    cover: float, veil: float, cover_err: float, veil_err: float, count: float
) -> None:
    found = clarity((cover, cover_err), (veil, veil_err), diameters=np.ones(round(count)), smallest_share=1e-5)
    assert 0.0 <= found.low <= found.score <= found.high <= 100.0


@given(st.floats(0.001, 0.5), st.floats(1.0, 100.0))
def test_more_voids_of_the_same_cover_make_the_interval_narrower(cover: float, count: float) -> None:
    few, many = graded(cover, count=count), graded(cover, count=2.0 * count)
    assert few.score == many.score
    assert few.low <= many.low
    assert few.high >= many.high


def test_noise_of_the_photograph_makes_the_interval_wider() -> None:
    exact, noisy = graded(0.01), graded(0.01, cover_err=0.002)
    assert noisy.low < exact.low < exact.high < noisy.high


def test_the_interval_of_ten_equal_voids_is_garwoods_put_through_the_formula() -> None:
    # Garwood's limits of 10 are 4.795389 and 18.390356, so 1 % cover lies between 0.48 and 1.84 %
    found = graded(0.01, count=10.0)
    assert found.high == pytest.approx(clarity_score(0.004795389, 0.0), abs=1e-4)
    assert found.low == pytest.approx(clarity_score(0.018390356, 0.0), abs=1e-4)


def test_no_void_seen_still_leaves_up_to_three() -> None:
    found = graded(0.0, count=0.0)
    assert (found.score, found.high) == (100.0, 100.0)
    assert found.low == pytest.approx(clarity_score(2.995732e-5, 0.0), abs=1e-6)


def test_what_cannot_be_judged_has_no_score_and_no_word() -> None:
    found = graded(math.nan)
    assert math.isnan(found.score)
    assert math.isnan(found.low)
    assert found.word == ""
    assert not found.settled


def test_an_unknown_noise_leaves_the_score_and_takes_the_interval() -> None:
    found = graded(0.01, cover_err=math.nan)
    assert found.score == pytest.approx(50.0)
    assert math.isnan(found.low)
    assert math.isnan(found.high)


@pytest.mark.parametrize("share", [-0.01, 1.01])
def test_a_share_outside_0_and_1_is_a_broken_promise(share: float) -> None:
    with pytest.raises(AssertionError, match="a share lies between 0 and 1"):
        graded(share)
    with pytest.raises(AssertionError, match="a share lies between 0 and 1"):
        clarity_score(0.0, share)


@pytest.mark.parametrize(
    ("score", "word"),
    [(100.0, "spotless"), (97.0, "spotless"), (96.99, "sparse"), (70.0, "speckled"), (30.0, "bubbly"), (0.0, "foamy")],
)
def test_a_score_has_the_best_word_whose_limit_it_reaches(score: float, word: str) -> None:
    assert grade_word(score) == word


def test_what_may_be_a_void_lowers_the_lower_limit_alone() -> None:
    sure, unsure = (
        clarity((0.01, 0.001), (0.0, 0.0), diameters=np.ones(50), smallest_share=1e-5, perhaps=share)
        for share in (0.0, 0.02)
    )
    assert (unsure.score, unsure.high) == (sure.score, sure.high)
    assert unsure.low < clarity_score(0.03, 0.0) < sure.low


def test_words_go_from_best_to_worst_and_leave_no_score_without_one() -> None:
    limits = [least for _, least in GRADES]
    assert len(GRADES) == 5
    assert limits == sorted(limits, reverse=True)
    assert limits[-1] == 0.0


def test_words_and_limits_can_be_ones_own() -> None:
    own = (("yes", 50.0), ("no", 40.0))
    found = clarity((0.01, 0.0), (0.0, 0.0), diameters=np.ones(9), smallest_share=0.0, grades=own)
    assert found.word == grade_word(found.score, own)
    assert grade_word(10.0, own) == "no"


def test_a_word_is_settled_where_the_whole_interval_has_it() -> None:
    assert graded(0.015, count=10_000.0).settled
    assert not graded(0.006, count=4.0).settled


def test_a_clarity_knows_what_cover_and_veil_take_together() -> None:
    assert graded(0.5, 0.5).lost == 0.75
