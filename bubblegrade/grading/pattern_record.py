"""Records of where voids lie: what was asked, what chance would answer, and which cause each answer speaks for."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

Question = Literal["nearest", "pairs", "clusters", "line", "wreath", "wall", "top", "side"]
Cause = Literal["moisture", "air from the pour", "inserts not wetted", "foam", "air at the wall"]

LEAST_VOIDS: Final = 10  # of 8 voids with half of them in one cluster or along the wall, 4 in 10 are missed (measured)
FALSE_ALARMS: Final = 0.05  # of random patterns in which anything at all may be found


@dataclass(frozen=True)
class Place:
    """Voids that stand out together, and where; lengths in px of the photograph."""

    voids: tuple[int, ...]  # their row numbers in the arrays given
    x_px: float  # their middle
    y_px: float
    reach_px: float  # radius of a cluster, half length of a line, width of a band
    expected: float  # voids that random placement puts there
    angle_degrees: float = math.nan  # of a line, from x towards y, in [0, 180)


@dataclass(frozen=True)
class Answer:
    """One question, answered beside random placement; NaN where there are too few voids to tell.

    The value of 'nearest' is the ratio of Clark and Evans: below 1, voids lie nearer together than at random. That of
    every other question is by how many standard deviations the fullest circle, strip or band stands above chance.
    """

    question: Question
    value: float
    expected: float  # mean of random patterns
    spread: float  # their standard deviation
    low: float  # 95 % of random patterns lie between these
    high: float
    p: float
    p_corrected: float  # for all questions asked (Holm)
    simulations: int
    places: tuple[Place, ...]  # empty where nothing was found

    @property
    def known(self) -> bool:
        """Whether there were voids enough to tell."""
        return math.isfinite(self.p)

    @property
    def found(self) -> bool:
        """Whether chance alone is no good answer."""
        return self.p_corrected <= FALSE_ALARMS

    @property
    def strength(self) -> float:
        """By how many of their standard deviations the value stands off the random patterns' mean."""
        return abs(self.value - self.expected) / self.spread if self.spread > 0.0 else math.inf


@dataclass(frozen=True)
class Suspect:
    """A cause that the pattern speaks for."""

    cause: Cause
    sentence: str
    question: Question  # whose answer speaks for it the most
    strength: float  # that answer's
    p_corrected: float
    voids: tuple[int, ...]  # row numbers of those that speak for it


@dataclass(frozen=True)
class Pattern:
    """Where the voids lie."""

    answers: tuple[Answer, ...]  # one for each question asked
    suspects: tuple[Suspect, ...]  # the strongest first; empty where all may be chance
    voids: int  # that were looked at
    left_out: int  # that lie on hardware or outside the judged area

    @property
    def known(self) -> bool:
        """Whether there were at least LEAST_VOIDS voids; with fewer nothing can be told."""
        return any(answer.known for answer in self.answers)
