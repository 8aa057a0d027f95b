"""What advice is given on, and what a piece of advice is: limits, situation, sentence, ground, source."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bubblegrade.pressure.atmosphere import ROUNDING_SHARE
from bubblegrade.pressure.comparison import Comparison
from bubblegrade.pressure.enough import USUAL_TABLE_PSIG, Decision
from bubblegrade.units import GaugePressure

COMMON: Final = "common practice"
MAKERS: Final = "maker guidance"
VESSEL_CODE: Final = "ASME BPVC VIII-1 UG-125"
GAS_LAW: Final = "Boyle's law"
TRIAL: Final = "this trial"
CASTING: Final = "a casting like the cups"


class Level(StrEnum):
    """How much a piece of advice weighs."""

    STOP = "stop"
    ADVICE = "advice"
    CAUTION = "caution"


@dataclass(frozen=True)
class Advice:
    """One sentence of advice with what it rests on."""

    level: Level
    rule: str  # the rule's name
    text: str
    ground: str
    source: str


@dataclass(frozen=True)
class Limits:
    """What pot and mould bear; None where the maker did not say."""

    rated: GaugePressure | None = None  # working pressure on the pot's plate
    relief: GaugePressure | None = None  # what the relief valve is set to
    mould: GaugePressure | None = None  # what the mould itself was cast at

    @property
    def lowest(self) -> tuple[float, str] | None:
        """The lowest limit in psi gauge and its name; None where none is known."""
        known = [
            (limit.psig, name)
            for limit, name in (
                (self.rated, "the pot's rated working pressure"),
                (self.relief, "the relief valve's setting"),
                (self.mould, "the mould's own casting pressure"),
            )
            if limit is not None
        ]
        return min(known) if known else None


@dataclass(frozen=True)
class Situation:
    """What advice is asked on."""

    limits: Limits
    asked: tuple[GaugePressure, ...]  # pressures that were cast at or are asked for
    atmosphere_kpa: float
    decision: Decision | None = None
    comparison: Comparison | None = None

    @property
    def highest_psig(self) -> float:
        """The highest pressure asked for; 0 where none was."""
        return max((each.psig for each in self.asked), default=0.0)

    @property
    def ceiling_psig(self) -> float:
        """The highest pressure that may be advised: the lowest limit, and without a rating never above 80 psi."""
        lowest = self.limits.lowest
        given = math.inf if lowest is None else lowest[0]
        return given if self.limits.rated else min(given, USUAL_TABLE_PSIG)


def above(
    limit: GaugePressure | None, at: Situation, *, names: tuple[str, str], ground: str, source: str
) -> Advice | None:
    """Return a stop where a pressure asked for lies above `limit`; `names` are the rule's and the limit's."""
    if limit is None or at.highest_psig <= limit.psig * (1.0 + ROUNDING_SHARE):
        return None
    rule, what = names
    text = f"{psi(at.highest_psig)} is above {what} of {psi(limit.psig)}: do not cast at it."
    return Advice(Level.STOP, rule, text, ground, source)


def psi(psig: float) -> str:
    """Return a gauge pressure as people write it.

    >>> psi(60.0), psi(43.5)
    ('60 psi', '43.5 psi')
    """
    return f"{psig:.4g} psi"


def target(decision: Decision) -> str:
    """Return a decision's target in words."""
    where = CASTING if math.isnan(decision.casting_cm3) else f"{decision.casting_cm3:.3g} cm3"
    return f"No more than {decision.tolerated:.3g} voids above {decision.visible_mm:.3g} mm in {where}"
