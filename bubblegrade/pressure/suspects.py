"""Who is to blame for a misfit with Boyle's law: suspects, ranked by what the voids and the maker's log say.

The order without any clue is that of casters' experience (common practice; no source counts them). A clue adds or
takes weight; each is one small rule. Weights only rank: they are no probabilities.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bubblegrade.pressure.effective import effective_share, spread_to_agree
from bubblegrade.pressure.findings import Findings, Flag, Verdict
from bubblegrade.pressure.gas import BOYLE_EXPONENT
from bubblegrade.pressure.misread import MORE_THAN_WRITTEN
from bubblegrade.pressure.resin import EARLY_SHARE
from bubblegrade.pressure.trial_plan import ASSUMED_MIX_SPREAD
from bubblegrade.pressure.verdict import flags


class Suspect(StrEnum):
    """What may have kept voids from Boyle's law."""

    CUPS_UNLIKE = "cups differ by more than assumed"
    LEAK = "leak or late pressure"
    LET_OFF = "pressure let off before gel"
    GAUGE_HIGH = "gauge reads high"
    MOISTURE = "gas from moisture"
    SHRINKAGE = "voids of shrinkage"
    THIN_AIR = "air thinner than at sea level"
    DISSOLVED = "dissolved"
    RISEN = "risen"
    GAUGE_LOW = "gauge reads low"


class Clue(StrEnum):
    """What speaks for or against a suspect."""

    SPREAD_GROWS = "sizes spread more under pressure"
    SPREAD_STEADY = "sizes spread alike at every pressure"
    VOIDS_MORE = "more voids under pressure"
    VOIDS_FEWER = "fewer voids under pressure"
    CLUSTERED = "voids lie in clusters"
    LET_OFF_EARLY = "let off before gel, by the log"
    HELD_TO_GEL = "held beyond gel, by the log"
    LATE = "full pressure after half the time to gel, by the log"
    SEA_LEVEL_TAKEN = "the air is taken for that at sea level"
    UNEVEN = "settings contradict each other"
    FAR_MORE = "far more pressure than was written"
    PROMPT = "full pressure early, by the log"


AGAINST: Final = frozenset({Clue.SPREAD_STEADY, Clue.HELD_TO_GEL, Clue.PROMPT})  # their suspects; the others speak for

SUSPECT_WORDS: Final[Mapping[Suspect, str]] = {
    Suspect.CUPS_UNLIKE: "The cups differ by more than is assumed, as those of several mixes do: pour each mix over all"
    " settings.",
    Suspect.LEAK: "The pot leaked, or came under pressure late, so that less than the set pressure stood at gel.",
    Suspect.LET_OFF: "The pressure was let off before the resin had gelled, and the voids grew back.",
    Suspect.GAUGE_HIGH: "The gauge reads high: compare it with a second one.",
    Suspect.MOISTURE: "Water in resin, filler or air made gas under pressure: repeat with a fresh, dry can.",
    Suspect.SHRINKAGE: "Some voids are hollows left by the shrinking resin, which no pressure scales.",
    Suspect.THIN_AIR: "The air around the pot is thinner than at sea level, which was taken: give --altitude.",
    Suspect.DISSOLVED: "Gas dissolved in the resin under pressure, the smallest voids first.",
    Suspect.RISEN: "The largest voids rose out of the resin before it gelled.",
    Suspect.GAUGE_LOW: "The gauge reads low, or a pressure was written too low: compare it with a second gauge, and"
    " mind the pot's rating.",
}
MOST_BY_AIR: Final = 1.5  # times the gauge pressure over that of the air, of sea level over 3,200 m
SHRANK_LESS: Final = (Suspect.LEAK, Suspect.LET_OFF, Suspect.GAUGE_HIGH, Suspect.MOISTURE, Suspect.SHRINKAGE)
SHRANK_MORE: Final = (Suspect.DISSOLVED, Suspect.RISEN, Suspect.GAUGE_LOW)
_ORDER_STEP: Final = 0.1  # weight from one place of the order without clues to the next
_STRONG: Final = 2.0  # a fact from the log
_FAIR: Final = 1.0  # a pattern of the voids
_WEAK: Final = 0.5  # a pattern that others share


@dataclass(frozen=True)
class Circumstances:
    """What the maker wrote down, from the end of mixing on; None where nothing was."""

    gel_s: float | None = None
    full_pressure_s: float | None = None
    let_off_s: float | None = None
    sea_level_taken: bool = False  # the air's pressure was not stated
    clustered: bool | None = None  # whether voids lie in clusters more than by chance


@dataclass(frozen=True)
class Ranked:
    """A suspect with what speaks for it (weight above 0) and against it."""

    suspect: Suspect
    weight: float
    clues: tuple[Clue, ...]


_Lead = tuple[Suspect, float, Clue]


