"""Cups that do not belong where they stand: two that changed places, or one that is unlike all others.

Each cup's log-median is held against the line of the fit, with the chance of its voids and an assumed spread from cup
to cup for its weight. Of 100 simulated trials of 10 to 15 cups, two that changed places between 0 and 45 psi are named
in 95, one that stood open among those at 60 psi in 88 or more, and a cup of a trial without a fault in about one.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.special import stdtr

from bubblegrade.pressure.cups import Floats
from bubblegrade.pressure.replicas import ASSUMED_CUP_SPREAD
from bubblegrade.pressure.shrinkage import Shrinkage, cup_distances

LEFT_BY_SWAP: Final = 0.25  # of the squared distances from the line, which two cups that change places leave at most
LEAST_MISFIT: Final = 2.0  # times the squared distances that the weights stand for; below it no cup is misplaced
LEAST_CHANCE: Final = 0.005  # that the cup farthest off a line lies as far off as this one
LEAST_FREEDOM: Final = 6  # of the line; fewer cups fall into order by chance


def changed_places(fit: Shrinkage) -> tuple[int, int] | None:
    """Return the two cups that lie on the line if each stood at the other's pressure; None without such a pair."""
    weighted, level, free = _weighted(fit)
    if free < LEAST_FREEDOM:
        return None
    count, squeeze = len(fit.trial.cups), fit.trial.log_squeeze
    one, other = np.nonzero(np.less.outer(fit.trial.setting, fit.trial.setting))
    swapped = np.tile(squeeze, (len(one), 1))
    rows = np.arange(len(one))
    swapped[rows, one], swapped[rows, other] = squeeze[other], squeeze[one]
    roots = np.sqrt(weighted)
    off_level = np.eye(count) - level
    medians = off_level @ (roots * _log_medians(fit))
    rests, (rest,) = (_rest(medians, (each * roots) @ off_level) for each in (swapped, squeeze[np.newaxis]))
    best = int(np.argmin(rests))
    told = rest > LEAST_MISFIT * free and rests[best] < LEFT_BY_SWAP * rest
    return (int(one[best]), int(other[best])) if told else None


def standing_out(fit: Shrinkage) -> int | None:
    """Return the cup that lies farther off the line of all others than chance puts the farthest; None without one."""
    weighted, level, free = _weighted(fit)
    if free < LEAST_FREEDOM:
        return None
    roots, count = np.sqrt(weighted), len(fit.trial.cups)
    along = (np.eye(count) - level) @ (roots * fit.trial.log_squeeze)
    hat = level + np.outer(along, along) / (along @ along)
    off = roots * _log_medians(fit) - hat @ (roots * _log_medians(fit))
    without = off**2 / np.maximum(1.0 - np.diag(hat), np.finfo(float).eps)
    rest = np.maximum(float(off @ off) - without, np.finfo(float).tiny)
    farthest = int(np.argmax(without))
    t = float(np.sqrt(without[farthest] / (rest[farthest] / (free - 1))))
    return farthest if 2.0 * count * float(stdtr(free - 1, -t)) < LEAST_CHANCE else None


def _weighted(fit: Shrinkage) -> tuple[Floats, Floats, int]:
    """Return the cups' weights, what takes weighted values to levels of mixes, and the line's degrees of freedom."""
    _, known = cup_distances(fit.trial, fit.log_median, fit.spread)
    weights = 1.0 / (ASSUMED_CUP_SPREAD**2 + 1.0 / known)
    member = np.eye(fit.grouping.levels)[fit.grouping.mixes] * np.sqrt(weights)[:, np.newaxis]
    level = member @ np.linalg.pinv(member)
    return weights, np.asarray(level, np.float64), len(weights) - fit.grouping.levels - 1


def _log_medians(fit: Shrinkage) -> Floats:
    """Return each cup's log-median by its own voids, (cups,)."""
    return fit.log_median + cup_distances(fit.trial, fit.log_median, fit.spread)[0]


def _rest(medians: Floats, squeezes: Floats) -> Floats:
    """Return the squared distances that a line leaves for each of `squeezes`, (lines, cups)."""
    along = np.sum(squeezes**2, axis=1)
    return np.asarray(medians @ medians - (squeezes @ medians) ** 2 / np.where(along > 0.0, along, np.inf), np.float64)
