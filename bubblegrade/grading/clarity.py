"""Clarity: one number from 0 to 100 for how little of the light the voids take, and a plain word for it.

`cover` is the share of the judged area that countable voids cover; `veil` the share of light and fine contrast lost
to voids too small to count; the score of what both take together is that of `score`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from bubblegrade.grading.counting import effective_count, total_interval
from bubblegrade.grading.estimate import NORMAL_95
from bubblegrade.grading.lognormal import unseen_factor
from bubblegrade.grading.score import checked_share, lost_share, score_of_lost
from bubblegrade.settings import GRADES

Grades = tuple[tuple[str, float], ...]
Share = tuple[float, float]  # a share of the light and its standard uncertainty


@dataclass(frozen=True)
class Clarity:
    """A clarity score with its 95 % interval and its word; NaN, and no word, where nothing could be judged."""

    score: float  # 0 to 100
    low: float
    high: float
    cover: float  # shares, [0, 1]
    veil: float
    grades: Grades = GRADES
    cover_err: float = math.nan  # standard uncertainties that the photograph leaves
    veil_err: float = math.nan

    @property
    def lost(self) -> float:
        """The share that cover and veil take together (h)."""
        return lost_share(self.cover, self.veil)

    @property
    def word(self) -> str:
        """The plain word for the score; empty where there is none."""
        return grade_word(self.score, self.grades)

    @property
    def settled(self) -> bool:
        """Whether the whole interval has the same word."""
        return bool(self.word) and grade_word(self.low, self.grades) == grade_word(self.high, self.grades)


def grade_word(score: float, grades: Grades = GRADES) -> str:
    """Return the first word whose least score is reached; the last where none is, and none for NaN.

    >>> grade_word(91.0)
    'sparse'
    """
    if math.isnan(score):
        return ""
    return next((word for word, least in grades if score >= least), grades[-1][0])


def clarity(
    cover: Share,
    veil: Share,
    *,
    diameters: ArrayLike,
    smallest_share: float,
    perhaps: float = 0.0,
    grades: Grades = GRADES,
) -> Clarity:
    """Return the clarity of a casting with its 95 % interval.

    `cover` and `veil` come with the standard uncertainties that the photograph leaves; `diameters` are the voids', (n,)
    in any unit, `smallest_share` is the area of a smallest countable one over the judged area, and `perhaps` the share
    that finds cover which may or may not be voids: it lowers the lower limit alone.

    The interval says what castings of the same pour show on average: besides these it holds the chance in how many
    voids came to lie here, and what lognormal sizes have beyond the largest that so few voids show
    (`lognormal.unseen_factor`). That is a matter of (sum a)^2 / sum a^2 of the voids' areas a
    (`counting.effective_count`), not of the plain count: the relative variance of a sum over a Poisson number of
    voids is sum a^2 / (sum a)^2, so that one large void among a hundred specks counts as little more than one. With
    no countable void, up to 3 of the smallest countable size could be expected (rule of three), so that the interval
    of a spotless photograph still reaches below 100. These parts are added in quadrature, each side for itself.

    Raises
    ------
    AssertionError
        If a share lies outside [0, 1]. NaN stands for what could not be judged and gives a score of NaN.
    """
    (covered, cover_err), (veiled, veil_err) = cover, veil
    lost = lost_share(checked_share(covered), checked_share(veiled))
    sizes = np.asarray(diameters, np.float64)
    effective, unseen = effective_count(sizes**2), unseen_factor(sizes, 2)
    least, most = total_interval(covered, effective=effective, smallest=smallest_share, unseen=unseen)
    noise, haze = NORMAL_95 * cover_err * (1.0 - veiled), NORMAL_95 * veil_err * (1.0 - covered)
    down = math.hypot((covered - least) * (1.0 - veiled), noise, haze)
    up = math.hypot((most - covered) * (1.0 - veiled), noise, haze) + perhaps * (1.0 - veiled)
    return Clarity(
        score=score_of_lost(lost),
        low=score_of_lost(lost + up),
        high=score_of_lost(lost - down),
        cover=covered,
        veil=veiled,
        grades=grades,
        cover_err=cover_err,
        veil_err=veil_err,
    )
