"""What to do: limits first, then advice; each rule is one small function with its ground and source.

A pressure above the pot's rating, the relief valve's setting or the mould's own casting pressure gets a stop with the
reason and no advice at all. Nothing here says that a pot may be opened.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np

from bubblegrade.pressure.enough import USUAL_TABLE_PSIG
from bubblegrade.pressure.gas import STEP_PSI, next_gain_share
from bubblegrade.pressure.misread import misread
from bubblegrade.pressure.situation import COMMON, GAS_LAW, TRIAL, Advice, Level, Situation, psi, target
from bubblegrade.pressure.stops import stops
from bubblegrade.pressure.suspects import SUSPECT_WORDS
from bubblegrade.units import PSI_KPA

LITTLE_GAIN_SHARE: Final = 0.03  # of a diameter, reached at about 40 psi; to show 5 % takes 16 cups a setting
NEAR_RELIEF_SHARE: Final = 0.9  # of its setting, from which a relief valve may weep (common practice)


def open_air_is_enough(at: Situation) -> Advice | None:
    """Advise no pressure where open air meets the target."""
    if at.decision is None or at.decision.recommended_psig > 0.0:
        return None
    return Advice(
        Level.ADVICE,
        rule="open air is enough",
        text=f"{target(at.decision)}: open air meets that, without pressure.",
        ground="The 90 % upper limit of the expected number meets the target at open air.",
        source=TRIAL,
    )


def enough(at: Situation) -> Advice | None:
    """Advise the lowest pressure that is expected to meet the target, at the upper end of its interval."""
    if at.decision is None or not 0.0 < at.decision.recommended_psig <= at.ceiling_psig:
        return None
    from_here = _up(at.decision.recommended_psig, at)
    return Advice(
        Level.ADVICE,
        rule="enough",
        text=f"{target(at.decision)}: expected from {from_here} at gel on{_provided(at)}.",
        ground="There the 90 % upper limit of the expected number meets the target.",
        source=TRIAL,
    )


def perhaps_enough(at: Situation) -> Advice | None:
    """Advise to learn more where the target may be met within the limits, but is not sure to be."""
    if at.decision is None or not at.decision.enough_psig.value <= at.ceiling_psig < at.decision.recommended_psig:
        return None
    return Advice(
        Level.ADVICE,
        rule="perhaps enough",
        text=f"{target(at.decision)}: {_about(at.decision.enough_psig.value, at)} may do{_provided(at)}, but nothing "
        "within reach is sure to; cast more cups.",
        ground="The 90 % upper limit of the expected number stays above the target.",
        source=TRIAL,
    )


def not_by_pressure_alone(at: Situation) -> Advice | None:
    """Advise other means where no pressure within reach meets the target."""
    if at.decision is None or at.decision.enough_psig.value <= at.ceiling_psig:
        return None
    sure = at.decision.enough_psig.low > at.ceiling_psig
    reach = "not reachable by pressure alone" if sure else "hardly reachable by pressure alone, as far as can be told"
    return Advice(
        Level.ADVICE,
        rule="not by pressure alone",
        text=f"{target(at.decision)}: {reach}. The voids are too coarse or too many; look at mixing, warming, pouring "
        "and degassing first.",
        ground="A diameter falls only with the cube root of the absolute pressure.",
        source=GAS_LAW,
    )


def cast_test_cups(at: Situation) -> Advice | None:
    """Advise test cups where the decision reaches beyond what was cast or seen."""
    decision = at.decision
    if decision is None or not decision.recommended_psig <= at.ceiling_psig:
        return None
    if not (decision.beyond_tested or decision.below_limit):
        return None
    why = "a higher pressure than any cup had" if decision.beyond_tested else "voids too small for the photographs"
    return Advice(
        Level.ADVICE,
        rule="test first",
        text=f"The pressure rests on {why}: cast and photograph cups for it before relying on it.",
        ground="A fit is sure only where voids were seen.",
        source=TRIAL,
    )


def photographs_first(at: Situation) -> Advice | None:
    """Advise to take photographs again that are unlike the others, before anything else is asked of them."""
    if at.comparison is None or not at.comparison.photographs_first:
        return None
    logs = at.comparison.findings.log_castings
    text = "Take the photographs that are unfit again, all in one way, before anything rests on this trial."
    if logs.any():
        index = int(np.argmax(np.abs(logs)))
        text = (
            f"The castings at {at.comparison.rows[index].name} look {math.exp(logs[index]):.2f} times as wide as at "
            f"{at.comparison.reference}. If one mould made them, give --width, or photograph all with one camera, "
            "distance and zoom; if not, give each photograph its own scale with --card or --disc."
        )
    return Advice(
        Level.ADVICE,
        rule="photographs first",
        text=text,
        ground="A difference between photographs passes for one between pressures.",
        source=TRIAL,
    )


def check_the_pressures(at: Situation) -> Advice | None:
    """Advise to check a pressure that the voids at it cannot have gelled at."""
    text = (
        None
        if at.comparison is None or photographs_first(at)
        else misread(at.comparison.rows, at.atmosphere_kpa / PSI_KPA)
    )
    if text is None:
        return None
    return Advice(
        Level.ADVICE,
        rule="check the pressures",
        text=text,
        ground="A leak, a late pressure and moisture leave less of the pressure, never more.",
        source=GAS_LAW,
    )


def misfit_first(at: Situation) -> Advice | None:
    """Advise to find a misfit's cause before changing the pressure."""
    if at.comparison is None or not at.comparison.suspects or _wrongly_told(at):
        return None
    return Advice(
        Level.ADVICE,
        rule="misfit first",
        text="Find the cause of the misfit before changing the pressure; first suspect: "
        f"{SUSPECT_WORDS[at.comparison.suspects[0].suspect]}",
        ground="More pressure cures neither pressure that does not stand at gel nor gas that does not scale.",
        source=COMMON,
    )


