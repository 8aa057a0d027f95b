"""Each setting for itself: its diameters over those of the reference, beside Boyle's and beside the ratio of means.

Here no exponent joins the settings: each has a log-median of its own, with one spread for all and a level for each mix
where mixes stand at several pressures. The reference is the lowest setting, open air if there is one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc

from bubblegrade.grading.estimate import UNKNOWN, Estimate
from bubblegrade.pressure.cups import Floats, Trial
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.likelihood import Layout, maximise, one_spread
from bubblegrade.pressure.population import LEAST_SEEN_SHARE, mean_power
from bubblegrade.pressure.replicas import LEAST_FREEDOM, Basis, Grouping, Replicas, as_photographed, assumed
from bubblegrade.pressure.shrinkage import Shrinkage, spread_around

NAIVE_WORDS: Final = (
    "The mean of the voids seen falls too little under pressure: those that shrink below the smallest countable size "
    "drop out of it."
)
LINE_PARAMETERS: Final = 2  # a level and an exponent
_ESTIMABLE: Final = 1e-6  # how far a contrast may lie outside what the cups inform on

_LARGEST_LOG: Final = 700.0  # of a number that can be told


@dataclass(frozen=True)
class SettingRow:
    """One setting against the reference; ratios are to the reference's sizes."""

    name: str
    cups: int
    voids: int  # above the limit
    gauge_ratio: float  # gauge pressure over the atmosphere, mean over the cups
    log_squeeze: float  # u, mean over the cups
    warmth: float  # kelvin at gel over kelvin at closing, mean over the cups
    seen_share: float  # of its voids, those above the limit, by the fit over all settings
    log_median: Estimate  # ln of the median diameter of all its voids, seen or not, over the mixes
    log_ratio: Estimate  # ln of the diameter ratio; NaN where the cups cannot tell it
    boyle_log_ratio: float
    naive_ratio: float  # ratio of the mean diameters seen
    naive_expected: float  # what that ratio is when the fitted population is cut at the limits
    basis: Basis  # what the interval rests on
    reference_squeeze: float  # u of the reference

    @property
    def diameter_ratio(self) -> Estimate:
        """Measured diameter ratio."""
        return _powers(self.log_ratio, 1.0)

    @property
    def median(self) -> Estimate:
        """Median diameter of all its voids, in the unit of the cups' diameters."""
        return _powers(self.log_median, 1.0)

    @property
    def volume_ratio(self) -> Estimate:
        """Measured volume ratio."""
        return _powers(self.log_ratio, 3.0)

    @property
    def boyle_diameter_ratio(self) -> float:
        """Diameter ratio by the gas law."""
        return math.exp(self.boyle_log_ratio)

    @property
    def boyle_volume_ratio(self) -> float:
        """Volume ratio by the gas law."""
        return math.exp(3.0 * self.boyle_log_ratio)

    @property
    def naive_off(self) -> float:
        """By which share the ratio of the means seen exceeds the measured ratio."""
        return _exp(math.log(self.naive_ratio) - self.log_ratio.value) - 1.0

    @property
    def is_reference(self) -> bool:
        """Whether the other settings are compared with this one."""
        return self.boyle_log_ratio == 0.0 and self.log_ratio == Estimate(0.0, 0.0, 0.0)

    @property
    def extrapolated(self) -> bool:
        """Whether more than half of its voids lie below the limit."""
        return self.seen_share < LEAST_SEEN_SHARE

    @property
    def exponent(self) -> Estimate:
        """The exponent that this setting alone would give."""
        reach = self.reference_squeeze - self.log_squeeze
        return UNKNOWN if reach == 0.0 else Estimate(*sorted_around(self.log_ratio, 1.0 / reach))

    @property
    def effective_gauge_ratio(self) -> Estimate:
        """The gauge pressure over the atmosphere that the voids report, if Boyle's law holds: P_eff / P_atm - 1."""
        value, low, high = sorted_around(self.log_ratio, -3.0)
        base = self.reference_squeeze + math.log(self.warmth)
        return Estimate(*(_exp(base + each) - 1.0 for each in (value, low, high)))

    @property
    def effective_share(self) -> Estimate:
        """The same as a share of the gauge pressure; NaN at open air."""
        if self.gauge_ratio == 0.0:
            return UNKNOWN
        return Estimate(*sorted_around(self.effective_gauge_ratio, 1.0 / self.gauge_ratio))


