"""Where an interval lies: whether an exponent's holds Boyle's 1/3, and how wide it is."""

from __future__ import annotations

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.gas import BOYLE_EXPONENT


def shifted(estimate: Estimate, by: float) -> Estimate:
    """Return an estimate moved with its interval."""
    return Estimate(estimate.value + by, estimate.low + by, estimate.high + by)


def holds_boyle(exponent: Estimate) -> bool:
    """Whether an exponent's interval holds Boyle's 1/3."""
    return exponent.low <= BOYLE_EXPONENT <= exponent.high


def plainly_off(exponent: Estimate) -> bool:
    """Whether an exponent's interval, twice as wide, leaves Boyle's 1/3 out; not where it is unknown."""
    return abs(exponent.value - BOYLE_EXPONENT) > 2.0 * half(exponent)


def half(estimate: Estimate) -> float:
    """Return half an interval's width; NaN where it is unknown."""
    return (estimate.high - estimate.low) / 2.0


def off_zero(estimate: Estimate) -> bool:
    """Whether an interval leaves 0 out; not where it is unknown."""
    return estimate.low > 0.0 or estimate.high < 0.0
