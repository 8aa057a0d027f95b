"""Acceptance sampling of a batch: single sampling plans for normal inspection after ISO 2859-1, and what they tell.

The plan says how many pieces to draw at random and how many of them may fail. Its operating curve says how likely a
batch of a given quality passes: that, and no more, is what a passed sample promises.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from bubblegrade.errors import InputError
from bubblegrade.units import count_of

Floats = NDArray[np.float64]

# ISO 2859-1:1999 table 1, general inspection level II, from memory; F for lots of 91 to 150 is checked against a
# published table.
LOTS_UP_TO: Final = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000)
LETTERS: Final = "ABCDEFGHJKL"
# Table 2-A, from memory: sample sizes by letter; for each quality limit the letter whose plan accepts no failure.
SIZES: Final = dict(zip("ABCDEFGHJKLMN", (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500), strict=True))
NONE_ACCEPTED: Final = {
    0.1: "K",
    0.15: "J",
    0.25: "H",
    0.4: "G",
    0.65: "F",
    1.0: "E",
    1.5: "D",
    2.5: "C",
    4.0: "B",
    6.5: "A",
}
# The acceptance numbers from that letter on. None is an arrow: the second letter sends up to the first, the third down.
NUMBERS: Final = (0, None, None, 1, 2, 3, 5, 7, 10, 14, 21)


@dataclass(frozen=True)
class SamplingPlan:
    """How many pieces of a batch to draw, and how many of them may fail."""

    lot: int
    draw: int
    accept: int  # this many failures are accepted, one more refuses the batch
    letter: str  # code letter of the plan
    all_drawn: bool  # the plan asks for at least the whole batch: every piece is inspected


def sampling_plan(lot: int, quality_limit_percent: float) -> SamplingPlan:
    """Return the single sampling plan of a batch for normal inspection, general level II.

    Parameters
    ----------
    lot
        Pieces in the batch.
    quality_limit_percent
        The acceptance quality limit (AQL), one of the standard's, 0.1 to 6.5.

    Raises
    ------
    InputError
        The batch is of one piece or more than 10,000, or the limit is not of the standard.

    >>> sampling_plan(100, 1.0)
    SamplingPlan(lot=100, draw=13, accept=0, letter='E', all_drawn=False)
    """
    if not 2 <= lot <= LOTS_UP_TO[-1]:  # noqa: PLR2004
        raise InputError(f"a batch of {count_of(lot, 'piece')} has no sampling plan: give 2 to {LOTS_UP_TO[-1]} pieces")
    if quality_limit_percent not in NONE_ACCEPTED:
        offered = ", ".join(f"{limit:g}" for limit in NONE_ACCEPTED)
        raise InputError(f"{quality_limit_percent:g} % is no quality limit of ISO 2859-1: use one of {offered}")
    asked = code_letter(lot)
    letters = "".join(SIZES)
    first = letters.index(NONE_ACCEPTED[quality_limit_percent])
    step = min(max(letters.index(asked) - first, 0), len(NUMBERS) - 1)
    step = {1: 0, 2: 3}.get(step, step)
    letter = letters[min(first + step, len(letters) - 1)]
    number = NUMBERS[letters.index(letter) - first]
    assert number is not None  # noqa: S101 - arrows were followed
    size = SIZES[letter]
    return SamplingPlan(lot=lot, draw=min(size, lot), accept=number, letter=letter, all_drawn=size >= lot)


def code_letter(lot: int) -> str:
    """Return the sample size code letter of a batch, ISO 2859-1 table 1.

    >>> code_letter(100)
    'F'
    """
    return LETTERS[int(np.searchsorted(LOTS_UP_TO, lot))]


def pass_probability(plan: SamplingPlan, failing: ArrayLike) -> Floats:
    """Return how likely the batch passes if so many of its pieces would fail: its operating curve, of whole pieces.

    Pieces are drawn without putting any back (hypergeometric law): of a small batch the draw sees far more than a
    draw of as many pieces from a long run does. Broken numbers lie on the straight line between their neighbours.

    >>> pass_probability(sampling_plan(100, 1.0), [1, 5]).round(4).tolist()
    [0.87, 0.4908]
    """
    bad, found = np.arange(plan.lot + 1.0)[:, None], np.arange(plan.accept + 1)
    good, sound = plan.lot - bad, plan.draw - found
    can = (found <= bad) & (sound <= good) & (sound >= 0)
    chances = _log_ways(bad, np.where(can, found, 0)) + _log_ways(good, np.where(can, sound, 0))
    chances -= _log_ways(np.float64(plan.lot), np.asarray(plan.draw))
    of_whole = np.minimum(np.where(can, np.exp(chances), 0.0).sum(axis=-1), 1.0)
    return np.asarray(np.interp(np.asarray(failing, np.float64), bad[:, 0], of_whole), np.float64)


def fewest_failing(plan: SamplingPlan, probability: float) -> int:
    """Return the fewest failing pieces with which the batch passes with no more than a probability.

    >>> fewest_failing(sampling_plan(100, 1.0), 0.10)
    16
    """
    return int(np.argmax(pass_probability(plan, np.arange(plan.lot + 1)) <= probability))


def _log_ways(of: ArrayLike, taken: ArrayLike) -> Floats:
    """Return the logarithm of the number of ways to take some of so many."""
    whole, part = np.asarray(of, np.float64), np.asarray(taken, np.float64)
    return np.asarray(-np.log(whole + 1) - special.betaln(whole - part + 1, part + 1), np.float64)
