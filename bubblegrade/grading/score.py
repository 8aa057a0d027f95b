"""The scale of clarity: from the share that voids take to a score from 0 to 100, and back.

    score = 100 (1 - h) / (1 + 98 h),   h = 1 - (1 - cover)(1 - veil)

Nothing lost is 100, 1 % lost is 50, all lost is 0.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEEPNESS: Final = 98.0  # makes a loss of 1 % score 50: 0.99 / (1 + 98 x 0.01) = 1/2


def lost_share(cover: float, veil: float) -> float:
    """Return what cover and veil take together, each a share of what the other leaves.

    >>> lost_share(0.5, 0.5)
    0.75
    """
    return cover + veil - cover * veil


def clarity_score(cover: float, veil: float) -> float:
    """Return the score of the module's formula for two shares in [0, 1]; it falls as either grows.

    >>> clarity_score(0.0, 0.0), round(clarity_score(0.01, 0.0), 6), clarity_score(1.0, 0.0)
    (100.0, 50.0, 0.0)
    """
    return score_of_lost(lost_share(checked_share(cover), checked_share(veil)))


def lost_of_score(score: Floats) -> Floats:
    """Return the shares lost that have these scores, 0 to 100: the module's formula turned round.

    >>> lost_of_score(np.array([100.0, 50.0, 0.0])).tolist()
    [0.0, 0.01, 1.0]
    """
    return (100.0 - score) / (100.0 + STEEPNESS * score)


def score_of_lost(lost: float) -> float:
    """Return the score of a loss, which is held to [0, 1]."""
    if math.isnan(lost):
        return math.nan
    held = min(max(lost, 0.0), 1.0)
    return 100.0 * (1.0 - held) / (1.0 + STEEPNESS * held)


def checked_share(share: float) -> float:
    """Return a share, which lies in [0, 1] or is NaN."""
    if share < 0.0 or share > 1.0:
        raise AssertionError(f"a share lies between 0 and 1: {share}")
    return share
