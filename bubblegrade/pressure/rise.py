"""How fast a void rises in still resin: as a rigid ball (Stokes), or with a surface that gives way (Hadamard).

A clean void rises half as fast again as a rigid ball of its size; what dissolved matter does to its surface makes it
rigid. Between the two lies every void of casting resin. Both hold while the Reynolds number is well below 1.
"""

from __future__ import annotations

import math
from typing import Final

GRAVITY: Final = 9.80665  # m/s2, standard
AIR_PA_S: Final = 1.8e-5  # viscosity of air
CLEAN: Final = 1.5  # speed of a clean void over that of a rigid ball, its gas's own viscosity left out
MM_PER_M: Final = 1e3


def rigid_m_s(diameter_mm: float, *, density_kg_m3: float, viscosity_pa_s: float) -> float:
    """Return the speed of a void that behaves as a rigid ball: g rho d^2 / (18 mu), its own weight left out.

    >>> round(rigid_m_s(1.0, density_kg_m3=1100.0, viscosity_pa_s=0.5) * 1e3, 4)
    1.1986
    """
    return GRAVITY * density_kg_m3 * (diameter_mm / MM_PER_M) ** 2 / (18.0 * viscosity_pa_s)


def clean_m_s(
    diameter_mm: float, *, density_kg_m3: float, viscosity_pa_s: float, inner_pa_s: float = AIR_PA_S
) -> float:
    """Return the speed of a void with a clean surface: J. Hadamard and W. Rybczynski, both 1911.

    >>> round(clean_m_s(1.0, density_kg_m3=1100.0, viscosity_pa_s=0.5) * 1e3, 4)
    1.7979
    """
    rigid = rigid_m_s(diameter_mm, density_kg_m3=density_kg_m3, viscosity_pa_s=viscosity_pa_s)
    return rigid * 3.0 * (viscosity_pa_s + inner_pa_s) / (2.0 * viscosity_pa_s + 3.0 * inner_pa_s)


def least_rising_mm(depth_mm: float, fluidity_1_pa: float, *, density_kg_m3: float, clean: bool) -> float:
    """Return the diameter of the smallest void that climbs a depth, inf where there is no time.

    Parameters
    ----------
    depth_mm
        To be climbed.
    fluidity_1_pa
        Integral over time of one over the viscosity, times the square of the void's diameter over its first.
    density_kg_m3
        Of the resin.
    clean
        Whether its surface gives way.
    """
    if fluidity_1_pa <= 0.0:
        return math.inf
    pace = GRAVITY * density_kg_m3 * fluidity_1_pa / 18.0 * (CLEAN if clean else 1.0)
    return math.sqrt(depth_mm / MM_PER_M / pace) * MM_PER_M


def reynolds(diameter_mm: float, *, density_kg_m3: float, viscosity_pa_s: float) -> float:
    """Return the Reynolds number of a clean void's rise; Stokes' law wants it below about 0.5."""
    speed = clean_m_s(diameter_mm, density_kg_m3=density_kg_m3, viscosity_pa_s=viscosity_pa_s)
    return density_kg_m3 * speed * diameter_mm / MM_PER_M / viscosity_pa_s
