"""What a trial showed: the findings that are judged, and the names of verdicts and of what stands beside them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.by_setting import SettingRow
from bubblegrade.pressure.checks import Recuts
from bubblegrade.pressure.cups import Floats
from bubblegrade.pressure.free_check import FreeCheck
from bubblegrade.pressure.intervals import holds_boyle, plainly_off
from bubblegrade.pressure.replicas import Basis
from bubblegrade.pressure.shrinkage import Shrinkage

LEAST_CHANCE: Final = 0.01  # that one exponent's settings come out so unlike; below it they contradict each other


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
    SMALL_GONE = "small voids gone under pressure"
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
    chance_of_line: float  # that settings of one exponent come out as unlike as these
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
    def narrower(self) -> bool:
        """Whether voids under pressure spread less in size and are no more of them: small ones are gone."""
        return self.spread_trend.high < 0.0 and self.void_trend.value <= 0.0

    @property
    def off_line(self) -> bool:
        """Whether settings of one exponent come out as unlike as these too seldom for chance."""
        return self.chance_of_line < LEAST_CHANCE

    @property
    def assumed(self) -> bool:
        """Whether the intervals rest on an assumed spread between cups."""
        return self.fit.grouping.basis is Basis.ASSUMED
