"""Pieces joined from their photographs, and a batch accepted or refused by the pieces that were inspected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from bubblegrade.inspection.verdicts import Verdict, worst
from bubblegrade.quality.sampling import SamplingPlan, fewest_failing, pass_probability

BatchVerdict = Literal["accept", "refuse", "undecided"]

CURVE_SHARES: Final = (0.001, 0.0025, 0.005, 0.01, 0.015, 0.025, 0.04, 0.065, 0.1, 0.15, 0.25, 0.4)
SELDOM: Final = 0.10  # of the batches: the quality at which so few pass is what a passed sample rules out


@dataclass(frozen=True)
class Side:
    """One photograph of a piece and its verdict."""

    photo: str
    side: str  # empty where none is named
    verdict: Verdict
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Piece:
    """A piece: as bad as its worst side. A void that both sides show is held against each of them, never added up."""

    name: str
    sides: tuple[Side, ...]
    missing: tuple[str, ...] = ()  # photographs that could not be judged, with the reason

    @property
    def verdict(self) -> Verdict:
        """The worst of all sides; a side that could not be judged has to be looked at."""
        return worst([*(side.verdict for side in self.sides), *(Verdict.AGAIN for _ in self.missing)])


@dataclass(frozen=True)
class BatchDecision:
    """What the inspected pieces say of their batch."""

    plan: SamplingPlan
    inspected: int
    failed: int
    open_: int  # to be looked at again
    verdict: BatchVerdict
    reason: str
    curve: tuple[tuple[float, float], ...]  # share of failing pieces, how likely such a batch passes
    rules_out_share: float  # of failing pieces: one batch in ten passes at most, or the most if all were inspected
    promise: str  # what acceptance cannot promise


def decide(plan: SamplingPlan, pieces: Sequence[Piece]) -> BatchDecision:
    """Return whether the batch is accepted by the pieces inspected, taken as drawn at random."""
    failed = sum(piece.verdict is Verdict.FAIL for piece in pieces)
    open_ = sum(piece.verdict is Verdict.AGAIN for piece in pieces)
    drawn = replace(plan, draw=max(plan.draw, min(len(pieces), plan.lot)))
    verdict, reason = _verdict(plan, len(pieces), failed, open_)
    whole = drawn.draw >= plan.lot
    most = plan.accept if whole else fewest_failing(drawn, SELDOM)
    return BatchDecision(
        plan=plan,
        inspected=len(pieces),
        failed=failed,
        open_=open_,
        verdict=verdict,
        reason=reason,
        curve=tuple(
            (share, float(share * plan.lot <= most) if whole else float(pass_probability(drawn, share * plan.lot)))
            for share in CURVE_SHARES
        ),
        rules_out_share=most / plan.lot,
        promise=(
            "every piece is inspected, so that acceptance hangs on no draw: it says no more than the inspections do"
            if whole
            else f"acceptance says nothing of any one piece that was not inspected: of batches in which "
            f"{most} of {plan.lot} fail, one in ten is accepted at most; it holds only for pieces drawn at random"
        ),
    )


def _verdict(plan: SamplingPlan, inspected: int, failed: int, open_: int) -> tuple[BatchVerdict, str]:
    if failed > plan.accept:
        return "refuse", f"{failed} of {inspected} fail, {plan.accept} accepted"
    if inspected < plan.draw:
        return "undecided", f"{inspected} inspected, {plan.draw} to be drawn: inspect {plan.draw - inspected} more"
    if failed + open_ > plan.accept:
        return "undecided", f"{failed} fail and {open_} are to be looked at again, {plan.accept} accepted"
    return "accept", f"{failed} of {inspected} fail, {plan.accept} accepted"
