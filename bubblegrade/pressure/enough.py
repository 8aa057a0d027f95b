"""Which pressure is enough: the lowest at which no more than so many visible voids are to be expected.

N(P) = L Phi((m - b u(P) - ln D) / s): of the L voids of a casting, those still larger than D at the pressure P. The
interval is where the 90 % limits of ln N(P) meet the tolerated number. In simulated trials it holds the true pressure
in 89 to 97 of 100, and its upper end is at least that in 94 to 100, also where mixes that differ by 0.15 in ln d were
poured over all pressures and the castings come from others: that end is what to go by.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import log_ndtr, logsumexp, ndtri, stdtrit

from bubblegrade.errors import InputError
from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.atmosphere import HIGHEST_PSIG
from bubblegrade.pressure.cups import Floats
from bubblegrade.pressure.gas import STEP_PSI
from bubblegrade.pressure.population import seen_share
from bubblegrade.pressure.replicas import LEAST_FREEDOM, Basis
from bubblegrade.pressure.shrinkage import Shrinkage
from bubblegrade.pressure.trial_plan import ASSUMED_MIX_SPREAD
from bubblegrade.roots import root
from bubblegrade.units import PSI_KPA, GaugePressure

CONFIDENCE: Final = 0.90
EYE_MINUTES: Final = 1.0  # of arc; what a normal eye resolves (IES definition of normal acuity)
VIEWING_MM: Final = 300.0  # a casting in the hand
USUAL_TABLE_PSIG: Final = 80.0  # the highest that plates of casting pots state (common practice)
_SEARCH_STEP_PSI: Final = 0.5


@dataclass(frozen=True)
class DecisionRow:
    """One pressure of the table."""

    gauge: GaugePressure
    diameter_ratio: float  # to open air, by the fitted exponent
    voids: Estimate  # expected visible voids of one casting, with 90 % limits
    next_gain_share: float  # share of its diameter that a void loses over the next 5 psi, by the fitted exponent


@dataclass(frozen=True)
class Decision:
    """The pressure that is enough; an infinite limit lies above 300 psi gauge."""

    visible_mm: float  # D
    tolerated: float  # expected visible voids that are accepted, per casting
    casting_cm3: float  # NaN: castings are taken to be as large as the cups
    enough_psig: Estimate  # with 90 % limits; 0: open air is enough
    rows: tuple[DecisionRow, ...]  # every 5 psi
    below_limit: bool  # D is smaller than what some photograph can count: the number is extrapolated
    highest_tested_psig: float

    @property
    def recommended_psig(self) -> float:
        """The upper end of the interval; inf where no pressure is known to be enough."""
        return self.enough_psig.high

    @property
    def reachable(self) -> bool:
        """Whether pressure alone can do it at all."""
        return math.isfinite(self.recommended_psig)

    @property
    def beyond_tested(self) -> bool:
        """Whether the recommended pressure is higher than any in the trial."""
        return self.recommended_psig > self.highest_tested_psig


def resolved_mm(distance_mm: float = VIEWING_MM, *, minutes: float = EYE_MINUTES) -> float:
    """Return the smallest diameter that an eye resolves at a distance; a glint shows smaller ones.

    >>> round(resolved_mm(300.0), 6)
    0.087266
    """
    return distance_mm * math.tan(math.radians(minutes / 60.0))


def log_expected(
    log_squeeze: ArrayLike, *, levels: ArrayLike, exponent: ArrayLike, spread: ArrayLike, total: ArrayLike, size: float
) -> Floats:
    """Return ln of the voids larger than `size` that are to be expected at each squeeze.

    Parameters
    ----------
    log_squeeze
        (pressures,): u, the logarithm of the factor by which the gas law divides volumes.
    levels
        (..., mixes): log-medians at open air; the mean over the mixes is returned.
    exponent, spread, total
        (...): one each for every population; `total` is its number of voids.
    size
        D, in the unit of the diameters.

    Returns
    -------
    (..., pressures)

    >>> float(np.exp(log_expected([0.0], levels=[0.0], exponent=1 / 3, spread=0.5, total=100.0, size=1.0))[0].round(9))
    50.0
    """
    middle = np.asarray(levels, np.float64)[..., np.newaxis]
    falls = np.multiply.outer(np.asarray(exponent, np.float64), np.asarray(log_squeeze, np.float64))
    clearance = (middle - falls[..., np.newaxis, :] - math.log(size)) / np.asarray(spread, np.float64)[
        ..., np.newaxis, np.newaxis
    ]
    shares = logsumexp(log_ndtr(clearance), axis=-2) - math.log(middle.shape[-2])
    return np.asarray(shares + np.log(np.asarray(total, np.float64))[..., np.newaxis], np.float64)


def expected_voids(fit: Shrinkage, log_squeeze: float, size: float) -> float:
    """Return how many voids larger than `size` a cup like the others is expected to hold at a squeeze."""
    found = log_expected(
        [log_squeeze], levels=fit.levels, exponent=fit.parameters[-2],
        spread=fit.spread, total=fit.voids_per_cup, size=size,
    )  # fmt: skip
    return float(np.exp(found[0]))


def decide(
    fit: Shrinkage, *, visible_mm: float, tolerated: float, atmosphere_kpa: float, casting_cm3: float | None = None
) -> Decision:
    """Return the pressure at which no more than `tolerated` voids larger than `visible_mm` are to be expected.

    The cups' diameters are in mm. With `casting_cm3` the number is that of a casting of this volume,
    which takes cups of known volume; without, that of a casting like the cups. Castings are taken to warm up until
    gel as the cups did.

    Raises
    ------
    InputError
        `visible_mm` or `tolerated` is not above 0, the cups' volumes are not known, or the voids thin out so slowly
        that they have no population.
    """
    if not (visible_mm > 0.0 and tolerated > 0.0):
        raise InputError(f"{tolerated:g} voids above {visible_mm:g} mm is no target: give a number and a size above 0")
    if fit.at_bound:
        raise InputError(
            "the voids thin out so slowly above the limit that their number below it cannot be told: "
            "photograph the cups from closer"
        )
    volumes = _volumes(fit, casting_cm3)
    psig = np.arange(0.0, HIGHEST_PSIG + _SEARCH_STEP_PSI, _SEARCH_STEP_PSI)
    value, low, high = _curves(fit, psig, (visible_mm, volumes, atmosphere_kpa))
    goal = math.log(tolerated)
    crossings = [_first_below(psig, curve - goal) for curve in (value, low, high)]
    tested = max(cup.gauge_ratio for cup in fit.trial.cups) * atmosphere_kpa / PSI_KPA
    return Decision(
        visible_mm=visible_mm,
        tolerated=tolerated,
        casting_cm3=math.nan if casting_cm3 is None else casting_cm3,
        enough_psig=Estimate(*crossings),
        rows=_rows(fit, tested, (visible_mm, volumes, atmosphere_kpa)),
        below_limit=math.log(visible_mm) < float(fit.trial.log_limit.max()),
        highest_tested_psig=tested,
    )


_Terms = tuple[float, Floats, float]  # visible size, each cup's volume in castings, atmosphere in kPa


def _volumes(fit: Shrinkage, casting_cm3: float | None) -> Floats:
    """Return each cup's volume in castings."""
    volume = fit.trial.volume_cm3
    if casting_cm3 is None:
        return np.ones_like(volume)
    if not casting_cm3 > 0.0:
        raise InputError(f"a casting of {casting_cm3:g} cm3 has no volume: give one above 0")
    if not np.isfinite(volume).all():
        unknown = np.count_nonzero(~np.isfinite(volume))
        raise InputError(
            f"{unknown} of {volume.size} cups have no known volume, so the voids of {casting_cm3:g} cm3 cannot be "
            "told: state the cups' thickness"
        )
    return volume / casting_cm3


