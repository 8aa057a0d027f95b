"""The resin's window: how long is there, which voids rise out of it, and what is left to see at gel at each pressure.

A void that begins at the bottom of the casting climbs from pouring to gel, in resin that thickens; once squeezed it
climbs more slowly, by the square of its diameter. What does not reach the top stays, squeezed by Boyle's law, and
dissolves if the resin's constants are given. Of the sizes that stay, the eye sees those above a visible one.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Literal

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.atmosphere import settings
from bubblegrade.pressure.dissolving import Medium, size_at_gel_mm
from bubblegrade.pressure.gas import GasState, ratios, size_at_open_air_mm
from bubblegrade.pressure.prediction import WRITTEN, Dissolving
from bubblegrade.pressure.resin import EARLY_SHARE, GelPoint, Thickening, gel_time, viscosity_at
from bubblegrade.pressure.rise import least_rising_mm, reynolds
from bubblegrade.roots import root
from bubblegrade.units import GaugePressure

Verdict = Literal["in time", "perhaps too late", "too late"]

RESIN_KG_M3: Final = 1100.0  # clear urethane 1030 to 1080, epoxy 1080 to 1150 (common practice)
SMALLEST_MM, LARGEST_MM = 1e-3, 20.0  # voids that are looked at
CREEPING: Final = 0.5  # Reynolds number up to which a void climbs as calculated, to some percent


@dataclass(frozen=True)
class Steps:
    """What is done and how long it takes, s; the clock starts with the first stir."""

    mixing_s: float
    pouring_s: float = 0.0
    closing_s: float = 0.0
    filling_s: float = 0.0  # until the pressure stands

    @property
    def poured_s(self) -> float:
        """When the resin is in the mould."""
        return self.mixing_s + self.pouring_s

    @property
    def closed_s(self) -> float:
        """When the lid is shut."""
        return self.poured_s + self.closing_s

    @property
    def pressed_s(self) -> float:
        """When the pressure stands."""
        return self.closed_s + self.filling_s


@dataclass(frozen=True)
class Flow:
    """What is known of how the resin flows; a viscosity is stated for the start of mixing."""

    viscosity_pa_s: float
    stated_k: float
    gelled_pa_s: float
    depth_mm: float  # from the bottom of the casting to where voids leave it
    density_kg_m3: float = RESIN_KG_M3


@dataclass(frozen=True)
class WindowQuestion:
    """What is asked."""

    points: tuple[GelPoint, ...]
    room_k: float
    steps: Steps
    pressures: tuple[GaugePressure, ...]
    atmosphere_kpa: float
    visible_mm: float
    activation_j_mol: float | None = None
    flow: Flow | None = None
    dissolving: Dissolving | None = None  # its gel time is replaced by the clock's


@dataclass(frozen=True)
class WindowRow:
    """One pressure. Sizes are diameters in open air; inf where no void does it, NaN where it is not known."""

    gauge: GaugePressure
    diameter_share: float  # what the pressure leaves of a diameter, by the gas law
    out_surely_mm: float  # larger voids are out before gel, from the very bottom
    out_hardly_mm: float  # smaller ones are not, however clean
    gone_mm: float  # smaller ones dissolve before gel; NaN where the resin's constants are not given
    seen_from_mm: float  # larger ones are visible at gel, if they are still there

    @property
    def remains_surely(self) -> bool:
        """Whether there are sizes that are visible at gel and cannot have risen out."""
        return self.seen_from_mm < self.out_hardly_mm

    @property
    def remains_perhaps(self) -> bool:
        """Whether there are sizes that are visible at gel and may not have risen out."""
        return self.seen_from_mm < self.out_surely_mm


@dataclass(frozen=True)
class Window:
    """The clock and what it decides."""

    question: WindowQuestion
    gel: Estimate  # s from the first stir
    left: Estimate  # s from when the pressure stands to gel
    verdict: Verdict
    early_enough: bool  # whether the pressure stands in the first half of the time to the earliest gel
    rows: tuple[WindowRow, ...]
    too_fast_mm: float  # larger voids climb more slowly than calculated; NaN without a viscosity


def resin_window(question: WindowQuestion) -> Window:
    """Return how long there is, and what is left at gel at each pressure and in open air.

    Raises
    ------
    InputError
        The gel times contradict each other.
    """
    gel = gel_time(question.points, question.room_k, activation_j_mol=question.activation_j_mol)
    pressed = question.steps.pressed_s
    left = Estimate(*(limit - pressed for limit in (gel.value, gel.low, gel.high)))
    verdict: Verdict = "in time" if left.low > 0.0 else "perhaps too late" if left.high > 0.0 else "too late"
    gauges = sorted(settings((GaugePressure(0.0), *question.pressures), WRITTEN))
    return Window(
        question=question,
        gel=gel,
        left=left,
        verdict=verdict,
        early_enough=pressed <= EARLY_SHARE * gel.low,
        rows=tuple(_row(question, gel, gauge) for gauge in gauges),
        too_fast_mm=_too_fast_mm(question),
    )


def _row(question: WindowQuestion, gel: Estimate, gauge: GaugePressure) -> WindowRow:
    """Return one pressure's row."""
    open_air = GasState(question.atmosphere_kpa, question.room_k)
    gelled = GasState(question.atmosphere_kpa + gauge.kpa_gauge, question.room_k)
    share = ratios(open_air, gelled).diameter
    gone, seen = _dissolved(question, open_air, gelled, gel.value)
    return WindowRow(
        gauge=gauge,
        diameter_share=share,
        out_surely_mm=_rises_mm(question, share, gel.low, clean=False),
        out_hardly_mm=_rises_mm(question, share, gel.high, clean=True),
        gone_mm=gone,
        seen_from_mm=size_at_open_air_mm(question.visible_mm, open_air, gelled) if math.isnan(seen) else seen,
    )


