"""A prediction with everything that belongs beside it: limits first, then the rows, the advice and a plan."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bubblegrade.errors import InputError
from bubblegrade.pressure.advice import advise
from bubblegrade.pressure.atmosphere import HIGHEST_PSIG, SAME_SHARE, Atmosphere, settings
from bubblegrade.pressure.prediction import Premises, Row, predict
from bubblegrade.pressure.situation import Advice, Level, Limits, Situation, psi
from bubblegrade.pressure.stops import relief_above_rating
from bubblegrade.pressure.trial_plan import Assumed, TrialPlan, plan_trial
from bubblegrade.units import GaugePressure


@dataclass(frozen=True)
class Question:
    """What is asked."""

    asked: tuple[GaugePressure, ...]
    premises: Premises
    atmosphere: Atmosphere
    limits: Limits
    trial: Assumed | None = None  # to plan a trial of the two pressures asked for
    precision: float = math.nan  # share of their ratio that the trial has to know; NaN: tell them apart

    @property
    def settings(self) -> tuple[GaugePressure, ...]:
        """What the pressures asked for stand for, one that is written in two units once."""
        return settings(self.asked)


@dataclass(frozen=True)
class Expectation:
    """What is to be expected."""

    question: Question
    rows: tuple[Row, ...]
    said: tuple[Advice, ...]  # stops, else advice
    plan: TrialPlan | None

    @property
    def stopped(self) -> bool:
        """Whether a pressure asked for lies above a limit, or the pot must not be used as it is."""
        return any(each.level is Level.STOP for each in self.said)


def expect(question: Question) -> Expectation:
    """Return what pressure will do; above a limit there is a stop with its reason, and no row and no plan.

    Raises
    ------
    InputError
        A pressure asked for lies below the start, or a plan cannot be made.
    """
    start = question.premises.start
    for each in question.asked:
        if each < start:
            raise InputError(
                f"{psi(each.psig)} lies below --from {psi(start.psig)}: ask for higher pressures, or start from less"
            )
    at = Situation(question.limits, question.asked, question.atmosphere.kpa)
    found = Expectation(question, _rows(question, at), advise(at), None)
    if question.trial is None or found.stopped:
        return found
    return Expectation(question, found.rows, found.said, _plan(question, question.trial))


def _rows(question: Question, at: Situation) -> tuple[Row, ...]:
    """Return the rows up to the lowest limit; none for a pot whose relief valve opens above its rating."""
    if relief_above_rating(at) is not None:
        return ()
    lowest = question.limits.lowest
    ceiling = HIGHEST_PSIG if lowest is None else lowest[0]
    return predict(question.premises, question.asked, ceiling_psig=ceiling)


def _plan(question: Question, trial: Assumed) -> TrialPlan:
    """Return the plan to tell the two pressures apart."""
    named = question.settings
    if len(named) != 2:  # noqa: PLR2004
        are = "1 is" if len(named) == 1 else f"{len(named)} are"
        alike = f" (pressures within {SAME_SHARE:.0%} are one)" if len(named) < len(question.asked) else ""
        raise InputError(f"--plan tells two settings apart, and {are} named{alike}: name two pressures")
    one, other = (math.log1p(each.kpa_gauge / question.atmosphere.kpa) for each in named)
    return plan_trial(trial, log_squeezes=(one, other), precision=question.precision)
