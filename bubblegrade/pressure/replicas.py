"""How sure a fit is: replicas of its parameters that every derived number is put through.

Cups differ by more than their voids tell: by how they were stirred, poured and left. So the fit is repeated without
one cup at a time (the jackknife), or without one mix at a time where mixes stand at one pressure each. Simulated
with cups that differ by 0.05 and 0.15 in ln d, its 95 % interval holds the truth 92 to 96 times in 100; one from the
voids alone holds it 38 to 77 times.

Where too few cups are there to leave one out, the cups' spread is assumed, and the answer is worth no more than that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.special import ndtri, stdtrit

from bubblegrade.grading.counting import CONFIDENCE
from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.cups import Floats, Indices, Trial
from bubblegrade.pressure.likelihood import Layout, information, maximise

ASSUMED_CUP_SPREAD: Final = 0.05  # of ln d from cup to cup; what careful stirring and one mix leave (assumed)
LEAST_FREEDOM: Final = 2  # with one degree of freedom the interval is 13 standard errors to each side
CROSSED_SHARE: Final = 0.5  # of the pressures' spread inside mixes, from which each mix gets a level of its own


class Basis(StrEnum):
    """What an interval rests on."""

    CUPS = "cups"  # left out one by one
    MIXES = "mixes"  # left out one by one
    MEASURED = "measured"  # the voids, widened by one spread that all the trial's cups, or mixes, show
    ASSUMED = "assumed"  # the voids, widened by an assumed spread from cup to cup, or from mix to mix


@dataclass(frozen=True, eq=False)
class Grouping:
    """Which cups stand or fall together, and whether each mix has a level of its own."""

    basis: Basis
    groups: Indices  # (cups,): the group that is left out as one
    mixes: Indices  # (cups,): the mix whose level the cup shares; all 0 where there is one level
    freedom: float  # degrees of freedom of Student's t; inf where the spread is assumed

    @property
    def levels(self) -> int:
        """Number of levels."""
        return int(self.mixes.max()) + 1


@dataclass(frozen=True, eq=False)
class Replicas:
    """Parameters as they might also have come out; variance = factor times the sum of squares around their mean."""

    parameters: Floats  # (replicas, parameters)
    selections: Floats  # (replicas, cups): which cups each is made of
    factor: float
    freedom: float

    def err(self, derived: Floats) -> Floats:
        """Return the standard error of a number derived from each replica, (replicas, ...) -> (...)."""
        return np.asarray(np.sqrt(self.factor * np.sum((derived - derived.mean(axis=0)) ** 2, axis=0)), np.float64)

    def quantile(self, confidence: float = CONFIDENCE) -> float:
        """Return the number of standard errors to each side that hold the truth with this confidence."""
        tail = 0.5 * (1.0 + confidence)
        return float(ndtri(tail) if math.isinf(self.freedom) else stdtrit(self.freedom, tail))

    def estimate(self, value: float, derived: Floats, *, confidence: float = CONFIDENCE) -> Estimate:
        """Return a derived number with its interval; `derived` is the number from each replica, (replicas,)."""
        half = self.quantile(confidence) * float(self.err(derived))
        return Estimate(value, value - half, value + half)


def group(trial: Trial) -> Grouping:
    """Return how to leave cups out.

    Mixes that stand at several pressures get a level each, and cups are left out; what mixes differ by then drops
    out of every ratio. (Leaving out whole mixes there, of which there are few, holds the truth as often only with
    Student's t for the mixes, and its interval is then twice as wide: simulated.) Mixes that stand at one pressure
    each are left out whole. One mix, or none named: cups.
    """
    count = len(trial.cups)
    single = np.zeros(count, np.int64)
    each = np.arange(count)
    mixes = trial.mix
    kinds = int(mixes.max()) + 1
    if kinds in (1, count):
        return _usable(trial, Grouping(Basis.CUPS, each, single, count - 2.0))
    within = _residual(trial.log_squeeze, mixes)
    all_over = trial.log_squeeze - trial.log_squeeze.mean()
    if np.sum(within**2) >= CROSSED_SHARE * np.sum(all_over**2):
        return _usable(trial, Grouping(Basis.CUPS, each, mixes, count - kinds - 1.0))
    return _usable(trial, Grouping(Basis.MIXES, mixes, single, kinds - 2.0))


def leave_one_out(groups: Indices) -> Floats:
    """Return the selections of all groups but one, (groups, cups)."""
    return np.asarray(groups[np.newaxis] != np.unique(groups)[:, np.newaxis], np.float64)


def jackknife(trial: Trial, layout: Layout, parameters: Floats, grouping: Grouping) -> Replicas:
    """Return the fits without one group at a time, from the parameters of all cups, (parameters,)."""
    selections = leave_one_out(grouping.groups)
    found = maximise(trial, layout, parameters, selections)
    count = len(selections)
    return Replicas(found.parameters, selections, (count - 1) / count, grouping.freedom)


def assumed(
    trial: Trial, layout: Layout, parameters: Floats, groups: Indices, *, spread: float, freedom: float = math.inf
) -> Replicas:
    """Return replicas that scatter as the voids say and as groups that differ by `spread` in ln d would make them.

    One pair for each principal axis of the parameters' covariance, a standard deviation to either side.
    """
    known, answer = information(trial, layout, parameters)
    inverse = np.linalg.pinv(known, hermitian=True)
    members = groups[:, np.newaxis] == np.unique(groups)
    shift = inverse @ answer @ members
    variances, axes = np.linalg.eigh(inverse + spread**2 * shift @ shift.T)
    steps = (axes * np.sqrt(np.maximum(variances, 0.0))).T
    pairs = np.concatenate([parameters + steps, parameters - steps])
    return Replicas(pairs, np.ones((len(pairs), len(trial.cups))), 0.5, freedom)


def as_photographed(replicas: Replicas, trial: Trial, layout: Layout, parameters: Floats) -> Replicas:
    """Return the replicas with a pair more for each setting: all its photographs make sizes larger, or smaller.

    Photographs of one setting are mostly taken in one way, so that leaving out a cup does not show what blur, motion or
    steep tones do to all of them.
    """
    if not trial.size_err.any():
        return replicas
    known, answer = information(trial, layout, parameters)
    members = (trial.setting[:, np.newaxis] == np.arange(len(trial.settings))) * trial.size_err[:, np.newaxis]
    shift = (np.linalg.pinv(known, hermitian=True) @ answer @ members).T / math.sqrt(2.0 * replicas.factor)
    pairs = np.concatenate([parameters + shift, parameters - shift])
    return replace(
        replicas,
        parameters=np.concatenate([replicas.parameters, pairs]),
        selections=np.concatenate([replicas.selections, np.ones((len(pairs), len(trial.cups)))]),
    )


def influence(trial: Trial, layout: Layout, parameters: Floats, wanted: Floats) -> Floats:
    """Return by how much a derived number, `wanted` @ parameters, moves with each cup's log-median, (cups,)."""
    known, answer = information(trial, layout, parameters)
    return np.asarray(wanted @ np.linalg.pinv(known, hermitian=True) @ answer, np.float64)


def _usable(trial: Trial, grouping: Grouping) -> Grouping:
    """Return the grouping, or the same with an assumed spread where leaving one out leaves no answer."""
    kept = leave_one_out(grouping.groups).astype(bool)
    answers = all(np.ptp(_residual(trial.log_squeeze[k], grouping.mixes[k])) > 0.0 for k in kept if k.any())
    if grouping.freedom >= LEAST_FREEDOM and answers and len(kept) > LEAST_FREEDOM:
        return grouping
    return Grouping(Basis.ASSUMED, grouping.groups, grouping.mixes, math.inf)


def _residual(values: Floats, mixes: Indices) -> Floats:
    """Return each value's distance from the mean of its mix."""
    sums = np.bincount(mixes, weights=values)
    counts = np.maximum(np.bincount(mixes), 1)
    return np.asarray(np.round(values - (sums / counts)[mixes], 12), np.float64)
