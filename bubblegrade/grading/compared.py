"""Whether the counts of photographs compare: those counted from unlike sizes on count different voids."""

from __future__ import annotations

from typing import Final

SAME_SMALLEST: Final = 1.1  # smallest countable sizes further apart than this count different voids


def counts_compare(least: float, most: float) -> bool:
    """Return whether voids counted from `least` on and from `most` on, in one unit, may be compared.

    Sizes that are not known are not said to be unlike.

    >>> counts_compare(5.0, 5.4), counts_compare(5.0, 6.0), counts_compare(5.0, float("nan"))
    (True, False, True)
    """
    return not most > SAME_SMALLEST * least