def _squeeze(fit: Shrinkage, psig: Floats, atmosphere_kpa: float) -> Floats:
    """Return the u of gauge pressures for castings that warm up as the cups did: by the mean over the cups."""
    warmed = float(np.mean([math.log(cup.warmth) for cup in fit.trial.cups]))
    return np.asarray(np.log1p(psig * PSI_KPA / atmosphere_kpa) - warmed, np.float64)


def _curves(fit: Shrinkage, psig: Floats, terms: _Terms) -> tuple[Floats, Floats, Floats]:
    """Return ln of the expected visible voids at each pressure, and its 90 % limits."""
    visible, volumes, atmosphere_kpa = terms
    squeeze = _squeeze(fit, psig, atmosphere_kpa)

    def expected(parameters: Floats, selections: Floats) -> Floats:
        spread = np.exp(parameters[:, -1])
        seen = seen_share(parameters @ fit.layout.location.T, spread[:, np.newaxis], fit.trial.log_limit)
        total = (selections @ fit.trial.count) / np.sum(selections * seen * volumes, axis=1)
        levels, exponent = parameters[:, :-2], parameters[:, -2]
        return log_expected(squeeze, levels=levels, exponent=exponent, spread=spread, total=total, size=visible)

    value = expected(fit.parameters[np.newaxis], np.ones((1, len(fit.trial.cups))))[0]
    err = fit.replicas.err(expected(fit.replicas.parameters, fit.replicas.selections))
    chance = 1.0 / math.sqrt(max(float(fit.trial.count.sum()), 1.0))  # of no fewer voids is a number known better
    half = fit.replicas.quantile(CONFIDENCE) * np.maximum(np.hypot(err, _count_err(fit, volumes)), chance)
    half = np.hypot(half, _mix_half(fit, squeeze, visible, volumes))
    return value, value - half, value + half


