"""A plan for a trial in words."""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.pressure.plan import CHANCE, Plan
from bubblegrade.pressure.replicas import ASSUMED_CUP_SPREAD
from bubblegrade.pressure.situation import psi
from bubblegrade.pressure.trial_plan import Assumed, TrialPlan
from bubblegrade.show.words import percent, rounded
from bubblegrade.units import GaugePressure

HARDLY_KNOWN: Final = 0.5  # of the standard error of a cup's median from its voids


def plan_lines(plan: TrialPlan, asked: tuple[GaugePressure, ...]) -> tuple[str, ...]:
    """Return the plan, a paragraph a line."""
    low, high = (psi(each.psig) for each in sorted(asked))
    apart = percent(plan.difference_share, decimals=1)
    goal = (
        f"To know the ratio of {low} and {high} to {percent(plan.precision, decimals=1)}"
        if math.isfinite(plan.precision)
        else f"To tell {low} from {high} in {percent(CHANCE)} of such trials"
    )
    return (
        f"Plan. {goal}, where Boyle's law makes diameters differ by {apart}: pour {_cups(plan.blocked)}, "
        f"{_per_mix(plan.blocked)} of each of {plan.blocked.mixes} mixes over each pressure. Half the 95 % interval of "
        f"the ratio is then about {percent(plan.blocked.share, decimals=1)}.",
        f"One mix over all pressures takes away what mixes differ by; with a mix for every cup it takes "
        f"{_apart(plan.apart)}. Repeat with {plan.assumed.mixes} mixes, so that one odd mix shows.",
        assumed_line(plan.assumed),
        *_hardly_known(plan),
    )


def assumed_line(assumed: Assumed) -> str:
    """Return what the plan takes the cups to be like."""
    usual = Assumed()
    cups = (
        "measured in an earlier trial" if assumed.cup_spread_measured else _told(assumed.cup_spread, usual.cup_spread)
    )
    mixes = _told(assumed.mix_spread, usual.mix_spread)
    seen = (
        f"median {rounded(assumed.median_mm)} mm at open air, counted from {rounded(assumed.smallest_mm)} mm"
        if math.isfinite(assumed.median_mm)
        else "all of them large enough to count"
    )
    return (
        f"Taken: diameters differ by {percent(assumed.cup_spread, decimals=1)} from cup to cup ({cups}) and "
        f"{percent(assumed.mix_spread, decimals=1)} from mix to mix ({mixes}); {assumed.voids:.0f} "
        f"voids in a cup, their ln d spread by {assumed.spread:g}, {seen}."
    )


def _hardly_known(plan: TrialPlan) -> tuple[str, ...]:
    """Return a warning of a measured spread that drowns in the chance of the voids."""
    taken = plan.assumed
    if not taken.cup_spread_measured or taken.cup_spread >= HARDLY_KNOWN * plan.void_err:
        return ()
    return (
        "So small a spread between cups drowns in the chance of their voids and is hardly known: plan with "
        f"--cup-spread {ASSUMED_CUP_SPREAD:g} as well, and pour the larger number.",
    )


def _told(value: float, usual: float) -> str:
    """Return whether a number is the one that is taken where none is stated."""
    return "assumed" if value == usual else "as stated"


def _cups(plan: Plan) -> str:
    """Return how many cups."""
    return f"{plan.cups_per_setting} cups at each pressure"


def _per_mix(plan: Plan) -> str:
    """Return how many cups of one mix stand at one pressure."""
    each = plan.cups_per_setting // plan.mixes
    return "1 cup" if each == 1 else f"{each} cups"


def _apart(plan: Plan | None) -> str:
    """Return what a mix for every cup takes."""
    return "more than 1000 cups at each pressure" if plan is None else f"{_cups(plan)} from {plan.mixes} mixes"
