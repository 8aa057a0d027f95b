"""Records of a judgement: what is wrong with a piece, where, and what follows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from bubblegrade.inspection.finds import Finds
from bubblegrade.inspection.frame import Frame, Lie
from bubblegrade.inspection.seen import Seen

Floats = NDArray[np.float64]


class Verdict(StrEnum):
    """What a piece is to its maker's limits."""

    PASS = "pass"  # noqa: S105 - the word of the trade
    AGAIN = "look again"
    FAIL = "fail"


@dataclass(frozen=True, eq=False)
class Fault:
    """One limit that is broken, or may be."""

    verdict: Verdict  # FAIL or AGAIN
    zone: str  # empty for the whole photograph
    rule: str
    reason: str  # with value, interval and limit
    places_px: Floats  # (N, 2) x, y of what breaks it, the worst first; none for the whole zone
    diameters_px: Floats  # (N,)

    @property
    def line(self) -> str:
        """The zone, the reason and the worst place in one line."""
        at = f"; look at {self.places_px[0][0]:.0f},{self.places_px[0][1]:.0f}" if len(self.places_px) else ""
        return f"{self.zone}: {self.reason}{at}" if self.zone else f"{self.reason}{at}"


@dataclass(frozen=True, eq=False)
class ZoneSummary:
    """What one zone of one photograph holds."""

    zone: str
    count: int  # voids that reach into it
    largest_px: float  # NaN without a void
    cover_share: float
    cover_err: float  # one standard uncertainty
    area_px: float
    judged_px: float
    unseen_px: float  # diameter of the largest void that may lie where nothing is judged
    border_px: tuple[Floats, ...]  # closed lines around the part of the piece that it takes, (N, 2) x, y each

    @property
    def unjudged_share(self) -> float:
        """Share of the zone that is not judged; NaN for an empty zone."""
        return 1.0 - self.judged_px / self.area_px if self.area_px else float("nan")


@dataclass(frozen=True, eq=False)
class Judgement:
    """A photograph of a piece held against the limits."""

    verdict: Verdict
    faults: tuple[Fault, ...]
    zones: tuple[ZoneSummary, ...]
    frame: Frame | None  # in which the zones are shown; None for a piece that is too round to have a length
    lie: Lie
    seen: Seen
    finds: Finds  # held against the limits, and those that are the mould's
    remarks: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[str, ...]:
        """Each fault in one line; beside those that fail the photograph, one that only asks to look again says so."""
        return tuple(
            f"{'' if fault.verdict is self.verdict else f'{fault.verdict}: '}{fault.line}" for fault in self.faults
        )


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the worst verdict; a fail outweighs a doubt, and nothing at all passes.

    >>> worst([Verdict.PASS, Verdict.AGAIN]).value
    'look again'
    """
    held = set(verdicts)
    return next((one for one in (Verdict.FAIL, Verdict.AGAIN) if one in held), Verdict.PASS)


def wrong(verdict: Verdict, zone: str, rule: str, reason: str) -> Fault:
    """Return a fault of a whole zone or photograph."""
    return Fault(verdict, zone, rule, reason, np.empty((0, 2)), np.empty(0))
