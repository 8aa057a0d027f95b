"""A whole trial: what the user says of each cup and what its photograph shows become comparison, decision and advice.

stated and measured cups ──> Comparison ──> Decision ──> advice
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bubblegrade.grading.estimate import UNKNOWN, Estimate
from bubblegrade.grading.pattern_casting import clustered
from bubblegrade.pressure.advice import advise
from bubblegrade.pressure.atmosphere import Atmosphere, Source
from bubblegrade.pressure.by_setting import SettingRow
from bubblegrade.pressure.casting_sizes import counted_unlike
from bubblegrade.pressure.comparison import Comparison, compare
from bubblegrade.pressure.enough import Decision, DecisionRow, decide, expected_voids, resolved_mm
from bubblegrade.pressure.findings import Flag, Verdict
from bubblegrade.pressure.misread import misread
from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.replicas import ASSUMED_CUP_SPREAD
from bubblegrade.pressure.shrinkage import Shrinkage
from bubblegrade.pressure.situation import Advice, Level, Limits, Situation
from bubblegrade.pressure.suspects import Circumstances
from bubblegrade.units import PSI_KPA

TOLERATED: Final = 5.0  # visible voids in a casting: few enough to count at a glance (our own choice)
MANY_MISSING: Final = 20.0  # voids expected where none is: cups of one recipe differ in number by far less (judgement)

NO_SCALE: Final = (
    "Sizes are in px, so that no size can be called visible: no pressure is advised. Give a scale to get one."
)
NO_PRESSURES: Final = (
    "Which pressure is enough is not told: the voids do not go with the pressures written beside them."
)
UNLIKE_PHOTOGRAPHS: Final = (
    "Which pressure is enough is not told: it would rest on photographs that are unlike or not fit to measure."
)
NO_EXPONENT: Final = (
    "Which pressure is enough is not told: these cups leave open whether the voids shrink under pressure at all."
)
NO_SHRINKING: Final = "Which pressure is enough is not told: pressure hardly made these voids smaller, if at all."
NO_POPULATION: Final = (
    "The voids thin out so slowly above the limit that their number below it cannot be told: no pressure is advised. "
    "Photograph the cups from closer."
)
SAME_SETUP: Final = "Sizes are in px: the ratios hold because camera, distance and zoom are said to be the same."


@dataclass(frozen=True, eq=False)
class Told:
    """What a trial says of one setting."""

    name: str
    cups: tuple[Poured, ...]
    row: SettingRow | None  # None where no cup holds a countable void
    verdict: Verdict

    @property
    def voids(self) -> int:
        """Countable voids."""
        return sum(cup.countable.size for cup in self.cups)

    @property
    def absolute_kpa(self) -> float:
        """The pressure from vacuum on, mean over the cups."""
        return float(np.mean([cup.stated.absolute_kpa for cup in self.cups]))

    @property
    def effective_psig(self) -> Estimate:
        """The gauge pressure in psi that the voids report; unknown of the reference and without voids."""
        if self.row is None or self.row.is_reference:
            return UNKNOWN
        air_psi = float(np.mean([cup.stated.air.kpa for cup in self.cups])) / PSI_KPA
        each = self.row.effective_gauge_ratio
        return Estimate(each.value * air_psi, each.low * air_psi, each.high * air_psi)


@dataclass(frozen=True)
class Question:
    """What is asked of a trial."""

    air: Atmosphere  # where castings are to be made
    limits: Limits
    unit: str = "mm"  # of all lengths: mm or px
    visible_mm: float = resolved_mm()
    tolerated: float = TOLERATED
    casting_cm3: float | None = None  # None: a casting like the cups
    cup_spread: float = ASSUMED_CUP_SPREAD


@dataclass(frozen=True, eq=False)
class Trial:
    """A trial answered."""

    question: Question
    cups: tuple[Poured, ...]
    comparison: Comparison
    decision: Decision | None  # None where no size can be called visible, or no population can be told
    advice: tuple[Advice, ...]
    warnings: tuple[str, ...]

    @property
    def settings(self) -> tuple[Told, ...]:
        """Every setting that was asked for, from the lowest pressure on."""
        said = self.comparison
        ordered = sorted(self.cups, key=lambda cup: cup.stated.gauge_ratio)
        return tuple(
            _told(name, [cup for cup in self.cups if cup.stated.setting == name], said)
            for name in dict.fromkeys(cup.stated.setting for cup in ordered)
        )

    @property
    def stopped(self) -> bool:
        """Whether a limit stands against any advice."""
        return any(each.level is Level.STOP for each in self.advice)

    @property
    def rows(self) -> tuple[DecisionRow, ...]:
        """The decision's table up to the lowest limit of pot and mould; what lies above it is not foretold."""
        lowest = self.question.limits.lowest
        every = () if self.decision is None else self.decision.rows
        return every if lowest is None else tuple(row for row in every if row.gauge.psig <= lowest[0])


def hold_trial(cups: Sequence[Poured], question: Question, *, warnings: Sequence[str] = ()) -> Trial:
    """Return the trial of `cups`; `warnings` come before those that arise here.

    Raises
    ------
    InputError
        The cups cannot be compared, or a target makes no sense.
    """
    comparison = compare(
        [poured.cup for poured in cups],
        assumed_spread=question.cup_spread,
        circumstances=circumstances(cups),
    )
    question = replace(question, air=_air(cups, question))
    decision, more = _decision(comparison, question)
    asked = tuple(dict.fromkeys(poured.stated.gauge for poured in cups))
    situation = Situation(question.limits, asked, question.air.kpa, decision, comparison)
    said = (*warnings, *_misplaced(cups, comparison), *_remarks(cups, question, comparison.fit), *more)
    return Trial(question, tuple(cups), comparison, decision, advise(situation), said)


