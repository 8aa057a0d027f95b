"""Limits after optical-glass practice: total void cross-section per 100 cm3 and its class.

The quantity is that of ISO 19742 clause 3.3. The class limits are those of one glass maker's published table of
internal quality; that any standard names these classes is unconfirmed, so say "after optical-glass practice" beside
them.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from bubblegrade.grading.counting import effective_count, total_interval
from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading.lognormal import unseen_factor

REFERENCE_VOLUME_CM3: Final = 100.0
SMALLEST_COUNTED_MM: Final = 0.03  # the table counts voids and inclusions from this diameter on
CLASS_LIMITS_MM2: Final = (0.03, 0.10, 0.25, 0.50)  # per 100 cm3; class 1 lies under the first, 5 from the last on
NOTE: Final = "after optical-glass practice, unconfirmed"


@dataclass(frozen=True)
class GlassClass:
    """A casting's void cross-section and its class, after optical-glass practice and unconfirmed."""

    area_mm2_per_100cm3: Estimate  # of those that can be counted; limits by their number, sizes and volume, 95 %
    counted: int  # voids of at least 0.03 mm
    smallest_mm: float  # smallest countable diameter of the photograph

    @property
    def number(self) -> int:
        """The class, from 1 (under 0.03 mm2 per 100 cm3) to 5 (0.50 and more)."""
        return bisect_right(CLASS_LIMITS_MM2, self.area_mm2_per_100cm3.value) + 1

    @property
    def or_worse(self) -> bool:
        """Whether voids that the table counts are too small for the photograph: then the class is 'N or worse'."""
        return not self.smallest_mm <= SMALLEST_COUNTED_MM


def glass_class(
    diameters_mm: ArrayLike, volume_cm3: float, smallest_mm: float, *, err_share: float = 0.0
) -> GlassClass:
    """Return the void cross-section per 100 cm3 of a judged volume, above 0; diameters have the shape (n,).

    `err_share` is the standard uncertainty that diameters and volume leave of it, beside chance in how many voids there
    are.

    >>> glass_class([0.2], 100.0, 0.03).number
    2
    """
    if not volume_cm3 > 0.0:
        raise AssertionError(f"the judged volume is above zero: {volume_cm3} cm3")
    diameters = np.asarray(diameters_mm, np.float64)
    counted = diameters[diameters >= SMALLEST_COUNTED_MM]
    areas = cross_section_mm2(counted)
    total, part = float(np.sum(areas)), float(cross_section_mm2(max(smallest_mm, SMALLEST_COUNTED_MM)))
    low, high = total_interval(total, effective=effective_count(areas), smallest=part, unseen=unseen_factor(counted, 2))
    per_100 = REFERENCE_VOLUME_CM3 / volume_cm3
    area = Estimate(total, low, high).scaled(per_100, factor_err=per_100 * err_share)
    return GlassClass(replace(area, low=max(area.low, 0.0)), len(areas), smallest_mm)


def cross_section_mm2(diameters_mm: ArrayLike) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Return the area of a disc of each diameter, of the shape of `diameters_mm`."""
    return np.asarray(math.pi / 4.0 * np.square(np.asarray(diameters_mm, np.float64)), np.float64)
