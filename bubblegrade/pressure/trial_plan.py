"""A trial to tell two settings apart: one mix poured over both, beside a mix for every cup."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.plan import LEAST_MIXES, Noise, Plan, plan_difference, plan_precision, void_err
from bubblegrade.pressure.replicas import ASSUMED_CUP_SPREAD

ASSUMED_MIX_SPREAD: Final = 0.10  # of ln d from mix to mix: twice the cups', for mixes are stirred anew (assumed)
USUAL_VOIDS: Final = 200.0  # in a cup (assumed)
USUAL_SPREAD: Final = 0.5  # standard deviation of ln d of stirred-in voids (assumed)


@dataclass(frozen=True)
class Assumed:
    """What the cups of the trial are taken to be like."""

    cup_spread: float = ASSUMED_CUP_SPREAD
    cup_spread_measured: bool = False  # from an earlier trial
    mix_spread: float = ASSUMED_MIX_SPREAD
    voids: float = USUAL_VOIDS  # in a cup, those too small to count included
    spread: float = USUAL_SPREAD
    median_mm: float = math.nan  # at open air; NaN: all voids are taken to be counted
    smallest_mm: float = math.nan  # countable
    mixes: int = LEAST_MIXES  # to pour over both settings


@dataclass(frozen=True)
class TrialPlan:
    """How many cups tell two settings apart."""

    assumed: Assumed
    void_err: float
    difference_share: float  # by which the wider of the two medians lies above the other, after Boyle
    precision: float  # wanted half interval, as a share of the ratio; NaN where the difference is to be found
    blocked: Plan  # each mix over both settings
    apart: Plan | None  # each cup from its own mix; None where more than 1000 cups a setting would be needed


def plan_trial(assumed: Assumed, *, log_squeezes: tuple[float, float], precision: float = math.nan) -> TrialPlan:
    """Return the fewest cups that tell two settings apart, or with a `precision` those that know their ratio so well.

    Raises
    ------
    InputError
        The settings are the same, too few mixes are given, or no number of cups will do.

    >>> plan_trial(Assumed(), log_squeezes=(1.314, 1.626)).blocked.cups_per_setting
    9
    """
    low, high = sorted(log_squeezes)
    error = assumed_void_err(assumed, (low, high))
    noise = Noise(error, assumed.cup_spread, assumed.mix_spread)

    def plan(mixes: int | None) -> Plan:
        if math.isfinite(precision):
            return plan_precision(noise, precision=precision, mixes=mixes)
        return plan_difference(noise, log_squeezes=(low, high), mixes=mixes)

    return TrialPlan(
        assumed=assumed,
        void_err=error,
        difference_share=math.expm1(BOYLE_EXPONENT * (high - low)),
        precision=precision,
        blocked=plan(assumed.mixes),
        apart=_within_reach(plan),
    )


def assumed_void_err(assumed: Assumed, log_squeezes: tuple[float, float]) -> float:
    """Return the standard error of one cup's log-median from the chance of its voids.

    >>> round(assumed_void_err(Assumed(voids=100.0), (0.0, 1.6)), 9)
    0.05
    """
    if not math.isfinite(assumed.median_mm):
        return assumed.spread / math.sqrt(assumed.voids)
    return void_err(
        median=assumed.median_mm,
        smallest=assumed.smallest_mm,
        spread=assumed.spread,
        log_squeezes=log_squeezes,
        voids=assumed.voids,
    )


def _within_reach(plan: Callable[[int | None], Plan]) -> Plan | None:
    """Return the plan with a mix for every cup; None where it takes more cups than anybody casts."""
    try:
        return plan(None)
    except InputError:
        return None