def _mix_half(fit: Shrinkage, squeeze: Floats, visible: float, volumes: Floats) -> Floats:
    """Return half the 90 % interval of ln of the expected voids, (pressures,), that is for the mixes alone.

    Castings are poured of other mixes than the cups were. Where mixes have levels, what they differ by drops out of
    ratios and so of the replicas; of a number it does not. Two mixes are too few to tell it: then it is assumed.
    """
    mixes = fit.grouping.levels
    if mixes == 1:
        return np.zeros_like(squeeze)
    member = fit.grouping.mixes == np.arange(mixes)[:, np.newaxis]

    def expected(levels: Floats, total: Floats) -> Floats:
        of_all = np.ones(len(levels))
        exponent, spread = fit.parameters[-2] * of_all, fit.spread * of_all
        return log_expected(squeeze, levels=levels, exponent=exponent, spread=spread, total=total, size=visible)

    seen = member @ (fit.seen * volumes)
    if not seen.all():
        return np.full_like(squeeze, math.inf)
    each = expected(fit.levels[:, np.newaxis], (member @ fit.trial.count) / seen)
    err = np.std(each, axis=0, ddof=1)
    if mixes > LEAST_FREEDOM:
        quantile = stdtrit(mixes - 1, 0.5 * (1.0 + CONFIDENCE))
    else:
        shifted = ASSUMED_MIX_SPREAD * np.array([[-1.0], [1.0]]) + fit.levels
        less, more = expected(shifted, np.ones(2))
        err, quantile = np.maximum(err, (more - less) / 2.0), ndtri(0.5 * (1.0 + CONFIDENCE))
    return np.asarray(quantile * err / math.sqrt(mixes), np.float64)


def _count_err(fit: Shrinkage, volumes: Floats) -> float:
    """Return the standard error of ln of the voids per casting where the replicas do not hold it: few cups."""
    if fit.grouping.basis is not Basis.ASSUMED:
        return 0.0
    if not fit.seen.all():
        return math.inf  # of some cup's population no share is seen at all
    each = np.log(fit.trial.count / fit.seen / volumes)
    between = float(np.std(each, ddof=1)) / math.sqrt(each.size)
    return max(between, 1.0 / math.sqrt(float(fit.trial.count.sum())))


def _first_below(psig: Floats, excess: Floats) -> float:
    """Return the pressure from which a curve stays at or below 0; inf if it is not known to by the last."""
    above = np.flatnonzero(~(excess <= 0.0))
    if not above.size:
        return 0.0
    last = int(above[-1])
    if last == len(psig) - 1:
        return math.inf
    return root(lambda at: float(np.interp(at, psig, excess)), psig[last], psig[last + 1])


def _rows(fit: Shrinkage, tested_psig: float, terms: _Terms) -> tuple[DecisionRow, ...]:
    """Return the table, up to what pots are rated for or to what was cast at."""
    top = max(USUAL_TABLE_PSIG, tested_psig)
    psig = np.arange(0.0, STEP_PSI * math.ceil(top / STEP_PSI) + STEP_PSI / 2.0, STEP_PSI)
    with np.errstate(over="ignore"):  # an upper limit may have no number
        curves = [np.exp(curve) for curve in _curves(fit, psig, terms)]
    exponent = float(fit.parameters[-2])
    squeeze = _squeeze(fit, np.append(psig, psig[-1] + STEP_PSI), terms[2])
    ratio = np.exp(-exponent * (squeeze - squeeze[0]))
    return tuple(
        DecisionRow(
            gauge=GaugePressure(float(psig[i]) * PSI_KPA),
            diameter_ratio=float(ratio[i]),
            voids=Estimate(*(float(curve[i]) for curve in curves)),
            next_gain_share=float(1.0 - ratio[i + 1] / ratio[i]),
        )
        for i in range(len(psig))
    )
