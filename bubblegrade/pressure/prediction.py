"""What pressure will do to a void, without any photograph: the combined gas law, row by row.

Surface tension is left out where no camera could tell, and dissolving unless the resin's constants are given.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from bubblegrade.pressure.atmosphere import ROUNDING_SHARE, one_setting, settings
from bubblegrade.pressure.dissolving import Medium, size_at_gel_mm
from bubblegrade.pressure.gas import (
    ROOM_K,
    STEP_PSI,
    GasState,
    Ratios,
    next_gain_share,
    ratios,
    size_at_open_air_mm,
    size_under_pressure_mm,
)
from bubblegrade.units import PSI_KPA, GaugePressure

TENSION_BELOW_MM: Final = 0.05  # from there on it is less than 0.7 % of a diameter at 60 psi
WRITTEN: Final = 0.005  # pressures closer than this share are one that was written in two units, to three digits


@dataclass(frozen=True)
class Dissolving:
    """What the gas does in the resin from closing to gel; no constant of a casting resin is known to us."""

    diffusivity_m2_s: float
    solubility: float  # dissolved over free gas, by volume
    saturation: float  # at closing; 1 after stirring in open air
    gel_s: float


@dataclass(frozen=True)
class Premises:
    """What the prediction is asked for."""

    atmosphere_kpa: float
    start: GaugePressure  # what the shares are shares of: open air, or a setting that is known
    closing_k: float = ROOM_K
    gel_k: float = ROOM_K
    size_mm: float = math.nan  # of the void that is followed, at `start`; NaN: none is
    tension_n_per_m: float = 0.0  # 0: left out
    dissolving: Dissolving | None = None

    @property
    def closed(self) -> GasState:
        """The gas when it is closed in, under the starting pressure."""
        return GasState(self.start.kpa_gauge + self.atmosphere_kpa, self.closing_k)

    @property
    def open_air(self) -> GasState:
        """The gas when it is closed in, in open air."""
        return GasState(self.atmosphere_kpa, self.closing_k)

    def gelled(self, at: GaugePressure) -> GasState:
        """Return the gas when the resin gels under a pressure."""
        return GasState(at.kpa_gauge + self.atmosphere_kpa, self.gel_k)


@dataclass(frozen=True)
class Row:
    """One pressure; lengths are NaN where no size was asked for."""

    gauge: GaugePressure
    absolute_kpa: float
    asked: bool
    ratios: Ratios  # by the gas law alone
    next_gain_share: float  # of a diameter, over the next 5 psi; NaN where that step would pass a limit
    becomes_mm: float  # what a void of the size at the start becomes
    began_mm: float  # what a void of the size under this pressure was in open air
    dissolved_mm: float  # what becomes of the first if it dissolves until gel; NaN where that was not asked for


def predict(premises: Premises, asked: tuple[GaugePressure, ...], *, ceiling_psig: float) -> tuple[Row, ...]:
    """Return a row every 5 psi from the start to the highest pressure asked for, none above the ceiling.

    The pressures asked for are rows too, one that is written in several units once, as it comes first.

    >>> air = Premises(101.325, GaugePressure(0.0))
    >>> rows = predict(air, (GaugePressure(12.0 * PSI_KPA),), ceiling_psig=70.0)
    >>> [(round(row.gauge.psig), row.asked) for row in rows]
    [(0, False), (5, False), (10, False), (12, True)]
    """
    start, highest = premises.start.psig, max(each.psig for each in asked)
    steps = [start + STEP_PSI * i for i in range(int((highest - start) / STEP_PSI + ROUNDING_SHARE) + 1)]
    named = settings((each for each in asked if _within(each, ceiling_psig)), WRITTEN)
    between = [psig for psig in steps if not any(one_setting(psig, each.psig, WRITTEN) for each in named)]
    pressures = sorted([*(GaugePressure(psig * PSI_KPA) for psig in between), *named])
    return tuple(
        _row(premises, at, asked=at in named, ceiling_psig=ceiling_psig)
        for at in pressures
        if _within(at, ceiling_psig)
    )


def _row(premises: Premises, at: GaugePressure, *, asked: bool, ceiling_psig: float) -> Row:
    """Return one pressure's row."""
    gelled = premises.gelled(at)
    further = at.psig + STEP_PSI
    within = _within(GaugePressure(further * PSI_KPA), ceiling_psig)
    size, tension = premises.size_mm, premises.tension_n_per_m
    followed = math.isfinite(size)
    return Row(
        gauge=at,
        absolute_kpa=gelled.kpa,
        asked=asked,
        ratios=ratios(premises.closed, gelled),
        next_gain_share=next_gain_share(at, premises.atmosphere_kpa) if within else math.nan,
        becomes_mm=size_under_pressure_mm(size, premises.closed, gelled, tension_n_per_m=tension)
        if followed
        else math.nan,
        began_mm=size_at_open_air_mm(size, premises.open_air, gelled, tension_n_per_m=tension)
        if followed
        else math.nan,
        dissolved_mm=_dissolved_mm(premises, gelled),
    )


def _dissolved_mm(premises: Premises, gelled: GasState) -> float:
    """Return a diameter at gel with dissolving; NaN where it was not asked for."""
    given = premises.dissolving
    if given is None or not math.isfinite(premises.size_mm):
        return math.nan
    medium = Medium(given.diffusivity_m2_s, given.solubility, given.saturation, gelled.kpa, premises.tension_n_per_m)
    return size_at_gel_mm(
        premises.size_mm,
        premises.closed,
        gelled,
        gel_s=given.gel_s,
        medium=medium,
        saturated=given.saturation,
    )


def _within(at: GaugePressure, ceiling_psig: float) -> bool:
    """Tell whether a pressure lies no higher than the ceiling."""
    return at.psig <= ceiling_psig or math.isclose(
        at.psig, ceiling_psig, rel_tol=ROUNDING_SHARE, abs_tol=ROUNDING_SHARE
    )
