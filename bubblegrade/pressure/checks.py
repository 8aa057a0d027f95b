"""Checks on what the fit takes for granted: that all voids shrink alike, that none are lost, that none are missed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bubblegrade.errors import InputError
from bubblegrade.grading.estimate import UNKNOWN, Estimate
from bubblegrade.pressure.cups import Cup, Floats, gather
from bubblegrade.pressure.likelihood import Layout, maximise
from bubblegrade.pressure.population import seen_share
from bubblegrade.pressure.replicas import Basis
from bubblegrade.pressure.shrinkage import Shrinkage, fit_shrinkage, replicate

RAISED: Final = (1.0, 1.25, 1.5)  # times the smallest countable size; most misses lie below 1.5 times
STEEPEST: Final = 1.0  # of gamma: the spread of sizes growing as the pressure itself; beyond it there is no trend


@dataclass(frozen=True)
class Recut:
    """The exponent with the limit raised."""

    raised: float  # times the smallest countable size
    voids: int  # above the raised limit
    exponent: Estimate  # NaN where too few voids are left


@dataclass(frozen=True)
class Recuts:
    """The exponent at rising limits; small voids that were missed show as a drift."""

    rows: tuple[Recut, ...]
    drift: Estimate  # exponent at the highest limit less that at the lowest; limits NaN where they cannot be told


def spread_trend(fit: Shrinkage) -> Estimate:
    """Return gamma of ln spread = alpha + gamma u: above 0 where some voids do not shrink with the others.

    Pressure shifts ln d and leaves its spread (Boyle). Gas from moisture and voids of shrinkage do not scale, so they
    stay behind and widen it.
    """
    trial, layout = fit.trial, fit.layout
    centred = (trial.log_squeeze - trial.log_squeeze.mean())[:, np.newaxis]
    bent = Layout(
        location=np.hstack([layout.location, 0.0 * centred]),
        log_spread=np.hstack([layout.log_spread, centred]),
        lowest=np.append(layout.lowest, -STEEPEST),
        highest=np.append(layout.highest, STEEPEST),
    )
    found = maximise(trial, bent, np.append(fit.parameters, 0.0), np.ones((1, len(trial.cups))))
    if found.at_bound[0]:
        return UNKNOWN
    parameters = found.parameters[0]
    replicas = replicate(trial, bent, parameters, fit.grouping, spread=fit.assumed_spread)
    return replicas.estimate(float(parameters[-1]), replicas.parameters[:, -1])


def void_trend(fit: Shrinkage) -> Estimate:
    """Return the slope on u of ln of all voids of a cup, seen or not: below 0 where pressure went with fewer voids.

    Counts per judged volume where every cup has one, else per cup. Its limits are NaN where cups are too few to leave
    out: how far cups differ in their number of voids is then unknown. It is a check that voids are kept, and no
    evidence on the exponent.
    """
    trial = fit.trial
    volume = trial.volume_cm3 if np.isfinite(trial.volume_cm3).all() else np.ones(len(trial.cups))
    everything = np.ones((1, len(trial.cups)))
    value = float(_count_slope(fit, fit.parameters[np.newaxis], everything, volume)[0])
    if fit.grouping.basis is Basis.ASSUMED:
        return Estimate(value, math.nan, math.nan)
    slopes = _count_slope(fit, fit.replicas.parameters, fit.replicas.selections, volume)
    return fit.replicas.estimate(value, slopes)


def recut(cups: Sequence[Cup], fit: Shrinkage) -> Recuts:
    """Return the exponent with the cut at 1, 1.25 and 1.5 times the limit, and how it drifts.

    30 % of the voids missed below 1.5 times the limit make the exponent 10 % low at the first cut.
    """
    fits = [fit, *(_refitted(cups, raised, fit) for raised in RAISED[1:])]
    rows = tuple(
        Recut(raised, 0, UNKNOWN) if each is None else Recut(raised, int(each.trial.count.sum()), each.exponent)
        for raised, each in zip(RAISED, fits, strict=True)
    )
    last = fits[-1]
    if last is None:
        return Recuts(rows, UNKNOWN)
    return Recuts(rows, _drift(fit, last))


def _count_slope(fit: Shrinkage, parameters: Floats, selections: Floats, volume: Floats) -> Floats:
    """Return the slope of ln of the cups' voids on u within mixes, for each selection with its parameters."""
    trial = fit.trial
    seen = seen_share(parameters @ fit.layout.location.T, np.exp(parameters[:, -1:]), trial.log_limit)
    logs = np.log(trial.count / volume) - np.log(np.maximum(seen, np.finfo(float).tiny))
    squeeze = np.broadcast_to(trial.log_squeeze, logs.shape)
    member = np.eye(fit.grouping.levels)[fit.grouping.mixes]
    counts = np.maximum(selections @ member, 1.0)
    across, up = (selections * (each - ((selections * each) @ member / counts) @ member.T) for each in (squeeze, logs))
    return np.asarray(np.sum(across * up, axis=1) / np.sum(across**2, axis=1), np.float64)


def _refitted(cups: Sequence[Cup], raised: float, fit: Shrinkage) -> Shrinkage | None:
    """Return the fit with the limit raised; None where too few voids are left for one."""
    try:
        return fit_shrinkage(gather(cups, raised=raised), assumed_spread=fit.assumed_spread)
    except InputError:
        return None


def _drift(first: Shrinkage, last: Shrinkage) -> Estimate:
    """Return by how much the exponent moves from one fit to another of the same cups."""
    value = last.exponent.value - first.exponent.value
    same = len(first.trial.cups) == len(last.trial.cups)
    if not same or Basis.ASSUMED in (first.grouping.basis, last.grouping.basis):
        return Estimate(value, math.nan, math.nan)
    moved = last.replicas.parameters[:, -2] - first.replicas.parameters[:, -2]
    return first.replicas.estimate(value, moved)
