"""Lengths, pressures and the like as people write them: a number and its unit, parsed once, at the edge.

written ──> quantities: lengths in mm, times in s, masses in g ... ──> pressures: in kPa, gauge or absolute
counts: a number of things, as people read it
"""

from __future__ import annotations

from bubblegrade.units.counts import count_of
from bubblegrade.units.pressures import (
    AT_SEA_LEVEL,
    PSI_KPA,
    AbsolutePressure,
    GaugePressure,
    Pressure,
    barometer,
    pressure,
)
from bubblegrade.units.quantities import (
    MM_PER_INCH,
    altitude_m,
    angle_deg,
    celsius,
    density_kg_m3,
    density_step_kg_m3,
    duration_s,
    length_mm,
    mass_g,
    mass_step_g,
    scale_mm_per_px,
    viscosity_pa_s,
    volume_cm3,
)
from bubblegrade.units.written import decimal

__all__ = [
    "AT_SEA_LEVEL",
    "MM_PER_INCH",
    "PSI_KPA",
    "AbsolutePressure",
    "GaugePressure",
    "Pressure",
    "altitude_m",
    "angle_deg",
    "barometer",
    "celsius",
    "count_of",
    "decimal",
    "density_kg_m3",
    "density_step_kg_m3",
    "duration_s",
    "length_mm",
    "mass_g",
    "mass_step_g",
    "pressure",
    "scale_mm_per_px",
    "viscosity_pa_s",
    "volume_cm3",
]
