"""Pieces of several photographs, and a batch decided by them."""

from __future__ import annotations

import pytest
from scipy import stats

from bubblegrade.inspection.batch import Piece, Side, decide
from bubblegrade.inspection.verdicts import Verdict, worst
from bubblegrade.quality.sampling import sampling_plan

# ISO 2859-1, lot 91 to 150, level II, AQL 1.0: the arrow leads from F to E, 13 drawn, 0 accepted (tests/quality).
PLAN = sampling_plan(120, 1.0)


def pieces(passed: int, failed: int = 0, again: int = 0) -> list[Piece]:
    verdicts = [Verdict.PASS] * passed + [Verdict.FAIL] * failed + [Verdict.AGAIN] * again
    return [Piece(str(i), (Side(f"{i}.jpg", "", verdict, ()),)) for i, verdict in enumerate(verdicts)]


def test_a_piece_is_as_bad_as_its_worst_side() -> None:
    sides = {verdict: Side("a", "", verdict, ()) for verdict in Verdict}
    assert Piece("a", (sides[Verdict.PASS],)).verdict is Verdict.PASS
    assert Piece("a", (sides[Verdict.PASS], sides[Verdict.AGAIN])).verdict is Verdict.AGAIN
    assert Piece("a", tuple(sides.values())).verdict is Verdict.FAIL
    assert Piece("a", (sides[Verdict.PASS],), missing=("b.jpg cannot be read",)).verdict is Verdict.AGAIN
    assert worst([]) is Verdict.PASS


@pytest.mark.parametrize(
    ("found", "verdict", "words"),
    [
        (pieces(13), "accept", "0 of 13 fail"),
        (pieces(12, failed=1), "refuse", "1 of 13 fail"),
        (pieces(12, again=1), "undecided", "1 are to be looked at again"),
        (pieces(5), "undecided", "inspect 8 more"),
        (pieces(3, failed=1), "refuse", "1 of 4 fail"),
    ],
)
def test_a_batch_is_decided_by_its_plan(found: list[Piece], verdict: str, words: str) -> None:
    decision = decide(PLAN, found)
    assert decision.verdict == verdict
    assert words in decision.reason


def test_a_batch_that_is_inspected_whole_leaves_nothing_to_the_draw() -> None:
    for plan, count in ((sampling_plan(2, 1.0), 2), (sampling_plan(20, 1.0), 20)):
        decision = decide(plan, pieces(count))
        assert {accepted for _, accepted in decision.curve} == {0.0}  # none may fail, and every failure is seen
        assert decision.rules_out_share == 0.0
        assert "one in ten" not in decision.promise
    few = decide(sampling_plan(24, 6.5), pieces(24))  # ISO 2859-1: the arrow leads from C down to D, 1 accepted
    assert few.rules_out_share == 1 / 24


def test_the_operating_curve_is_that_of_the_pieces_inspected() -> None:
    for count, fewest in ((13, 19), (30, 8)):
        decision = decide(PLAN, pieces(count))
        whole = [(share, passes) for share, passes in decision.curve if (120 * share).is_integer()]
        assert [passes for _, passes in whole] == pytest.approx(
            [stats.hypergeom.cdf(0, 120, round(120 * share), count) for share, _ in whole]
        )
        assert decision.rules_out_share == pytest.approx(fewest / 120)
    assert "nothing of any one piece that was not inspected" in decision.promise


def test_what_acceptance_rules_out_of_a_small_batch_goes_by_that_batch_and_by_no_long_run() -> None:
    # 13 of 20 drawn, none may fail: C(17, 13) / C(20, 13) = 0.031 with 3 bad ones, 0.11 with 2
    decision = decide(sampling_plan(20, 1.0), pieces(13))
    assert decision.rules_out_share == pytest.approx(3 / 20)
    assert "of batches in which 3 of 20 fail, one in ten is accepted at most" in decision.promise
