"""The conductor: cups cast at several pressures become one comparison with Boyle's law.

cups ──> Trial ──> Shrinkage ──> rows by setting, check, recuts, trends ──> flags ──> verdicts ──> suspects
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.grading.estimate import UNKNOWN, Estimate
from bubblegrade.pressure.by_setting import SettingRow, by_setting, chance_of_line
from bubblegrade.pressure.casting_sizes import log_castings
from bubblegrade.pressure.checks import recut, spread_trend, void_trend
from bubblegrade.pressure.cups import Cup, gather
from bubblegrade.pressure.effective import Needed, effective_share, needed, spread_to_agree, telling_half_width
from bubblegrade.pressure.findings import Findings, Flag, Verdict
from bubblegrade.pressure.free_check import free_check
from bubblegrade.pressure.odd_cups import changed_places, standing_out
from bubblegrade.pressure.replicas import ASSUMED_CUP_SPREAD
from bubblegrade.pressure.shrinkage import Shrinkage, cup_spread_estimate, fit_shrinkage, pooled_exponent
from bubblegrade.pressure.suspects import Circumstances, Ranked, rank
from bubblegrade.pressure.verdict import WIDEST_HALF, flags, judge, judge_setting

CLOSER: Final = frozenset(
    {Flag.SPREAD_AT_BOUND, Flag.SMALL_GONE, Flag.CHECK_OPEN, Flag.UNCONFIRMED}
)  # closer photographs help
PHOTOGRAPHS_FIRST: Final = frozenset({Flag.CASTINGS_UNLIKE, Flag.HANGS_ON_UNFIT})  # more cups like these do not help


@dataclass(frozen=True, eq=False)
class Comparison:
    """What a trial says of Boyle's law: raw numbers, names of flags and verdicts; sentences stand beside the names."""

    findings: Findings
    flags: tuple[Flag, ...]
    verdict: Verdict
    setting_verdicts: tuple[Verdict, ...]  # in the order of `rows`
    suspects: tuple[Ranked, ...]  # the likeliest first; none without a misfit
    effective_share: Estimate  # of the gauge pressure, if Boyle's law holds
    cup_spread: Estimate  # of ln d from cup to cup, measured; NaN where cups are too few
    spread_to_agree: float  # of ln d from cup to cup, from which on a misfit would be none; NaN unless assumed
    swapped: tuple[int, int] | None  # cups of the fit that look as if they had changed places
    odd: int | None  # a cup of the fit that is unlike all others
    needed: Needed | None  # what would tell more; None where the verdict is told, or cups are misplaced

    @property
    def fit(self) -> Shrinkage:
        """The fit over all cups."""
        return self.findings.fit

    @property
    def exponent(self) -> Estimate:
        """The exponent of diameters on the pressure ratio; Boyle's law: 1/3."""
        return self.findings.fit.exponent

    @property
    def rows(self) -> tuple[SettingRow, ...]:
        """The settings, from the lowest pressure on."""
        return self.findings.rows

    @property
    def closer_helps(self) -> bool:
        """Whether the answer hangs on voids too small for the photographs."""
        return not CLOSER.isdisjoint(self.flags)

    @property
    def photographs_first(self) -> bool:
        """Whether the photographs are so unlike that nothing should rest on them before some are taken again."""
        return not PHOTOGRAPHS_FIRST.isdisjoint(self.flags)

    @property
    def reference(self) -> str:
        """The setting that the others are compared with."""
        return self.fit.trial.settings[self.fit.trial.reference]


def compare(
    cups: Sequence[Cup],
    *,
    assumed_spread: float = ASSUMED_CUP_SPREAD,
    circumstances: Circumstances | None = None,
) -> Comparison:
    """Return the comparison of `cups`, cast at two or more pressures, with Boyle's law.

    `assumed_spread`, in ln d from cup to cup, is used only where too few cups are there to leave one out.

    Raises
    ------
    InputError
        No cup, cups without a void at several settings, or voids at one pressure only.
    """
    fit = fit_shrinkage(gather(cups), assumed_spread=assumed_spread)
    found = Findings(
        fit=fit,
        pooled=pooled_exponent(fit),
        rows=by_setting(fit),
        chance_of_line=chance_of_line(fit),
        check=free_check(fit.trial, fit.grouping),
        recuts=recut(cups, fit),
        spread_trend=spread_trend(fit),
        void_trend=void_trend(fit),
        empty=tuple(dict.fromkeys(cup.setting for cup in cups if cup not in fit.trial.cups)),
        log_castings=log_castings(fit),
        sound=_sound(cups, fit),
    )
    raised = flags(found)
    verdict = judge(found, raised)
    swapped = changed_places(fit)
    odd = standing_out(fit) if swapped is None else None
    misplaced = swapped is not None or odd is not None
    return Comparison(
        findings=found,
        flags=raised,
        verdict=verdict,
        setting_verdicts=tuple(judge_setting(row, found) for row in found.rows),
        suspects=rank(found, verdict, circumstances or Circumstances()),
        effective_share=effective_share(fit),
        cup_spread=cup_spread_estimate(fit),
        spread_to_agree=spread_to_agree(fit) if found.assumed else float("nan"),
        swapped=swapped,
        odd=odd,
        needed=None if misplaced else _needed(found, raised, verdict, cast=len(cups)),
    )


def _sound(cups: Sequence[Cup], fit: Shrinkage) -> Estimate | None:
    """Return the exponent from the fit photographs alone; unknown where they are too few, None where all are alike."""
    sound = [cup for cup in cups if not cup.unfit]
    if len(sound) in (0, len(cups)):
        return None
    try:
        return pooled_exponent(fit_shrinkage(gather(sound), assumed_spread=fit.assumed_spread))
    except InputError:
        return UNKNOWN


def _needed(found: Findings, raised: tuple[Flag, ...], verdict: Verdict, *, cast: int) -> Needed | None:
    """Return what would tell more than `verdict` does, or settle what few cups left open."""
    if {*PHOTOGRAPHS_FIRST, Flag.SMALL_GONE}.intersection(raised) or (
        not found.assumed and verdict is not Verdict.CANNOT_TELL
    ):
        return None
    wide = Flag.WIDE in raised and not found.assumed
    return needed(found.fit, WIDEST_HALF if wide else telling_half_width(found.fit), cast=cast)
