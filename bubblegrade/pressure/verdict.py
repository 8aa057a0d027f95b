"""The judgement: did the voids shrink as Boyle's law says, overall and at each setting, and what stands against it.

The findings are raw numbers; each flag is one small rule. Sentences for the names stand in `verdict_words.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.by_setting import SettingRow
from bubblegrade.pressure.castings import exponent_by_castings
from bubblegrade.pressure.checks import Recuts
from bubblegrade.pressure.cups import Floats
from bubblegrade.pressure.free_check import HIGHEST_EXPONENT, LOWEST_EXPONENT, FreeCheck
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.intervals import half, holds_boyle, off_zero, plainly_off, shifted
from bubblegrade.pressure.replicas import Basis
from bubblegrade.pressure.shrinkage import Shrinkage

WIDEST_HALF: Final = 0.17  # half the exponent's interval; twice that is Boyle's exponent itself: shrinking or not


class Verdict(StrEnum):
    """Whether the voids shrank as Boyle's law says."""

    AGREES = "agrees with Boyle"
    SHRANK_LESS = "shrank less"
    SHRANK_MORE = "shrank more"
    CANNOT_TELL = "cannot be told"
    CONSISTENT = "consistent with Boyle"  # with an assumed spread between cups, no more can be said
    NOT_CONSISTENT = "not consistent with Boyle"
    REFERENCE = "reference"  # the setting that the others are compared with


class Flag(StrEnum):
    """What a reader should know beside the verdict."""

    NO_OPEN_CUP = "no open cup"
    EMPTY_CUPS = "empty cups"
    FEW_CUPS = "few cups"
    SPREAD_AT_BOUND = "spread at its bound"
    UNEVEN = "settings contradict each other"
    WIDE = "wide interval"
    BORDERLINE = "borderline"
    CASTINGS_UNLIKE = "castings unlike"
    HANGS_ON_UNFIT = "hangs on unfit photographs"
    CHECK_OPEN = "check without an end"
    UNCONFIRMED = "not confirmed by the check"
    EXTRAPOLATED = "extrapolated"
    CHECKS_DIFFER = "checks differ"
    CUT_DRIFT = "drifts with the cut"
    SPREAD_GROWS = "spread grows with pressure"
    SPREAD_FALLS = "spread falls with pressure"
    VOIDS_FEWER = "fewer voids under pressure"
    VOIDS_MORE = "more voids under pressure"


@dataclass(frozen=True, eq=False)
class Findings:
    """Everything that the judgement rests on."""

    fit: Shrinkage
    pooled: Estimate  # the exponent with the interval from one spread between all cups; a misfit is called by it
    rows: tuple[SettingRow, ...]
    check: FreeCheck
    recuts: Recuts
    spread_trend: Estimate  # gamma; above 0 where some voids do not scale
    void_trend: Estimate  # slope of ln of the voids on u; below 0 where pressure went with fewer
    empty: tuple[str, ...]  # settings with cups that show no void above the limit
    log_castings: Floats  # ln of the castings' size over that at the reference, (settings,); 0 where they look alike
    sound: Estimate | None  # the exponent from the fit photographs alone, as `pooled`; None where all are alike in that

    @property
    def misfit(self) -> bool:
        """Whether Boyle's 1/3 lies outside the pooled interval."""
        return not holds_boyle(self.pooled)

    @property
    def plain(self) -> bool:
        """Whether even intervals twice as wide leave Boyle's 1/3 out: then no width of theirs hides the misfit."""
        return plainly_off(self.pooled) and plainly_off(self.fit.exponent)

    @property
    def assumed(self) -> bool:
        """Whether the intervals rest on an assumed spread between cups."""
        return self.fit.grouping.basis is Basis.ASSUMED


def _no_open_cup(found: Findings) -> Flag | None:
    """Flag sizes that are relative to the lowest setting, for want of an open cup."""
    return Flag.NO_OPEN_CUP if found.fit.trial.open_setting is None else None


def _empty_cups(found: Findings) -> Flag | None:
    """Flag that cups without a void were left out."""
    return Flag.EMPTY_CUPS if found.empty else None


def _few_cups(found: Findings) -> Flag | None:
    """Flag that how far cups differ had to be assumed."""
    return Flag.FEW_CUPS if found.assumed else None


