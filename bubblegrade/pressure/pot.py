"""The pot: what its plate, its relief valve, its gauge and its maker say, and what of it contradicts itself."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from typing import Final

from bubblegrade.errors import UnitError
from bubblegrade.pressure.atmosphere import HIGHEST_PSIG
from bubblegrade.pressure.situation import Limits
from bubblegrade.units import AT_SEA_LEVEL, PSI_KPA, AbsolutePressure, GaugePressure, pressure

# What pressure may rise to above the working pressure while a valve relieves it: ASME BPVC VIII-1 UG-125(c).
RISE_SHARE: Final = 0.10
RISE_PSI: Final = 3.0
# Grades of ASME B40.100, and the European classes, by which dials are sold.
GAUGE_CLASSES: Final = ("4A", "3A", "2A", "1A", "A", "B", "C", "D", "0.6", "1", "1.0", "1.6", "2.5", "4", "4.0")
# Largest error of each grade in shares of the span, in the middle half of the dial and outside it: ASME B40.100 (the
# grades other than A and B from memory). A European class is itself the percentage.
GRADE_ERRORS: Final = {
    "4A": (0.001, 0.001),
    "3A": (0.0025, 0.0025),
    "2A": (0.005, 0.005),
    "1A": (0.01, 0.01),
    "A": (0.01, 0.02),
    "B": (0.02, 0.03),
    "C": (0.03, 0.04),
    "D": (0.05, 0.05),
}
MIDDLE_HALF: Final = (0.25, 0.75)  # shares of the span between which a grade's smaller error holds


@dataclass(frozen=True)
class Dial:
    """The pot's pressure gauge."""

    low: GaugePressure
    high: GaugePressure
    grade: str | None = None  # one of `GAUGE_CLASSES`; None where the maker did not say

    @property
    def span_psi(self) -> float:
        """From one end of the scale to the other."""
        return self.high.psig - self.low.psig

    def largest_error_psi(self, psig: float, *, grade: str) -> float:
        """Return the largest error of a dial of this grade or class at a reading.

        >>> Dial(GaugePressure(0.0), GaugePressure(100.0 * PSI_KPA)).largest_error_psi(60.0, grade="B")
        2.0
        """
        middle, outside = GRADE_ERRORS[grade] if grade in GRADE_ERRORS else (float(grade) / 100.0,) * 2
        low, high = (self.low.psig + share * self.span_psi for share in MIDDLE_HALF)
        return self.span_psi * (middle if low <= psig <= high else outside)


@dataclass(frozen=True)
class Pot:
    """A pot as its owner describes it; None where nothing was said."""

    name: str | None = None
    limits: Limits = field(default_factory=Limits)
    dial: Dial | None = None
    free_volume_cm3: float | None = None  # of air, the pot's volume less moulds and contents
    last_inspection: datetime.date | None = None


def stated_limit(text: str, *, what: str) -> GaugePressure:
    """Return a limit as a plate states it; `what` names it in an error.

    >>> round(stated_limit("70psi", what="--rated").psig, 9)
    70.0

    Raises
    ------
    UnitError
        No pressure, an absolute one, 0, or above 300 psi gauge.
    """
    limit = pressure(text, what=what)
    if isinstance(limit, AbsolutePressure):
        raise UnitError(f"{what} {text} counts from vacuum, and plates count from the air: write it so, {AT_SEA_LEVEL}")
    if not 0.0 < limit.psig <= HIGHEST_PSIG:
        raise UnitError(
            f"{what} {text} is no limit of a casting pot: write what the plate states, "
            f"above 0 and up to {HIGHEST_PSIG:g} psi"
        )
    return limit


def highest_relief(rated: GaugePressure) -> GaugePressure:
    """Return the pressure that a relieved pot of this rating may rise to: 10 % or 3 psi above it, whichever is more.

    >>> [round(highest_relief(GaugePressure(psig * PSI_KPA)).psig, 6) for psig in (60.0, 20.0)]
    [66.0, 23.0]
    """
    return GaugePressure(rated.kpa_gauge + max(RISE_SHARE * rated.kpa_gauge, RISE_PSI * PSI_KPA))


def relief_contradicts(limits: Limits) -> bool:
    """Whether the relief valve is set so far above the rating that one of the two was misread."""
    if limits.rated is None or limits.relief is None:
        return False
    return limits.relief.kpa_gauge > highest_relief(limits.rated).kpa_gauge * (1.0 + 1e-9)
