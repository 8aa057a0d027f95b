"""The air around the pot: its pressure from altitude or barometer, and gauge pressures made absolute with it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bubblegrade.errors import UnitError
from bubblegrade.units import PSI_KPA, AbsolutePressure, GaugePressure, Pressure

SEA_LEVEL_KPA: Final = 101.325  # the standard atmosphere, exact
HIGHEST_PSIG: Final = 300.0  # five times what casters use (common practice); beyond it the number or its unit is wrong
SAME_SHARE: Final = 0.01  # of a pressure: as near lie two that a dial cannot tell apart, or one in two units
ROUNDING_KPA: Final = 1e-8
ROUNDING_SHARE: Final = 1e-9  # of a pressure: two that are closer are one
LOWEST_ALTITUDE_M: Final = -500.0  # the deepest dry land lies at about -430 m
HIGHEST_ALTITUDE_M: Final = 9000.0  # the highest land lies at 8849 m
LOWEST_BAROMETER_KPA: Final = 30.0  # at the highest land
HIGHEST_BAROMETER_KPA: Final = 112.0  # in a mine, or in the strongest high

# ISO 2533:1975, the same as the US Standard Atmosphere 1976 below 11 km.
_EARTH_RADIUS_M: Final = 6_356_766.0
_SEA_LEVEL_K: Final = 288.15
_LAPSE_K_PER_M: Final = 0.0065
_EXPONENT: Final = 9.80665 * 0.0289644 / (8.31432 * _LAPSE_K_PER_M)


class Source(StrEnum):
    """Where the atmosphere's pressure comes from."""

    SEA_LEVEL = "sea level"
    ALTITUDE = "altitude"
    BAROMETER = "barometer"


@dataclass(frozen=True)
class Atmosphere:
    """The local atmosphere."""

    kpa: float
    source: Source


SEA_LEVEL: Final = Atmosphere(SEA_LEVEL_KPA, Source.SEA_LEVEL)


def altitude_kpa(altitude_m: float) -> float:
    """Return the standard atmosphere's pressure at a geometric altitude, the height above the sea that a map shows.

    ISO 2533: p = p0 (1 - L H / T0)^5.2559 with the geopotential altitude H = r Z / (r + Z). Weather moves the true
    pressure by about 3 % to either side.

    >>> round(altitude_kpa(1500.0), 3)
    84.56

    Raises
    ------
    UnitError
        Outside the land's heights, -500 to 9000 m.
    """
    if not LOWEST_ALTITUDE_M <= altitude_m <= HIGHEST_ALTITUDE_M:
        raise UnitError(
            f"altitude {altitude_m:g} m lies outside the land's heights: "
            f"give {LOWEST_ALTITUDE_M:g} to {HIGHEST_ALTITUDE_M:g} m above the sea"
        )
    geopotential = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    return SEA_LEVEL_KPA * float((1.0 - _LAPSE_K_PER_M * geopotential / _SEA_LEVEL_K) ** _EXPONENT)


def atmosphere(*, altitude_m: float | None = None, barometer: AbsolutePressure | None = None) -> Atmosphere:
    """Return the local atmosphere from an altitude or a barometer; sea level where neither is given.

    A barometer is one read beside the pot. A weather report's pressure is reduced to sea level and is not meant.

    >>> atmosphere(barometer=AbsolutePressure(98.0)).kpa
    98.0

    Raises
    ------
    UnitError
        Both are given, or one lies outside what there is on land.
    """
    if altitude_m is not None and barometer is not None:
        raise UnitError(
            f"altitude {altitude_m:g} m and barometer {barometer.kpa:g} kPa are both given: "
            "keep the barometer if it was read beside the pot, else the altitude"
        )
    if altitude_m is not None:
        return Atmosphere(altitude_kpa(altitude_m), Source.ALTITUDE)
    if barometer is None:
        return SEA_LEVEL
    if not LOWEST_BAROMETER_KPA <= barometer.kpa <= HIGHEST_BAROMETER_KPA:
        raise UnitError(
            f"barometer {barometer.kpa:g} kPa is no air pressure on land: "
            f"give {LOWEST_BAROMETER_KPA:g} to {HIGHEST_BAROMETER_KPA:g} kPa as read beside the pot"
        )
    return Atmosphere(barometer.kpa, Source.BAROMETER)


def absolute(pressure: Pressure, atmosphere_kpa: float, *, what: str = "pressure") -> AbsolutePressure:
    """Return a pressure counted from vacuum; `what` names it in an error.

    >>> absolute(GaugePressure(400.0), 100.0)
    AbsolutePressure(kpa=500.0)

    Raises
    ------
    UnitError
        Not a finite number, vacuum or below it, or above 300 psi gauge.
    """
    counted = isinstance(pressure, GaugePressure)
    kpa = pressure.kpa_gauge + atmosphere_kpa if isinstance(pressure, GaugePressure) else pressure.kpa
    gauge_psi = (kpa - atmosphere_kpa) / PSI_KPA
    shown = f"{what} {gauge_psi:.4g} psi gauge" if counted else f"{what} {kpa:.4g} kPa absolute"
    if not math.isfinite(kpa):
        raise UnitError(f"{shown} is not a finite number: write what the dial shows, such as 60psi")
    if kpa <= 0.0:
        raise UnitError(f"{shown} lies below vacuum: write what the dial shows, 0psi for an open cup")
    if gauge_psi > HIGHEST_PSIG:
        raise UnitError(f"{shown} is above {HIGHEST_PSIG:g} psi gauge: check the number and its unit, such as 60psi")
    return AbsolutePressure(kpa)


def gauge(pressure: Pressure, atmosphere_kpa: float, *, what: str = "pressure") -> GaugePressure:
    """Return a pressure as a dial shows it in this atmosphere, below 0 where it is a vacuum's.

    >>> gauge(AbsolutePressure(500.0), 100.0)
    GaugePressure(kpa_gauge=400.0)

    Raises
    ------
    UnitError
        As `absolute`.
    """
    return GaugePressure(absolute(pressure, atmosphere_kpa, what=what).kpa - atmosphere_kpa)


def one_setting(one_kpa: float, other_kpa: float, share: float = SAME_SHARE) -> bool:
    """Say whether two pressures, both gauge or both absolute, lie within a share of each other.

    40 psi and 2.76 bar are one:

    >>> one_setting(275.79, 276.0), one_setting(275.79, 280.0)
    (True, False)
    """
    return math.isclose(one_kpa, other_kpa, rel_tol=share, abs_tol=ROUNDING_KPA)


def settings(said: Iterable[GaugePressure], share: float = SAME_SHARE) -> tuple[GaugePressure, ...]:
    """Return the settings that pressures stand for, in their order: of those that are one setting the first.

    >>> settings((GaugePressure(276.0), GaugePressure(0.0), GaugePressure(275.79)))
    (GaugePressure(kpa_gauge=276.0), GaugePressure(kpa_gauge=0.0))
    """
    named: list[GaugePressure] = []
    for each in said:
        if not any(one_setting(each.kpa_gauge, other.kpa_gauge, share) for other in named):
            named.append(each)
    return tuple(named)