def _spread_at_bound(found: Findings) -> Flag | None:
    """Flag voids that thin out so slowly above the limit that no population can be told."""
    return Flag.SPREAD_AT_BOUND if found.fit.at_bound else None


def _uneven(found: Findings) -> Flag | None:
    """Flag settings of which some plainly left Boyle's law and others did not, as where the pot leaked at some."""
    return None if uneven(found) is None else Flag.UNEVEN


def _wide(found: Findings) -> Flag | None:
    """Flag an interval as wide as Boyle's exponent, unless that lies far outside or settings that differ make it."""
    told = half(found.fit.exponent) <= WIDEST_HALF or found.plain or uneven(found) is not None
    return None if told else Flag.WIDE


def _borderline(found: Findings) -> Flag | None:
    """Flag that the jackknife's interval and the pooled one differ on Boyle's exponent."""
    return None if holds_boyle(found.fit.exponent) != found.misfit else Flag.BORDERLINE


def _castings_unlike(found: Findings) -> Flag | None:
    """Flag castings that look larger at one pressure than at another."""
    return Flag.CASTINGS_UNLIKE if found.log_castings.any() else None


def _hangs_on_unfit(found: Findings) -> Flag | None:
    """Flag an answer that the photographs which are fit to measure do not give alone."""
    if found.sound is None:
        return None
    told = half(found.sound) <= WIDEST_HALF or plainly_off(found.sound)
    return None if told and _side(found.sound) is _side(found.pooled) else Flag.HANGS_ON_UNFIT


def _check_open(found: Findings) -> Flag | None:
    """Flag a check that sets no limit at one side; with too few cups, or beyond its reach, it is not asked."""
    asked = not found.assumed and LOWEST_EXPONENT <= found.fit.exponent.value <= HIGHEST_EXPONENT
    return Flag.CHECK_OPEN if found.check.open_ended and asked else None


def _unconfirmed(found: Findings) -> Flag | None:
    """Flag a misfit that hangs on voids never seen, and that the check does not find."""
    if not found.misfit or found.assumed or not any(row.extrapolated for row in found.rows):
        return None
    return None if found.check.excludes(BOYLE_EXPONENT) else Flag.UNCONFIRMED


def _extrapolated(found: Findings) -> Flag | None:
    """Flag that at some setting more than half of the voids lie below the limit."""
    return Flag.EXTRAPOLATED if any(row.extrapolated for row in found.rows) else None


def _checks_differ(found: Findings) -> Flag | None:
    """Flag a fit and a check that differ by more than one standard error."""
    apart = abs(found.check.exponent.value - found.fit.exponent.value)
    return Flag.CHECKS_DIFFER if apart > found.fit.exponent_err else None


def _cut_drift(found: Findings) -> Flag | None:
    """Flag an exponent that moves with the cut: small voids were missed, or sizes are not log-normal."""
    return Flag.CUT_DRIFT if off_zero(found.recuts.drift) else None


def _spread_moves(found: Findings) -> Flag | None:
    """Flag a spread of sizes that changes with pressure."""
    if not off_zero(found.spread_trend):
        return None
    return Flag.SPREAD_GROWS if found.spread_trend.value > 0.0 else Flag.SPREAD_FALLS


def _voids_move(found: Findings) -> Flag | None:
    """Flag a number of voids that changes with pressure."""
    if not off_zero(found.void_trend):
        return None
    return Flag.VOIDS_MORE if found.void_trend.value > 0.0 else Flag.VOIDS_FEWER


RULES: Final[tuple[Callable[[Findings], Flag | None], ...]] = (
    *(
        _no_open_cup,
        _empty_cups,
        _few_cups,
        _spread_at_bound,
        _uneven,
        _wide,
        _borderline,
        _castings_unlike,
        _hangs_on_unfit,
    ),
    *(_check_open, _unconfirmed, _extrapolated, _checks_differ, _cut_drift, _spread_moves, _voids_move),
)
FORBIDS_A_VERDICT: Final = frozenset(
    {Flag.SPREAD_AT_BOUND, Flag.WIDE, Flag.HANGS_ON_UNFIT, Flag.CHECK_OPEN, Flag.UNCONFIRMED}
)


def flags(found: Findings) -> tuple[Flag, ...]:
    """Return what stands beside the verdict, in the order of the rules."""
    return tuple(flag for flag in (rule(found) for rule in RULES) if flag is not None)


