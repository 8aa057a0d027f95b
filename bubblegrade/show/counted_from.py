"""Whether counts of several castings compare: only where all were counted from the same size on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bubblegrade.grading.compared import counts_compare
from bubblegrade.show.words import length

if TYPE_CHECKING:
    from bubblegrade.grading_run import Casting


@dataclass(frozen=True)
class CountedFrom:
    """From which diameter on a casting's voids were counted."""

    photo: str
    smallest: float  # in mm, or px without a scale
    unit: str
    words: str


def counted_from(casting: Casting) -> CountedFrom:
    """Return from which diameter on a casting's voids were counted."""
    smallest_px, scale = casting.sizes_px.smallest, casting.void_scale
    factor, unit = (scale.mm_per_px, "mm") if scale else (1.0, "px")
    return CountedFrom(casting.photo, smallest_px * factor, unit, length(smallest_px, casting))


def unlike_counts(castings: Iterable[CountedFrom]) -> list[str]:
    """Return a sentence where castings were not counted from the same size on; those in mm and in px apart."""
    by_unit = defaultdict[str, list[CountedFrom]](list)
    for one in castings:
        by_unit[one.unit].append(one)
    said = []
    for alike in by_unit.values():
        least, most = (pick(alike, key=lambda one: one.smallest) for pick in (min, max))
        if not counts_compare(least.smallest, most.smallest):
            said.append(
                f"Counts do not compare: voids were counted from {least.words} on in {least.photo}, from {most.words} "
                f"on in {most.photo}. Photograph all alike, or compare what voids.csv has from {most.words} on."
            )
    return said