def sorted_around(estimate: Estimate, factor: float) -> tuple[float, float, float]:
    """Return value, lower and upper limit of an estimate times a factor of either sign.

    >>> sorted_around(Estimate(1.0, 0.5, 2.0), -2.0)
    (-2.0, -4.0, -1.0)
    """
    limits = (estimate.low * factor, estimate.high * factor)
    return estimate.value * factor, min(limits), max(limits)


def by_setting(fit: Shrinkage) -> tuple[SettingRow, ...]:
    """Return a row for each setting, from the lowest pressure on."""
    trial = fit.trial
    layout, parameters = settings_alone(fit)
    pooled = _pooled(fit, layout, parameters)
    rows = []
    for i in range(len(trial.settings)):
        median = np.zeros(parameters.size)
        median[i] = 1.0
        contrast = median.copy()
        contrast[trial.reference] -= 1.0
        median[len(trial.settings) : -1] = 1.0 / fit.grouping.levels
        log_median, _ = _contrasted(fit, layout, median, parameters, pooled)
        log_ratio, basis = _contrasted(fit, layout, contrast, parameters, pooled)
        rows.append(_row(fit, i, log_median, (log_ratio, basis)))
    return tuple(rows)


def settings_alone(fit: Shrinkage) -> tuple[Layout, Floats]:
    """Return the layout without an exponent and its parameters: the settings' log-medians, mixes' levels, ln spread."""
    layout = _layout(fit.trial, fit.grouping)
    start = np.concatenate([*_start(fit), [math.log(fit.spread)]])
    return layout, maximise(fit.trial, layout, start, np.ones((1, len(fit.trial.cups)))).parameters[0]


def chance_of_line(fit: Shrinkage) -> float:
    """Return the chance that settings on one exponent's line come out as far off it as these; 1 where it is not known.

    An F-test against the spread of cups inside settings, so it takes several cups at settings, of which there are three
    at least. Voids of few cups make it cautious: of trials on the line at most 1 in 100 come out below 0.01.
    """
    trial = fit.trial
    settings, (layout, parameters) = len(trial.settings), settings_alone(fit)
    if settings <= LINE_PARAMETERS or not _freedom_inside(fit, parameters):
        return 1.0
    pooled = _pooled(fit, layout, parameters)
    off = (pooled.parameters - pooled.parameters.mean(axis=0))[:, :settings]
    weights = np.linalg.pinv(pooled.factor * off.T @ off, hermitian=True)
    squeeze = np.bincount(trial.setting, weights=trial.log_squeeze) / np.bincount(trial.setting)
    line = np.column_stack([np.ones(settings), squeeze])
    medians = parameters[:settings]
    rest = medians - line @ (np.linalg.pinv(line.T @ weights @ line, hermitian=True) @ line.T @ weights @ medians)
    free = settings - LINE_PARAMETERS
    return float(fdtrc(free, pooled.freedom, max(float(rest @ weights @ rest), 0.0) / free))


def _layout(trial: Trial, grouping: Grouping) -> Layout:
    """Return a log-median for each setting, a level for each mix but the first, and one ln spread."""
    settings = np.eye(len(trial.settings))[trial.setting]
    levels = np.eye(grouping.levels)[grouping.mixes][:, 1:]
    nothing = np.zeros((len(trial.cups), 1))
    return one_spread(np.hstack([settings, levels, nothing]))


def _start(fit: Shrinkage) -> tuple[Floats, Floats]:
    """Return log-medians of the settings and levels of the mixes as the fit over all settings has them."""
    trial = fit.trial
    squeeze = np.bincount(trial.setting, weights=trial.log_squeeze) / np.bincount(trial.setting)
    return fit.levels[0] - fit.parameters[-2] * squeeze, fit.levels[1:] - fit.levels[0]


def _pooled(fit: Shrinkage, layout: Layout, parameters: Floats) -> Replicas:
    """Return replicas from one spread between the cups, or mixes, of all settings: two may be alike by chance."""
    spread, freedom = _spread(fit, layout, parameters)
    cups = assumed(fit.trial, layout, parameters, fit.grouping.groups, spread=spread, freedom=freedom)
    return as_photographed(cups, fit.trial, layout, parameters)


