"""What follows from a casting's raw numbers: counts over areas, shares, each with its interval or uncertainty."""

from __future__ import annotations

import math

from bubblegrade.grading.estimate import UNKNOWN, Estimate
from bubblegrade.grading.record import MM2_PER_CM2, MM_PER_CM
from bubblegrade.grading_run import Casting


def judged_area_cm2(casting: Casting) -> Estimate:
    """Return the judged area; its interval is the scale's alone, unknown without a scale."""
    if casting.scale is None:
        return UNKNOWN
    mm, err = casting.scale.mm_per_px, casting.scale.mm_per_px_err
    exact = Estimate(casting.judged_area_px, casting.judged_area_px, casting.judged_area_px)
    return exact.scaled(mm**2 / MM2_PER_CM2, factor_err=2.0 * mm * err / MM2_PER_CM2)


def judged_volume_cm3(casting: Casting) -> Estimate:
    """Return the judged area times the mean depth, with the doubt of both; unknown without scale and thickness."""
    if casting.thickness_mm is None:
        return UNKNOWN
    depth_cm = casting.thickness_mm * casting.magnified.filled / MM_PER_CM
    return judged_area_cm2(casting).scaled(depth_cm, factor_err=depth_cm * casting.volume_err_share)


def count_over(casting: Casting, extent: Estimate) -> Estimate:
    """Return countable voids over an area or a volume: exact Poisson limits, widened by the extent's interval.

    Where the frame is judged, those that it cuts are made up for by the weights of the whole ones.
    """
    sizes = casting.sizes_px
    if not extent.value > 0.0:
        return UNKNOWN
    number, each = sizes.middles, sizes.middles / sizes.count if sizes.count else 1.0
    value = number / extent.value
    below = math.hypot(value - each * sizes.count_low / extent.value, value - number / extent.high)
    above = math.hypot(each * sizes.count_high / extent.value - value, number / extent.low - value)
    return Estimate(value, max(value - below, 0.0), value + above)


def smallest_mm(casting: Casting) -> float:
    """Return the smallest countable diameter; NaN without a scale."""
    return casting.sizes_px.smallest * casting.void_scale.mm_per_px if casting.void_scale else math.nan


def not_judged_share(casting: Casting, area_px: float) -> float:
    """Return an area over the whole casting's."""
    whole = casting.judged_area_px + sum(part.area_px for part in casting.not_judged)
    return area_px / whole if whole > 0.0 else math.nan
