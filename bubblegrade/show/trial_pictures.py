"""The pictures of a trial: sizes by pressure, sizes at each setting, and the gain of more pressure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from bubblegrade.pressure.findings import Flag
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.situation import Situation
from bubblegrade.pressure.trial import Told, Trial
from bubblegrade.show import plots
from bubblegrade.show.plots import Picture

LINE_POINTS: Final = 60
LIMIT_WORDS: Final = (
    ("rated", "rated working pressure"),
    ("relief", "relief valve"),
    ("mould", "mould's own casting pressure"),
)
TENTHS: Final = 10.0  # of a psi, to which a chosen pressure is rounded up


def trial_pictures(trial: Trial) -> Mapping[str, Picture]:
    """Return the trial's pictures by name; without a decision there is none of the gain."""
    settings = tuple(_setting(told, trial) for told in trial.settings)
    unit = trial.question.unit
    pictures = {
        "sizes-by-pressure": plots.sizes_by_pressure(settings, _fit(trial, settings), unit=unit),
        "sizes-at-each-setting": plots.sizes_at_each_setting(settings, unit=unit),
    }
    if trial.decision is not None:
        pictures["gain"] = plots.gain_by_pressure(_gain(trial))
    return pictures


def _setting(told: Told, trial: Trial) -> plots.Setting:
    """Return a setting as it is drawn; one without voids keeps its place."""
    drawn = tuple(plots.Cup(cup.countable, cup.smallest) for cup in told.cups)
    if told.row is None or Flag.SPREAD_AT_BOUND in trial.comparison.flags or not told.row.median.known:
        return plots.Setting(told.name, told.absolute_kpa, drawn)
    median, spread = told.row.median, trial.comparison.fit.spread
    return plots.Setting(told.name, told.absolute_kpa, drawn, median.value, median.low, median.high, spread)


def _fit(trial: Trial, settings: tuple[plots.Setting, ...]) -> plots.Shrinkage | None:
    """Return the fitted line with its band, and Boyle's through the same size at open air; None where none is told."""
    said = trial.comparison
    if Flag.SPREAD_AT_BOUND in said.flags:
        return None
    air = trial.question.air.kpa
    ends = [one.absolute_kpa for one in settings]
    kpa = np.geomspace(min(ends), max(ends), LINE_POINTS)
    squeeze = np.log(kpa / air)
    level, replicas = math.log(said.fit.median), said.fit.replicas
    value = level - said.exponent.value * squeeze
    levels, exponents = replicas.parameters[:, :-2].mean(axis=1), replicas.parameters[:, -2]
    half = replicas.quantile() * replicas.err(levels[:, np.newaxis] - np.multiply.outer(exponents, squeeze))
    return plots.Shrinkage(
        exponent=said.exponent.value,
        exponent_low=said.exponent.low,
        exponent_high=said.exponent.high,
        absolute_kpa=kpa,
        median=np.exp(value),
        low=np.exp(value - half),
        high=np.exp(value + half),
        boyle=np.exp(level - BOYLE_EXPONENT * squeeze),
    )


def _gain(trial: Trial) -> plots.Gain:
    """Return the expected visible voids by pressure, with the limits and the pressure that is chosen, if any is."""
    decision = trial.decision
    assert decision is not None  # noqa: S101 - asked for only then
    psig = np.array([row.gauge.psig for row in trial.rows])
    ceiling = min(float(psig[-1]), Situation(trial.question.limits, (), trial.question.air.kpa).ceiling_psig)
    within = decision.recommended_psig <= ceiling and not trial.stopped
    chosen = min(math.ceil(TENTHS * decision.recommended_psig) / TENTHS, ceiling) if within else math.nan
    limits = ((getattr(trial.question.limits, name), words) for name, words in LIMIT_WORDS)
    return plots.Gain(
        psig=psig,
        expected=np.array([row.voids.value for row in trial.rows]),
        low=np.array([row.voids.low for row in trial.rows]),
        high=np.array([row.voids.high for row in trial.rows]),
        target=decision.tolerated,
        visible_mm=decision.visible_mm,
        chosen_psig=chosen,
        limits=tuple(plots.Limit(words, float(f"{limit.psig:.4g}")) for limit, words in limits if limit is not None),
    )
