"""Settings whose voids cannot have gelled at the pressure written beside them.

A digit or a unit that is wrong, or photographs that belong to another setting, show as far more pressure than was
written, or as voids that are larger where there was more of it. Faults of the pot do neither: they leave less pressure.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.by_setting import SettingRow

MORE_THAN_WRITTEN: Final = 2.0  # times the gauge pressure; a dial of grade D is 5 % of its span off
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
    for row in rows[1:]:
        if row.effective_share.low > MORE_THAN_WRITTEN:
            report = _words(row.effective_gauge_ratio, atmosphere_psi, ".0f")
            return f"The voids at {row.name} have shrunk as by {report} psi: {CURE}."
        if row.log_ratio.low > 0.0:
            report = _words(row.diameter_ratio, 1.0, ".2f")
            return f"The voids at {row.name} are {report} times as large as at {reference}: {CURE}."
    return None


def _words(estimate: Estimate, factor: float, digits: str) -> str:
    """Return an estimate times a factor with its limits."""
    value, low, high = (format(factor * each, digits) for each in (estimate.value, estimate.low, estimate.high))
    return f"{value} ({low} to {high})"