def closer_photographs(at: Situation) -> Advice | None:
    """Advise to photograph from closer where too many voids are too small to be seen."""
    if at.comparison is None or not at.comparison.closer_helps or _wrongly_told(at):
        return None
    return Advice(
        Level.ADVICE,
        rule="closer photographs",
        text="Photograph from closer, so that smaller voids can be counted.",
        ground="The answer hangs on voids below the smallest countable size.",
        source=TRIAL,
    )


def more_cups(at: Situation) -> Advice | None:
    """Advise how many cups, or voids in them, would tell what these could not."""
    needed = None if at.comparison is None or _wrongly_told(at) else at.comparison.needed
    if needed is None or needed.cups_per_setting is None:
        return None
    voids = "" if needed.voids_per_cup is None else f", or as many as now with {needed.voids_per_cup} voids in each"
    return Advice(
        Level.ADVICE,
        rule="more cups",
        text=f"To tell it, cast {needed.cups_per_setting} cups at every setting{voids}; pour each of {needed.mixes} "
        "mixes over all settings.",
        ground="Cups and mixes differ by more than their voids tell.",
        source=TRIAL,
    )


def little_gain(at: Situation) -> Advice | None:
    """Advise that a step more brings little at the highest pressure asked for."""
    if not at.asked or at.highest_psig <= 0.0:
        return None
    gain = next_gain_share(max(at.asked), at.atmosphere_kpa)
    if gain >= LITTLE_GAIN_SHARE:
        return None
    little = f"take only {100 * gain:.1f} % off a diameter: better mixing and pouring bring more."
    text = f"Beyond {psi(at.highest_psig)} another {STEP_PSI:g} psi would {little}"
    lowest = at.limits.lowest
    if lowest is not None and at.highest_psig + STEP_PSI > lowest[0]:
        text = f"{STEP_PSI:g} psi more would lie above {lowest[1]} of {psi(lowest[0])}, and {little}"
    return Advice(
        Level.ADVICE,
        rule="little gain",
        text=text,
        ground="A diameter falls only with the cube root of the absolute pressure.",
        source=GAS_LAW,
    )


def near_relief(at: Situation) -> Advice | None:
    """Caution where the relief valve may weep."""
    relief = at.limits.relief
    if relief is None or at.highest_psig < NEAR_RELIEF_SHARE * relief.psig:
        return None
    return Advice(
        Level.CAUTION,
        rule="near relief",
        text=f"{psi(at.highest_psig)} is close to the relief valve's {psi(relief.psig)}: it may weep before gel.",
        ground="Valves begin to open a little below their setting.",
        source=COMMON,
    )


def no_rating_given(at: Situation) -> Advice | None:
    """Caution where the pot's rating is not known."""
    if at.limits.rated is not None:
        return None
    return Advice(
        Level.CAUTION,
        rule="no rating given",
        text="No rated working pressure was given: the one on the pot's plate decides; use no pot without one.",
        ground="No limit is guessed.",
        source=COMMON,
    )


def above_usual_plates(at: Situation) -> Advice | None:
    """Caution where no rating is known and hardly a plate bears what is asked for."""
    if at.limits.rated is not None or at.highest_psig <= USUAL_TABLE_PSIG:
        return None
    return Advice(
        Level.CAUTION,
        rule="above usual plates",
        text=f"{psi(at.highest_psig)} is more than plates of casting pots state, {USUAL_TABLE_PSIG:g} psi at most: "
        "cast at it only in a vessel whose plate allows it.",
        ground="Casting pots are mostly rated 50 to 60 psi, some 70 or 80.",
        source=COMMON,
    )


def _wrongly_told(at: Situation) -> bool:
    """Whether photographs or pressures are to be mended before the comparison says anything."""
    return photographs_first(at) is not None or check_the_pressures(at) is not None


def _provided(at: Situation) -> str:
    """Return on what a pressure that is named depends where no rating is known."""
    return "" if at.limits.rated else ", if that is within the rating on the pot's plate"


def _up(psig: float, at: Situation) -> str:
    """Return a pressure to a tenth of a psi, never less than it was and never rounded past a limit."""
    return psi(min(math.ceil(10.0 * psig) / 10.0, at.ceiling_psig))


def _about(psig: float, at: Situation) -> str:
    """Return a pressure to a whole psi, never rounded past a limit; none at all is open air."""
    return f"about {psi(min(round(psig), at.ceiling_psig))} at gel" if psig > 0.0 else "open air"


RULES: Final[tuple[Callable[[Situation], Advice | None], ...]] = (
    *(open_air_is_enough, enough, perhaps_enough, not_by_pressure_alone, cast_test_cups),
    *(
        photographs_first,
        check_the_pressures,
        misfit_first,
        closer_photographs,
        more_cups,
        little_gain,
        near_relief,
        no_rating_given,
        above_usual_plates,
    ),
)


def advise(at: Situation) -> tuple[Advice, ...]:
    """Return the stops if there are any, else the advice; what `cautions.py` holds belongs beside both."""
    return stops(at) or tuple(said for rule in RULES if (said := rule(at)) is not None)