def _from_spread(raised: frozenset[Flag], _given: Circumstances) -> tuple[_Lead, ...]:
    """Weigh the spread of sizes: voids that do not scale widen it, a wrong pressure leaves it."""
    if Flag.SPREAD_GROWS in raised:
        return tuple((who, _STRONG, Clue.SPREAD_GROWS) for who in (Suspect.SHRINKAGE, Suspect.MOISTURE))
    return tuple((who, -_WEAK, Clue.SPREAD_STEADY) for who in (Suspect.SHRINKAGE, Suspect.MOISTURE))


def _from_voids(raised: frozenset[Flag], _given: Circumstances) -> tuple[_Lead, ...]:
    """Weigh the number of voids: new gas adds some, dissolving and rising take some away, a gauge does neither."""
    if Flag.VOIDS_MORE in raised:
        return ((Suspect.MOISTURE, _FAIR, Clue.VOIDS_MORE),)
    if Flag.VOIDS_FEWER in raised:
        return tuple((who, _FAIR, Clue.VOIDS_FEWER) for who in (Suspect.DISSOLVED, Suspect.RISEN))
    return ()


def _from_clusters(_raised: frozenset[Flag], given: Circumstances) -> tuple[_Lead, ...]:
    """Weigh clusters: wet resin foams in clusters at several places (common practice)."""
    return ((Suspect.MOISTURE, _FAIR, Clue.CLUSTERED),) if given.clustered else ()


def _from_release(_raised: frozenset[Flag], given: Circumstances) -> tuple[_Lead, ...]:
    """Weigh the release: a void grows back if the pressure goes before the resin can hold it (maker guidance)."""
    if given.gel_s is None or given.let_off_s is None:
        return ()
    if given.let_off_s < given.gel_s:
        return ((Suspect.LET_OFF, _STRONG, Clue.LET_OFF_EARLY),)
    return ((Suspect.LET_OFF, -_STRONG, Clue.HELD_TO_GEL),)


def _from_filling(_raised: frozenset[Flag], given: Circumstances) -> tuple[_Lead, ...]:
    """Weigh the filling: resin that has thickened no longer lets a void shrink."""
    if given.gel_s is None or given.full_pressure_s is None:
        return ()
    if given.full_pressure_s > EARLY_SHARE * given.gel_s:
        return ((Suspect.LEAK, _STRONG, Clue.LATE),)
    return ((Suspect.LEAK, -_WEAK, Clue.PROMPT),)


def _from_air(raised: frozenset[Flag], given: Circumstances) -> tuple[_Lead, ...]:
    """Weigh the air: less of it makes the same dial's pressure a larger ratio, at every setting."""
    taken = given.sea_level_taken and Flag.UNEVEN not in raised
    return ((Suspect.THIN_AIR, _FAIR, Clue.SEA_LEVEL_TAKEN),) if taken else ()


def _from_contradiction(raised: frozenset[Flag], _given: Circumstances) -> tuple[_Lead, ...]:
    """Weigh settings that contradict each other: a pressure goes wrong at some, dissolving and rising at all."""
    return ((Suspect.GAUGE_LOW, _FAIR, Clue.UNEVEN),) if Flag.UNEVEN in raised else ()


RULES: Final[tuple[Callable[[frozenset[Flag], Circumstances], tuple[_Lead, ...]], ...]] = (
    _from_spread,
    _from_voids,
    _from_clusters,
    _from_release,
    _from_filling,
    _from_air,
    _from_contradiction,
)


def rank(found: Findings, verdict: Verdict, given: Circumstances) -> tuple[Ranked, ...]:
    """Return the suspects for a misfit, the likeliest first; none where there is no misfit."""
    if verdict not in {Verdict.SHRANK_LESS, Verdict.SHRANK_MORE, Verdict.NOT_CONSISTENT}:
        return ()
    less = verdict is Verdict.SHRANK_LESS or (
        verdict is Verdict.NOT_CONSISTENT and found.fit.exponent.value < BOYLE_EXPONENT
    )
    listed = SHRANK_LESS if less else SHRANK_MORE
    least_share = effective_share(found.fit).low
    if not less and given.sea_level_taken and least_share < MOST_BY_AIR:
        listed = (*listed, Suspect.THIN_AIR)
    if verdict is Verdict.NOT_CONSISTENT and spread_to_agree(found.fit) <= ASSUMED_MIX_SPREAD:
        listed = (Suspect.CUPS_UNLIKE, *listed)
    raised = frozenset(flags(found))
    leads = [lead for rule in RULES for lead in rule(raised, given)]
    if least_share > MORE_THAN_WRITTEN:
        leads.append((Suspect.GAUGE_LOW, _STRONG, Clue.FAR_MORE))
    ranked = [
        Ranked(
            suspect=who,
            weight=round(_ORDER_STEP * (len(listed) - i) + sum(weight for of, weight, _ in leads if of is who), 6),
            clues=tuple(clue for of, _, clue in leads if of is who),
        )
        for i, who in enumerate(listed)
    ]
    return tuple(sorted(ranked, key=lambda each: -each.weight))