def _spread(fit: Shrinkage, layout: Layout, parameters: Floats) -> tuple[float, float]:
    """Return by how much cups, or mixes, differ in ln d and its degrees of freedom.

    Inside settings where they are enough, else around the exponent's line.
    """
    trial, groups = fit.trial, fit.grouping.groups
    if fit.grouping.basis is Basis.ASSUMED:
        return fit.assumed_spread, math.inf
    if free := _freedom_inside(fit, parameters):
        inside = layout.location @ parameters
        return spread_around(trial, inside, math.exp(parameters[-1]), groups, free).value, float(free)
    freedom = fit.grouping.freedom
    return spread_around(trial, fit.log_median, fit.spread, groups, freedom).value, freedom


def _freedom_inside(fit: Shrinkage, parameters: Floats) -> int:
    """Return the degrees of freedom of cups, or mixes, inside settings; 0 where they are too few to tell a spread."""
    free = np.unique(fit.grouping.groups).size - (parameters.size - 1)
    told = fit.grouping.basis is not Basis.ASSUMED and free >= max(len(fit.trial.settings) - 1, LEAST_FREEDOM)
    return int(free) if told else 0


def _contrasted(
    fit: Shrinkage, layout: Layout, contrast: Floats, parameters: Floats, pooled: Replicas
) -> tuple[Estimate, Basis]:
    """Return a sum of log-medians, such as ln of a ratio to the reference, and what its interval rests on."""
    basis = Basis.ASSUMED if math.isinf(pooled.freedom) else Basis.MEASURED
    if not contrast.any():
        return Estimate(0.0, 0.0, 0.0), fit.grouping.basis
    if not _estimable(layout, contrast):
        return UNKNOWN, basis
    return pooled.estimate(float(contrast @ parameters), pooled.parameters @ contrast), basis


def _estimable(layout: Layout, contrast: Floats) -> bool:
    """Return whether the cups inform on the contrast."""
    projected = np.linalg.pinv(layout.location) @ layout.location @ contrast
    return bool(np.all(np.abs(projected - contrast) < _ESTIMABLE))


def _row(fit: Shrinkage, index: int, log_median: Estimate, ratio: tuple[Estimate, Basis]) -> SettingRow:
    """Return the row of one setting; `ratio` is ln of its diameter ratio and what that rests on."""
    log_ratio, basis = ratio
    trial = fit.trial
    here, first = trial.setting == index, trial.setting == trial.reference
    cups = [trial.cups[i] for i in np.flatnonzero(here)]
    squeeze, reference = float(trial.log_squeeze[here].mean()), float(trial.log_squeeze[first].mean())
    expected = mean_power(1.0, fit.log_median, fit.spread, trial.log_limit)
    naive, cut = (_mean_of(trial, here, each) / _mean_of(trial, first, each) for each in (_means(trial), expected))
    return SettingRow(
        name=trial.settings[index],
        cups=len(cups),
        voids=int(trial.count[here].sum()),
        gauge_ratio=float(np.mean([cup.gauge_ratio for cup in cups])),
        log_squeeze=squeeze,
        warmth=float(np.exp(np.mean([math.log(cup.warmth) for cup in cups]))),
        seen_share=float(fit.seen[here].mean()),
        log_median=log_median,
        log_ratio=log_ratio,
        boyle_log_ratio=BOYLE_EXPONENT * (reference - squeeze),
        naive_ratio=naive,
        naive_expected=cut,
        basis=basis,
        reference_squeeze=reference,
    )


def _means(trial: Trial) -> Floats:
    """Return the mean diameter seen in each cup."""
    return np.array([float(np.exp(each).mean()) for each in trial.log_diameters])


def _mean_of(trial: Trial, chosen: NDArray[np.bool_], means: Floats) -> float:
    """Return the mean over the voids of the chosen cups."""
    return float(np.average(means[chosen], weights=trial.count[chosen]))


def _powers(log: Estimate, power: float) -> Estimate:
    """Return exp(power x) of an estimate."""
    return Estimate(_exp(power * log.value), _exp(power * log.low), _exp(power * log.high))


def _exp(log: float) -> float:
    """Return exp of a number that may be too large for one: then inf."""
    return math.exp(log) if log < _LARGEST_LOG else math.inf if log >= _LARGEST_LOG else math.nan
