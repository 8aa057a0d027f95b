"""Numbers as people read them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from bubblegrade.grading.clarity import Clarity
    from bubblegrade.grading_run import Casting

MM2_PER_CM2: Final = 100.0
DIGITS: Final = 3  # significant digits of a length or an area
MOST_RUNS: Final = 4  # of numbers that are named; of more the rest is counted


def rounded(value: float, digits: int = DIGITS) -> str:
    """Return a number with `digits` significant digits and no exponent; a dash where there is none.

    >>> rounded(0.6002), rounded(14.0), rounded(5031.0), rounded(float("nan"))
    ('0.600', '14.0', '5031', '-')
    """
    if not math.isfinite(value):
        return "-"
    if value == 0.0:
        return "0"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"


def percent(share: float, *, decimals: int = 0) -> str:
    """Return a share in percent; one that is not quite 0 or 1 is never shown as such.

    >>> percent(0.31), percent(0.999), percent(0.001), percent(1.0)
    ('31 %', 'over 99 %', 'under 1 %', '100 %')
    >>> percent(0.5816, decimals=1), percent(0.9999, decimals=1), percent(1.0, decimals=1)
    ('58.2 %', 'over 99.9 %', '100 %')
    """
    if not math.isfinite(share):
        return "-"
    if share in (0.0, 1.0):
        return f"{100.0 * share:.0f} %"
    text, step = f"{100.0 * share:.{decimals}f} %", 10.0**-decimals
    if text == f"{0.0:.{decimals}f} %" and share > 0.0:
        return f"under {step:g} %"
    return f"over {100.0 - step:g} %" if text == f"{100.0:.{decimals}f} %" and share < 1.0 else text


def length(value_px: float, casting: Casting) -> str:
    """Return a void's length in mm, or in px where the casting has no scale; a dash where there is none."""
    if not math.isfinite(value_px):
        return "-"
    return f"{rounded(value_px * casting.void_scale.mm_per_px)} mm" if casting.void_scale else f"{rounded(value_px)} px"


def area(area_px: float, casting: Casting) -> str:
    """Return an area in cm2, or in px where the casting has no scale."""
    if casting.scale is None:
        return f"{area_px:.0f} px"
    return f"{rounded(area_px * casting.scale.mm_per_px**2 / MM2_PER_CM2)} cm2"


def score(clarity: Clarity) -> str:
    """Return the clarity's score with its interval; a dash where nothing could be judged.

    A score that rounding would carry to where a better word begins keeps a decimal.
    """
    if math.isnan(clarity.score):
        return "-"
    whole = round(clarity.score)
    carried = whole > clarity.score and any(clarity.score < least <= whole for _, least in clarity.grades)
    shown = f"{min(round(clarity.score, 1), whole - 0.1):.1f}" if carried else str(whole)
    return f"{shown} ({clarity.low:.0f} to {clarity.high:.0f})"


def left_out_share(casting: Casting) -> float:
    """Return the share of the casting that was not judged."""
    left_out = sum(part.area_px for part in casting.not_judged)
    return left_out / (casting.judged_area_px + left_out) if left_out else 0.0


def castings_were(numbers: Sequence[int]) -> str:
    """Return castings in words, with the verb.

    >>> castings_were([4]), castings_were([1, 2, 3, 7])
    ('casting 4 was', 'castings 1 to 3, 7 were')
    """
    return f"{numbered('casting', numbers)} {'was' if len(numbers) == 1 else 'were'}"


def numbered(what: str, numbers: Sequence[int]) -> str:
    """Return some of many things by their numbers, in words.

    >>> numbered("line", [4]), numbered("line", [1, 2, 3, 7])
    ('line 4', 'lines 1 to 3, 7')
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    named = [str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs[:MOST_RUNS]]
    left = sum(len(run) for run in runs[MOST_RUNS:])
    rest = f" and {left} more" if left else ""
    return f"{what}{'' if len(numbers) == 1 else 's'} {', '.join(named)}{rest}"
