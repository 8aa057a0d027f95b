"""What pressure, temperature and surface tension do to a gas void: ratios of volume, diameter and projected area.

A void is closed when it is stirred in and fixed when the resin gels; between the two its gas keeps to the combined gas
law p V / T. So the pressure that counts is the one at gel. Air is ideal here to 0.04 % of a diameter up to 60 psi.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import UnitError
from bubblegrade.roots import root
from bubblegrade.units import PSI_KPA, GaugePressure

BOYLE_EXPONENT: Final = 1.0 / 3.0  # of a diameter on the pressure ratio: volume is 1/p, and volume is diameter cubed
ROOM_K: Final = 298.15  # 25 C, where makers state their resins' times (common practice)
STEP_PSI: Final = 5.0  # a dial's usual graduation, and the step of every table here
RESIN_TENSION_N_PER_M: Final = 0.035  # liquid resins 0.030 to 0.045 N/m (from memory)
COLDEST_C: Final = -40.0  # no resin is cast colder
HOTTEST_C: Final = 250.0  # a runaway exotherm passes 200 C (maker guidance)
ZERO_C_K: Final = 273.15
GAS_CONSTANT: Final = 8.314462618  # J/(mol K), exact since 2019


@dataclass(frozen=True)
class GasState:
    """Pressure and temperature of the gas at one moment; the pressure counts from vacuum."""

    kpa: float
    kelvin: float = ROOM_K

    def __post_init__(self) -> None:
        if not (self.kpa > 0.0 and self.kelvin > 0.0):
            raise AssertionError(f"gas has pressure and temperature: {self.kpa} kPa, {self.kelvin} K")


@dataclass(frozen=True)
class Ratios:
    """What is left of a void: each the size at gel over the size at closing."""

    volume: float

    @property
    def diameter(self) -> float:
        """Diameter ratio, the cube root of the volume's."""
        return float(self.volume ** (1.0 / 3.0))

    @property
    def area(self) -> float:
        """Ratio of the projected area, the square of the diameter's."""
        return float(self.volume ** (2.0 / 3.0))


def kelvin(celsius: float, *, what: str = "temperature") -> float:
    """Return a resin's temperature in kelvin; `what` names it in an error.

    Raises
    ------
    UnitError
        Outside -40 to 250 C.

    >>> kelvin(25.0)
    298.15
    """
    if not COLDEST_C <= celsius <= HOTTEST_C:
        raise UnitError(
            f"{what} {celsius:g} C is no resin's: give {COLDEST_C:g} to {HOTTEST_C:g} C, 25 C for a warm room"
        )
    return celsius + ZERO_C_K


def log_squeeze(closed: GasState, gelled: GasState) -> float:
    """Return ln of the factor by which the gas law divides the volume: ln(p2 T1 / (p1 T2)).

    >>> round(log_squeeze(GasState(100.0), GasState(800.0)) / math.log(2.0), 9)
    3.0
    """
    return math.log(gelled.kpa / closed.kpa) - math.log(gelled.kelvin / closed.kelvin)


def ratios(closed: GasState, gelled: GasState) -> Ratios:
    """Return what the gas law leaves of a void.

    Eight atmospheres halve a diameter:

    >>> round(ratios(GasState(100.0), GasState(800.0)).diameter, 12)
    0.5
    """
    return Ratios(math.exp(-log_squeeze(closed, gelled)))


def laplace_kpa(diameter_mm: float, *, tension_n_per_m: float) -> float:
    """Return by how much surface tension raises the pressure inside a sphere: 4 tension / diameter (Young, Laplace).

    >>> round(laplace_kpa(0.1, tension_n_per_m=0.035), 9)
    1.4
    """
    return 4.0 * tension_n_per_m / diameter_mm  # N/m over mm is kPa


def tense_diameter_ratio(
    diameter_mm: float, closed: GasState, gelled: GasState, *, tension_n_per_m: float = RESIN_TENSION_N_PER_M
) -> float:
    """Return the diameter ratio of a void of `diameter_mm` at closing, surface tension included.

    The root of (p2 + 4 s / d2) d2^3 / T2 = (p1 + 4 s / d1) d1^3 / T1. From 50 micrometres on it is less than 0.7 %
    off the plain law at 60 psi; a void of 1 micrometre keeps 0.70 of its diameter instead of 0.58.
    """
    inner = laplace_kpa(diameter_mm, tension_n_per_m=tension_n_per_m)
    held = (closed.kpa + inner) * gelled.kelvin / closed.kelvin
    highest = (held / gelled.kpa) ** (1.0 / 3.0)
    if inner == 0.0:
        return float(highest)
    return root(lambda x: (gelled.kpa * x + inner) * x * x - held, 0.0, highest * (1.0 + 1e-9), off=1e-15)


def size_under_pressure_mm(
    open_mm: float, closed: GasState, gelled: GasState, *, tension_n_per_m: float = 0.0
) -> float:
    """Return the diameter at gel of a void that had `open_mm` at closing.

    >>> round(size_under_pressure_mm(1.0, GasState(100.0), GasState(800.0)), 12)
    0.5
    """
    return open_mm * tense_diameter_ratio(open_mm, closed, gelled, tension_n_per_m=tension_n_per_m)


def size_at_open_air_mm(gelled_mm: float, closed: GasState, gelled: GasState, *, tension_n_per_m: float = 0.0) -> float:
    """Return the diameter at closing of a void that is `gelled_mm` in the casting.

    >>> round(size_at_open_air_mm(0.5, GasState(100.0), GasState(800.0)), 12)
    1.0
    """
    return gelled_mm * tense_diameter_ratio(gelled_mm, gelled, closed, tension_n_per_m=tension_n_per_m)


def next_gain_share(at: GaugePressure, atmosphere_kpa: float, *, step_psi: float = STEP_PSI) -> float:
    """Return the share of its diameter that a void loses from `at` over the next `step_psi`.

    >>> round(next_gain_share(GaugePressure(0.0), 101.325), 4)
    0.093
    """
    here = at.kpa_gauge + atmosphere_kpa
    return 1.0 - ratios(GasState(here), GasState(here + step_psi * PSI_KPA)).diameter