def _air(cups: Sequence[Poured], question: Question) -> Atmosphere:
    """Return the air where castings are to be made: that of the cups, where they share one and none was asked for."""
    around = {cup.stated.air for cup in cups}
    return around.pop() if question.air.source is Source.SEA_LEVEL and len(around) == 1 else question.air


def _told(name: str, cups: Sequence[Poured], said: Comparison) -> Told:
    """Return what was found at a setting; without voids nothing can be told."""
    for row, verdict in zip(said.rows, said.setting_verdicts, strict=True):
        if row.name == name:
            return Told(name, tuple(cups), row, verdict)
    return Told(name, tuple(cups), None, Verdict.CANNOT_TELL)


def circumstances(cups: Sequence[Poured]) -> Circumstances:
    """Return what the log and the places of the voids say: of the cups under pressure, the worst time over gel counts.

    The time to gel is the median; letting off and filling keep their own cup's share of the time to gel.
    """
    timed = [each.stated for each in cups if each.stated.gauge_ratio > 0.0 and each.stated.gel_s]
    gel_s = float(np.median([each.gel_s for each in timed if each.gel_s])) if timed else math.nan
    let_off = [each.let_off_s / each.gel_s for each in timed if each.let_off_s is not None and each.gel_s]
    filled = [each.full_pressure_s / each.gel_s for each in timed if each.full_pressure_s is not None and each.gel_s]
    return Circumstances(
        gel_s=gel_s if timed else None,
        full_pressure_s=gel_s * max(filled) if filled else None,
        let_off_s=gel_s * min(let_off) if let_off else None,
        sea_level_taken=all(each.stated.air.source is Source.SEA_LEVEL for each in cups),
        clustered=clustered([each.pattern for each in cups if each.pattern is not None]),
    )


def _decision(comparison: Comparison, question: Question) -> tuple[Decision | None, tuple[str, ...]]:
    """Return the decision, or why there is none."""
    against = (
        (question.unit != "mm", NO_SCALE),
        (Flag.SPREAD_AT_BOUND in comparison.flags, NO_POPULATION),
        (comparison.photographs_first, UNLIKE_PHOTOGRAPHS),
        (Flag.UNEVEN in comparison.flags or comparison.swapped is not None, NO_PRESSURES),
        (misread(comparison.rows, question.air.kpa / PSI_KPA) is not None, NO_PRESSURES),
    )
    if words := [words for stands, words in against if stands]:
        return None, (words[0],)
    decided = decide(
        comparison.fit,
        visible_mm=question.visible_mm,
        tolerated=question.tolerated,
        atmosphere_kpa=question.air.kpa,
        casting_cm3=question.casting_cm3,
    )
    if not comparison.exponent.low <= 0.0 < decided.recommended_psig:
        return decided, ()
    return None, (NO_SHRINKING if comparison.verdict is Verdict.SHRANK_LESS else NO_EXPONENT,)


def _remarks(cups: Sequence[Poured], question: Question, fit: Shrinkage) -> tuple[str, ...]:
    """Return what the reader should know about the cups."""
    said = [] if question.unit == "mm" else [SAME_SETUP]
    said += [f"{each.photo} is UNFIT: {'; '.join(each.unfit)}." for each in cups if each.unfit]
    said += counted_unlike({each.photo: each.smallest for each in cups}, question.unit)
    empty = [each.photo for each in cups if not each.countable.size]
    said += [f"{', '.join(empty)}: no void above the smallest countable size."] if empty else []
    return (*said, *_missing(cups, fit))


def _misplaced(cups: Sequence[Poured], said: Comparison) -> tuple[str, ...]:
    """Return which cups do not belong where they stand."""
    held = [each for each in cups if each.countable.size]
    if said.swapped is not None:
        one, other = (f"{held[i].photo} ({held[i].stated.setting})" for i in said.swapped)
        return (f"{one} and {other} look as if they had changed places: check their labels before anything else.",)
    if said.odd is not None:
        odd = held[said.odd]
        return (
            f"{odd.photo} ({odd.stated.setting}) is unlike all other cups: check its label, its mix and its scale, or "
            "leave it out.",
        )
    return ()


def _missing(cups: Sequence[Poured], fit: Shrinkage) -> tuple[str, ...]:
    """Return which settings hold no void although the other cups let many be expected there."""
    if fit.at_bound or fit.exponent.low <= 0.0:
        return ()
    said = []
    for name in dict.fromkeys(each.stated.setting for each in cups):
        here = [each for each in cups if each.stated.setting == name]
        squeezes = [math.log((1.0 + each.stated.gauge_ratio) / each.stated.warmth) for each in here]
        expected = sum(expected_voids(fit, at, each.smallest) for at, each in zip(squeezes, here, strict=True))
        if expected > MANY_MISSING and not any(each.countable.size for each in here):
            said.append(
                f"At {name} no void was found, where the voids of the other cups let about {expected:.0f} be expected: "
                "what is said here does not hold for it; look at its photographs and cast it again."
            )
    return tuple(said)
