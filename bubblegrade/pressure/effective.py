"""What the exponent means for the pot and for the next trial: the pressure that arrived, and the cups still needed.

Sizes alone cannot tell half the pressure from another exponent: a trial at half its gauge pressures shows about 0.23.
Only a log of the pressure can.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtri, stdtrit

from bubblegrade.grading.counting import CONFIDENCE
from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.plan import CHANCE, LEAST_MIXES
from bubblegrade.pressure.replicas import Basis
from bubblegrade.pressure.shrinkage import Shrinkage, boyle_exponent_at, variance_from_voids
from bubblegrade.roots import root

HALF_PRESSURE: Final = 0.5  # share of the gauge pressure; the fault that a trial should be able to show
MOST_SHARE: Final = 50.0  # of the gauge pressure; beyond it the trial sets no upper limit
ALMOST_VACUUM: Final = 0.999  # of the atmosphere taken away, where cups gelled below it
MOST_CUPS: Final = 1000  # of a trial; beyond it nobody casts


@dataclass(frozen=True)
class Needed:
    """What would make the interval narrow enough, everything else staying as it was."""

    half_width: float  # of the exponent's 95 % interval: what is aimed at
    cups_per_setting: int | None  # None: more than anybody casts
    mixes: int  # to pour over all settings
    voids_per_cup: int | None  # with the cups as they are; None: as many as now, or no number, does it, or unknown


def effective_share(fit: Shrinkage) -> Estimate:
    """Return the share of the gauge pressure with which Boyle's law gives the exponent; 0 where voids did not shrink.

    A limit is infinite where no pressure would shrink voids that much. By construction it holds 1 exactly where the
    exponent's interval holds Boyle's 1/3.
    """
    exponent = fit.exponent
    value, low, high = (_share_of(fit, each) for each in (exponent.value, exponent.low, exponent.high))
    return Estimate(value, low, high)


def telling_half_width(fit: Shrinkage) -> float:
    """Return half the exponent's interval with which half the pressure is told from Boyle's law 9 times in 10."""
    distance = BOYLE_EXPONENT - boyle_exponent_at(fit, HALF_PRESSURE)
    two_sided = float(ndtri(0.5 * (1.0 + CONFIDENCE)))
    return distance * two_sided / (two_sided + float(ndtri(CHANCE)))


def needed(fit: Shrinkage, half_width: float, *, cast: int) -> Needed:
    """Return how many more cups than were `cast`, or else voids, narrow half the exponent's interval to `half_width`.

    The spread between the cups is taken as it came out, or as it was assumed, and as many of them to come out empty.
    """
    variance = fit.exponent_err**2
    from_voids = min(variance_from_voids(fit), variance)
    settings, levels = len(fit.trial.settings), fit.grouping.levels
    whole = LEAST_MIXES if fit.grouping.basis is Basis.ASSUMED else 1  # each mix fills as many cups at every setting
    cups = None
    for per_setting in range(whole * (cast // settings // whole + 1), MOST_CUPS // settings + 1, whole):
        count = per_setting * settings
        reach = float(stdtrit(max(count - levels - 1, 1), 0.5 * (1.0 + CONFIDENCE)))
        if reach * math.sqrt(variance * cast / count) <= half_width:
            cups = per_setting
            break
    return Needed(half_width, cups, LEAST_MIXES, _voids_needed(fit, variance - from_voids, from_voids, half_width))


def _voids_needed(fit: Shrinkage, between: float, from_voids: float, half_width: float) -> int | None:
    """Return how many voids a cup should show; None where as many as now, or no number, would do it."""
    left = (half_width / fit.replicas.quantile()) ** 2 - between
    if not 0.0 < left < from_voids or fit.grouping.basis is Basis.ASSUMED:
        return None
    return math.ceil(float(np.mean(fit.trial.count)) * from_voids / left)


def spread_to_agree(fit: Shrinkage) -> float:
    """Return the spread of ln d from cup to cup from which on the exponent's interval would hold Boyle's 1/3; 0: any.

    Only for trials whose interval rests on an assumed spread.
    """
    inside = fit.grouping.groups[:, np.newaxis] == np.unique(fit.grouping.groups)
    answer = float(np.sum((fit.influence @ inside) ** 2))
    distance = abs(float(fit.parameters[-2]) - BOYLE_EXPONENT) / fit.replicas.quantile()
    return math.sqrt(max(distance**2 - variance_from_voids(fit), 0.0) / answer)


def _share_of(fit: Shrinkage, exponent: float) -> float:
    """Return the share of the gauge pressure that shows as `exponent`."""
    lowest = min(cup.gauge_ratio for cup in fit.trial.cups)
    most = MOST_SHARE if lowest >= 0.0 else min(MOST_SHARE, ALMOST_VACUUM / -lowest)
    if exponent <= boyle_exponent_at(fit, 0.0):
        return 0.0
    if exponent >= boyle_exponent_at(fit, most):
        return math.inf
    return root(lambda share: boyle_exponent_at(fit, share) - exponent, 0.0, most, off=1e-10)
