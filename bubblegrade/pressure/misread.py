"""Settings whose voids cannot have gelled at the pressure written beside them.

A digit or a unit that is wrong, or photographs that belong to another setting, show as far more pressure than was
written, or as voids that are larger where there was more of it. Faults of the pot do neither: they leave less pressure.
Absolute pressures in psi that were written as a dial's show as no open cup and a lowest pressure of one atmosphere.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.by_setting import SettingRow

MORE_THAN_WRITTEN: Final = 2.0  # times the gauge pressure; a dial of grade D is 5 % of its span off
ONE_ATMOSPHERE: Final = 0.01  # as near; 14.7 psi are, the 15 psi of a dial are not
WHOLE_PSI: Final = 0.01  # as near to a whole number of psi is what a dial is held at, whatever the air is
CURE: Final = "check the number, its unit, and which photographs belong to which pressure"


def misread(rows: Sequence[SettingRow], atmosphere_psi: float) -> str | None:
    """Return what stands against a pressure, and the cure; None where nothing does.

    Parameters
    ----------
    rows
        The settings, from the lowest pressure on.
    atmosphere_psi
        Of the air around the cups.
    """
    reference = rows[0].name
    if _as_the_air(rows[0], atmosphere_psi):
        return (
            f"The lowest pressure, {reference}, is that of the air itself: if its cups stood open, all pressures are "
            "absolute; write them with abs, as 14.7psi abs."
        )
    for row in rows[1:]:
        if row.effective_share.low > MORE_THAN_WRITTEN:
            report = _words(row.effective_gauge_ratio, atmosphere_psi, ".0f")
            return f"The voids at {row.name} have shrunk as by {report} psi: {CURE}."
        if row.log_ratio.low > 0.0:
            report = _words(row.diameter_ratio, 1.0, ".2f")
            return f"The voids at {row.name} are {report} times as large as at {reference}: {CURE}."
    return None


def _as_the_air(row: SettingRow, atmosphere_psi: float) -> bool:
    """Say whether a pressure is the air's own, to a fraction of a psi; in other units `gauge` or `abs` is said."""
    psig = row.gauge_ratio * atmosphere_psi
    near = abs(row.gauge_ratio - 1.0) < ONE_ATMOSPHERE and abs(psig - round(psig)) > WHOLE_PSI
    return near and row.name.endswith("psi")


def _words(estimate: Estimate, factor: float, digits: str) -> str:
    """Return an estimate times a factor with its limits."""
    value, low, high = (format(factor * each, digits) for each in (estimate.value, estimate.low, estimate.high))
    return f"{value} ({low} to {high})"
