"""Pressures in kPa, which keep what they count from in their type.

So a dial's reading cannot be taken for an absolute pressure: only `AbsolutePressure` has a `kpa`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import UnitError
from bubblegrade.units.quantities import MM_PER_INCH
from bubblegrade.units.written import above_zero, check_finite, quoted, split

PSI_KPA: Final = 0.45359237 * 9.80665 / 0.0254**2 / 1000.0  # exact definitions of pound, standard gravity and inch
MMHG_KPA: Final = 13595.1 * 9.80665 / 1e6  # the conventional millimetre of mercury
BAROMETER_UNITS_KPA: Final = {
    **dict.fromkeys(("hpa", "mbar"), 0.1),
    **dict.fromkeys(("mmhg", "torr"), MMHG_KPA),
    "kpa": 1.0,
    "inhg": MM_PER_INCH * MMHG_KPA,
    "psia": PSI_KPA,
}
PRESSURE_UNITS_KPA: Final = {"psi": PSI_KPA, "kpa": 1.0, "bar": 100.0, "mbar": 0.1, "hpa": 0.1}

AT_SEA_LEVEL: Final = "14.7 psi (1.01 bar) less at sea level"  # what a dial shows beside a pressure above vacuum

_PRESSURE_CURE: Final = "write 60psi (what the dial shows), 74.7psia, '4 bar gauge' or '500 kPa abs'"
_BAROMETER_CURE: Final = "write '1013 hPa', 101.3kPa, 29.92inHg or 760mmHg"
_PRESSURE_UNIT: Final = re.compile(r"(psi|kpa|m?bar|hpa)\s*\(?\s*(|g|gauge|a|abs|absolute)\s*\)?\.?")


@dataclass(frozen=True, order=True)
class GaugePressure:
    """A pressure above the local atmosphere, as a dial shows it; 0 is an open pot."""

    kpa_gauge: float

    @property
    def psig(self) -> float:
        """The dial's reading in psi."""
        return self.kpa_gauge / PSI_KPA


@dataclass(frozen=True, order=True)
class AbsolutePressure:
    """A pressure above vacuum; always more than 0."""

    kpa: float


Pressure = GaugePressure | AbsolutePressure


def pressure(text: str, *, what: str = "pressure") -> Pressure:
    """Return the pressure written in `text`; `what` names it in an error.

    psi and psig count from the atmosphere, as the pot's dial does; psia counts from vacuum. kPa, bar, mbar and hPa
    must say which: `gauge` or `abs` behind them, or a letter as in kPag and bara.

    >>> pressure("4 bar gauge")
    GaugePressure(kpa_gauge=400.0)
    >>> pressure("500 kPa abs")
    AbsolutePressure(kpa=500.0)

    Raises
    ------
    UnitError
        Without a number or a unit of pressure, without saying what it counts from, below 0 gauge, or not above 0
        absolute.
    """
    shown = quoted(text)
    number, unit = split(text, what=what, cure=_PRESSURE_CURE)
    if not unit:
        raise UnitError(f"{what} {shown} has no unit: {_PRESSURE_CURE}")
    parts = _PRESSURE_UNIT.fullmatch(unit)
    if parts is None:
        raise UnitError(f"{what} {shown} has no known unit of pressure ({quoted(unit)}): {_PRESSURE_CURE}")
    name, above = parts.groups()
    kpa = number * PRESSURE_UNITS_KPA[name]
    check_finite(kpa, f"{what} {shown}", cure=_PRESSURE_CURE)
    if not above and name != "psi":
        raise UnitError(
            f"{what} {shown} does not say what it counts from: "
            f"write '{shown} gauge' if a dial shows it, else '{shown} abs'"
        )
    return _absolute(kpa, f"{what} {shown}") if above.startswith("a") else _gauge(kpa, f"{what} {shown}")


def barometer(text: str, *, what: str = "barometer") -> AbsolutePressure:
    """Return the air pressure written in `text`; a barometer counts from vacuum and need not say so.

    >>> barometer("980 hPa")
    AbsolutePressure(kpa=98.0)

    Raises
    ------
    UnitError
        Without a number or one of the units hPa, mbar, kPa, inHg, mmHg, torr and psia, or not above zero.
    """
    plain = re.sub(r"\s*\(?\s*abs(olute)?\s*\)?\.?\s*$", "", text, flags=re.IGNORECASE)
    return AbsolutePressure(above_zero(plain, BAROMETER_UNITS_KPA, what=what, cure=_BAROMETER_CURE))


def _gauge(kpa: float, shown: str) -> GaugePressure:
    """Return a dial's reading, refused where it lies under the atmosphere."""
    if kpa < 0.0:
        raise UnitError(f"{shown} lies below the atmosphere: write it as an absolute pressure, such as 3psia")
    return GaugePressure(kpa + 0.0)


def _absolute(kpa: float, shown: str) -> AbsolutePressure:
    """Return an absolute pressure, refused where it is vacuum or less."""
    if kpa <= 0.0:
        raise UnitError(f"{shown} is no absolute pressure, which is above zero: write 60psi for what the dial shows")
    return AbsolutePressure(kpa)