def _rises_mm(question: WindowQuestion, share: float, gel_s: float, *, clean: bool) -> float:
    """Return the smallest void that climbs the depth before gel; NaN without a viscosity."""
    flow, steps = question.flow, question.steps
    if flow is None:
        return math.nan
    start = viscosity_at(flow.viscosity_pa_s, flow.stated_k, question.room_k)
    resin = Thickening(start, max(flow.gelled_pa_s, start), gel_s)
    free = resin.fluidity_s(steps.poured_s, steps.pressed_s)
    squeezed = share**2 * resin.fluidity_s(steps.pressed_s, gel_s)
    return least_rising_mm(flow.depth_mm, free + squeezed, density_kg_m3=flow.density_kg_m3, clean=clean)


def _dissolved(question: WindowQuestion, open_air: GasState, gelled: GasState, gel_s: float) -> tuple[float, float]:
    """Return up to which size voids are gone at gel, and from which they are visible; NaN without constants."""
    given, under_s = question.dissolving, gel_s - question.steps.pressed_s
    if given is None:
        return math.nan, math.nan
    medium = Medium(given.diffusivity_m2_s, given.solubility, given.saturation, gelled.kpa)

    def at_gel_mm(open_mm: float) -> float:
        return size_at_gel_mm(
            open_mm, open_air, gelled, gel_s=max(under_s, 0.0), medium=medium, saturated=given.saturation
        )

    return _crossing(at_gel_mm, 1e-6), _crossing(at_gel_mm, question.visible_mm)


def _crossing(size_mm: Callable[[float], float], wanted_mm: float) -> float:
    """Return the size in open air from which on a size at gel is above the wanted one."""

    def over(log_open: float) -> float:
        return size_mm(math.exp(log_open)) - wanted_mm

    low, high = math.log(SMALLEST_MM), math.log(LARGEST_MM)
    if over(low) >= 0.0:
        return 0.0
    return math.exp(root(over, low, high, off=1e-4)) if over(high) > 0.0 else math.inf


def _too_fast_mm(question: WindowQuestion) -> float:
    """Return the size from which Stokes' law makes voids too fast, in the resin as it is poured."""
    flow = question.flow
    if flow is None:
        return math.nan
    viscosity = viscosity_at(flow.viscosity_pa_s, flow.stated_k, question.room_k)
    at_one = reynolds(1.0, density_kg_m3=flow.density_kg_m3, viscosity_pa_s=viscosity)
    return math.exp(math.log(CREEPING / at_one) / 3.0)
