"""Voids that dissolve: how fast gas passes from a void into the resin around it, after Henry and Fick.

P. S. Epstein and M. S. Plesset, J. Chem. Phys. 18 (1950) 1505, for one sphere in a still liquid:

    dR/dt = -D s (1 - f + e/R) / (1 + 2 e / (3 R)) (1/R + 1 / sqrt(pi D t)),    e = 2 tension / pressure

with s the dissolved over the free gas per volume (Henry) and f how far the liquid is saturated. Measured times are
longer than these by 8.6 % on average (P. B. Duncan and D. Needham, Langmuir 20 (2004) 2567), and longer still in gel.
No diffusivity of air in liquid casting resins is published that we know of: each is to be given, none is guessed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.pressure.gas import GasState, size_under_pressure_mm

M_PER_MM: Final = 1e-3
PA_PER_KPA: Final = 1e3
_TOLERANCE: Final = 1e-9  # share of the squared radius at which a void is gone


@dataclass(frozen=True)
class Medium:
    """The resin around a void, at the pressure that holds while it dissolves."""

    diffusivity_m2_s: float
    solubility: float  # dissolved gas over free gas, by volume at the same pressure; Henry's law makes it a constant
    saturation: float  # f: 0 for fresh resin, 1 where the resin holds as much as it can at this pressure
    kpa: float  # absolute
    tension_n_per_m: float = 0.0

    def __post_init__(self) -> None:
        if not (self.diffusivity_m2_s > 0.0 and self.solubility > 0.0 and self.kpa > 0.0 and self.saturation >= 0.0):
            raise AssertionError(f"a medium has a diffusivity, a solubility, a pressure and a saturation: {self}")

    @property
    def tension_length_m(self) -> float:
        """The length e = 2 tension / pressure, below which surface tension rules."""
        return 2.0 * self.tension_n_per_m / (self.kpa * PA_PER_KPA)

    def drive(self, radius_m: float) -> float:
        """Return (1 - f + e/R) / (1 + 2 e / (3 R)): below 0 the void grows."""
        tension = self.tension_length_m
        if radius_m <= 0.0:
            return 1.5 if tension > 0.0 else 1.0 - self.saturation
        return ((1.0 - self.saturation) * radius_m + tension) / (radius_m + 2.0 * tension / 3.0)


def saturation_under_pressure(pressure_ratio: float, *, before: float = 1.0) -> float:
    """Return the saturation once the absolute pressure is `pressure_ratio` times what it was `before` (Henry).

    >>> saturation_under_pressure(5.0)
    0.2
    """
    return before / pressure_ratio


def diameter_after_mm(diameter_mm: float, seconds: float, medium: Medium) -> float:
    """Return the diameter `seconds` after a void met fresh resin; 0 once it is gone.

    >>> diameter_after_mm(0.02, 2.0, Medium(2e-9, 0.02, 0.0, 101.325))
    0.0
    """
    from scipy.integrate import solve_ivp  # noqa: PLC0415 - it takes half a second, and few ask for what dissolves

    if seconds <= 0.0:
        return diameter_mm
    start = diameter_mm * M_PER_MM / 2.0
    pace = 4.0 * medium.diffusivity_m2_s * medium.solubility
    layer = math.sqrt(math.pi * medium.diffusivity_m2_s)
    unit = start**2

    # The square of the radius over the square root of the time has no singular point at either end.
    def slope(root_s: float, state: NDArray[np.float64]) -> list[float]:
        radius = start * math.sqrt(max(float(state[0]), 0.0))
        return [-pace * medium.drive(radius) * (root_s + radius / layer) / unit]

    def gone(_root_s: float, state: NDArray[np.float64]) -> float:
        return float(state[0]) - _TOLERANCE

    gone.terminal = True  # type: ignore[attr-defined]  # scipy's own way of saying it
    path = solve_ivp(slope, (0.0, math.sqrt(seconds)), [1.0], events=gone, rtol=1e-8, atol=1e-12, method="LSODA")
    return 0.0 if path.t_events[0].size else diameter_mm * math.sqrt(float(path.y[0, -1]))


def size_at_gel_mm(
    open_mm: float, closed: GasState, gelled: GasState, *, gel_s: float, medium: Medium, saturated: float = 1.0
) -> float:
    """Return the diameter at gel of a void of `open_mm` that shrinks under pressure and then dissolves for `gel_s`.

    Parameters
    ----------
    open_mm
        Diameter at closing.
    closed, gelled
        The gas at closing and at gel; the pressure is taken to stand from the start.
    gel_s
        Seconds under pressure until the resin gels.
    medium
        The resin; its saturation and pressure are replaced by those under pressure.
    saturated
        How far the resin was saturated with air at closing; 1 after stirring in open air.

    Where diffusion is slow, the gas law is all there is:

    >>> slow = Medium(1e-15, 0.02, 1.0, 100.0)
    >>> round(size_at_gel_mm(1.0, GasState(100.0), GasState(800.0), gel_s=60.0, medium=slow), 4)
    0.5
    """
    under = replace(
        medium,
        saturation=saturation_under_pressure(gelled.kpa / closed.kpa, before=saturated),
        kpa=gelled.kpa,
    )
    squeezed = size_under_pressure_mm(open_mm, closed, gelled, tension_n_per_m=medium.tension_n_per_m)
    return diameter_after_mm(squeezed, gel_s, under)