def judge(found: Findings, raised: tuple[Flag, ...]) -> Verdict:
    """Return the verdict over all settings, from the exponent's intervals and the flags `raised`.

    A misfit is called by the pooled interval; 'agrees' takes both intervals. In simulated trials that obey Boyle's
    law it is 'shrank less' or 'shrank more' in about 5 of 100. Where the castings look unlike, nothing is said that
    would turn if all were of one size. Where settings contradict each other, the verdict is theirs that left the law.
    """
    apart = uneven(found)
    if apart is not None and not FORBIDS_A_VERDICT.intersection(raised):
        return apart
    if FORBIDS_A_VERDICT.intersection(raised) or (Flag.BORDERLINE in raised and not found.misfit):
        return Verdict.CANNOT_TELL
    moved = exponent_by_castings(found.fit, found.log_castings)
    if _side(shifted(found.pooled, moved)) is not _side(found.pooled):
        return Verdict.CANNOT_TELL
    return _placed(found.pooled, assumed=found.assumed)


def judge_setting(row: SettingRow, found: Findings) -> Verdict:
    """Return the verdict on one setting alone.

    Each has its own chance of 5 in 100 to be off where Boyle's law holds: of four settings that do, one is off in
    one trial of ten. The verdict over all settings is the one to go by.
    """
    if row.is_reference:
        return Verdict.REFERENCE
    if found.fit.at_bound or not (half(row.exponent) <= WIDEST_HALF or plainly_off(row.exponent)):
        return Verdict.CANNOT_TELL
    if not _setting_holds(row, found):
        return Verdict.CANNOT_TELL
    verdict = _placed(row.exponent, assumed=row.basis is Basis.ASSUMED)
    misfit = verdict in {Verdict.SHRANK_LESS, Verdict.SHRANK_MORE}
    unconfirmed = misfit and row.extrapolated and not found.check.excludes(BOYLE_EXPONENT)
    return Verdict.CANNOT_TELL if unconfirmed else verdict


def uneven(found: Findings) -> Verdict | None:
    """Return how voids left Boyle's law at some settings where they plainly did not at others; None if all go alike.

    Intervals twice as wide leave Boyle's law out at the ones, and no exponent lies in the intervals of both. It is said
    of none of 1,200 simulated trials that obey the law, and of 2 in 1,000 where cups differ by 0.10. Where some left it
    one way and some the other, it is said as of the setting that lies farthest off for its interval.
    """
    told = [(row.exponent, judge_setting(row, found)) for row in found.rows]
    kept = [exponent for exponent, verdict in told if verdict is Verdict.AGREES]
    left = [
        (abs(exponent.value - BOYLE_EXPONENT) / half(exponent), verdict)
        for exponent, verdict in told
        if verdict in {Verdict.SHRANK_LESS, Verdict.SHRANK_MORE}
        and plainly_off(exponent)
        and any(exponent.high < each.low or each.high < exponent.low for each in kept)
    ]
    return max(left)[1] if left else None


def _setting_holds(row: SettingRow, found: Findings) -> bool:
    """Whether a setting's verdict needs no unfit photograph, and would be the same with castings of one size."""
    trial = found.fit.trial
    names = {row.name, trial.settings[trial.reference]}
    if found.sound is not None and any(cup.unfit for cup in trial.cups if cup.setting in names):
        return False
    casting = float(found.log_castings[trial.settings.index(row.name)])
    moved = casting / (row.log_squeeze - row.reference_squeeze) if casting else 0.0
    return _side(shifted(row.exponent, moved)) is _side(row.exponent)


def _side(exponent: Estimate) -> Verdict:
    """Return on which side of Boyle's law an exponent's interval lies."""
    return _placed(exponent, assumed=False)


def _placed(exponent: Estimate, *, assumed: bool) -> Verdict:
    """Return what an exponent's interval says of Boyle's law."""
    agrees = holds_boyle(exponent)
    if assumed:
        return Verdict.CONSISTENT if agrees else Verdict.NOT_CONSISTENT
    if agrees:
        return Verdict.AGREES
    return Verdict.SHRANK_LESS if exponent.value < BOYLE_EXPONENT else Verdict.SHRANK_MORE
