"""Stops: what lies above a limit of pot or mould gets no advice, only the reason.

The limits are the pot's rated working pressure, the relief valve's setting and the mould's own casting pressure, as far
as the maker gives them; none is guessed.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from bubblegrade.pressure.situation import COMMON, MAKERS, VESSEL_CODE, Advice, Level, Situation, above, psi, target


def relief_above_rating(at: Situation) -> Advice | None:
    """Stop where the relief valve opens only above the rating."""
    rated, relief = at.limits.rated, at.limits.relief
    if rated is None or relief is None or relief <= rated:
        return None
    return Advice(
        Level.STOP,
        rule="relief above rating",
        text=f"The relief valve opens at {psi(relief.psig)}, above the pot's rated {psi(rated.psig)}: have one fitted "
        "that opens at the rating or below before the pot is used.",
        ground="A relief valve is set at or below the working pressure.",
        source=VESSEL_CODE,
    )


def above_rating(at: Situation) -> Advice | None:
    """Stop above the pot's rated working pressure."""
    return above(
        at.limits.rated,
        at,
        names=("above rating", "the pot's rated working pressure"),
        ground="The plate is a limit, not a target; a clamp or a weld can fail above it before any valve opens.",
        source=MAKERS,
    )


def above_relief(at: Situation) -> Advice | None:
    """Stop above the relief valve's setting."""
    return above(
        at.limits.relief,
        at,
        names=("above relief", "the relief valve's setting"),
        ground="The valve opens below this pressure, and is never set higher for its sake.",
        source=VESSEL_CODE,
    )


def above_mould(at: Situation) -> Advice | None:
    """Stop above the pressure that the mould was cast at."""
    return above(
        at.limits.mould,
        at,
        names=("above mould", "the mould's own casting pressure"),
        ground="Voids in the mould give way above it and print as bumps.",
        source=MAKERS,
    )


def target_above_limits(at: Situation) -> Advice | None:
    """Stop where the target takes more pressure than a limit allows."""
    lowest = at.limits.lowest
    if at.decision is None or lowest is None or not at.decision.reachable:
        return None
    limit, name = lowest
    if at.decision.recommended_psig <= limit:
        return None
    return Advice(
        Level.STOP,
        rule="target above limits",
        text=f"{target(at.decision)} can take up to {psi(at.decision.recommended_psig)}, above {name} of {psi(limit)}: "
        "that is out of reach by pressure here; mix and pour with fewer and smaller voids.",
        ground="No pressure above a limit is advised.",
        source=COMMON,
    )


STOPS: Final[tuple[Callable[[Situation], Advice | None], ...]] = (
    relief_above_rating,
    above_rating,
    above_relief,
    above_mould,
    target_above_limits,
)


def stops(at: Situation) -> tuple[Advice, ...]:
    """Return what stands against any advice, in the order of the rules."""
    return tuple(said for rule in STOPS if (said := rule(at)) is not None)
