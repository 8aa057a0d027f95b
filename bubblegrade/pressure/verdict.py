"""The judgement: did the voids shrink as Boyle's law says, overall and at each setting, and what stands against it.

Each flag is one small rule. Sentences for the names stand in `verdict_words.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.by_setting import SettingRow
from bubblegrade.pressure.casting_sizes import exponent_by_castings
from bubblegrade.pressure.findings import Findings, Flag, Verdict
from bubblegrade.pressure.free_check import HIGHEST_EXPONENT, LOWEST_EXPONENT
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.intervals import half, holds_boyle, off_zero, plainly_off, shifted
from bubblegrade.pressure.replicas import Basis

WIDEST_HALF: Final = 0.17  # half the exponent's interval; twice that is Boyle's exponent itself: shrinking or not


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
    """Flag settings that no one exponent fits, as where the pot leaked at some."""
    return Flag.UNEVEN if found.off_line or uneven(found) is not None else None


def _wide(found: Findings) -> Flag | None:
    """Flag an interval as wide as Boyle's exponent, unless that lies far outside or settings that differ make it."""
    told = half(found.fit.exponent) <= WIDEST_HALF or found.plain or _uneven(found) is not None
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


def _small_gone(found: Findings) -> Flag | None:
    """Flag voids that shrank less while sizes spread less: neither a leak nor gas narrows them, lost small voids do."""
    less = uneven(found) is Verdict.SHRANK_LESS or (found.misfit and found.pooled.value < BOYLE_EXPONENT)
    return Flag.SMALL_GONE if less and found.narrower else None


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
    *(_no_open_cup, _empty_cups, _few_cups, _spread_at_bound, _uneven, _wide, _borderline),
    *(_castings_unlike, _hangs_on_unfit, _small_gone, _check_open, _unconfirmed),
    *(_extrapolated, _checks_differ, _cut_drift, _spread_moves, _voids_move),
)
FORBIDS_A_VERDICT: Final = frozenset(
    {Flag.SPREAD_AT_BOUND, Flag.WIDE, Flag.HANGS_ON_UNFIT, Flag.SMALL_GONE, Flag.CHECK_OPEN, Flag.UNCONFIRMED}
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
    if FORBIDS_A_VERDICT.intersection(raised):
        return Verdict.CANNOT_TELL
    if (apart := uneven(found)) is not None:
        return apart
    if Flag.BORDERLINE in raised and not found.misfit:
        return Verdict.CANNOT_TELL
    moved = exponent_by_castings(found.fit, found.log_castings)
    if _side(shifted(found.pooled, moved)) is not _side(found.pooled):
        return Verdict.CANNOT_TELL
    verdict = _placed(found.pooled, assumed=found.assumed)
    return Verdict.CANNOT_TELL if verdict is Verdict.AGREES and found.off_line else verdict


def judge_setting(row: SettingRow, found: Findings) -> Verdict:
    """Return the verdict on one setting alone; none that it shrank less where small voids are gone.

    Each has its own chance of 5 in 100 to be off where Boyle's law holds: of four settings that do, one is off in
    one trial of ten. The verdict over all settings is the one to go by.
    """
    verdict = _setting_side(row, found)
    less = verdict is not Verdict.REFERENCE and _side(row.exponent) is Verdict.SHRANK_LESS
    return Verdict.CANNOT_TELL if less and found.narrower else verdict


def _setting_side(row: SettingRow, found: Findings) -> Verdict:
    """Return the verdict on one setting from its interval."""
    if row.is_reference:
        return Verdict.REFERENCE
    narrow = half(row.exponent) <= WIDEST_HALF or plainly_off(row.exponent)
    if found.fit.at_bound or not narrow or not _setting_holds(row, found):
        return Verdict.CANNOT_TELL
    verdict = _placed(row.exponent, assumed=row.basis is Basis.ASSUMED)
    misfit = verdict in {Verdict.SHRANK_LESS, Verdict.SHRANK_MORE}
    unconfirmed = misfit and row.extrapolated and not found.check.excludes(BOYLE_EXPONENT)
    return Verdict.CANNOT_TELL if unconfirmed else verdict


def uneven(found: Findings) -> Verdict | None:
    """Return how voids left Boyle's law at some settings where they did not at others; None if all go alike.

    Intervals twice as wide leave Boyle's law out at the ones, and no exponent fits all settings, or lies in the
    intervals of both. Where some left it one way and some the other, it is said as of the setting that lies farthest
    off for its interval.
    """
    told = [(row.exponent, _setting_side(row, found)) for row in found.rows]
    kept = [exponent for exponent, verdict in told if verdict is Verdict.AGREES]
    left = [
        (abs(exponent.value - BOYLE_EXPONENT) / half(exponent), verdict)
        for exponent, verdict in told
        if verdict in {Verdict.SHRANK_LESS, Verdict.SHRANK_MORE}
        and plainly_off(exponent)
        and any(found.off_line or exponent.high < each.low or each.high < exponent.low for each in kept)
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
