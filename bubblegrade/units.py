"""Lengths and pressures as people write them: a number and its unit, parsed once, at the edge.

Lengths become mm. Pressures become kPa and keep what they count from in their type, so that a dial's reading cannot
be taken for an absolute pressure: only `AbsolutePressure` has a `kpa`.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import UnitError

MM_PER_INCH: Final = 25.4  # exact, international yard and pound agreement, 1959
PSI_KPA: Final = 0.45359237 * 9.80665 / 0.0254**2 / 1000.0  # exact definitions of pound, standard gravity and inch

LENGTH_UNITS_MM: Final = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "\N{DOUBLE PRIME}": MM_PER_INCH,
    "\N{RIGHT DOUBLE QUOTATION MARK}": MM_PER_INCH,
    "ft": 12.0 * MM_PER_INCH,
    "um": 0.001,
    "\N{MICRO SIGN}m": 0.001,
    "\N{GREEK SMALL LETTER MU}m": 0.001,
    "micron": 0.001,
    "microns": 0.001,
}
PRESSURE_UNITS_KPA: Final = {"psi": PSI_KPA, "kpa": 1.0, "bar": 100.0, "mbar": 0.1, "hpa": 0.1}

_LENGTH_CURE: Final = "write 44mm or 1.75in"
_PRESSURE_CURE: Final = "write 60psi (what the dial shows), 74.7psia, '4 bar gauge' or '500 kPa abs'"
_LONGEST_SHOWN: Final = 40  # characters of the user's text that an error repeats
_NUMBER: Final = re.compile(
    r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d+)?|[+-]?(?:nan|inf(?:inity)?\b))\s*(.*)", re.A
)
_THOUSANDS: Final = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.A)
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


def length_mm(text: str, *, what: str = "length") -> float:
    """Return the length written in `text` in mm; `what` names it in an error.

    The decimal sign is a point or a comma; spaces may stand before the unit.

    >>> length_mm("2in")
    50.8
    >>> length_mm("44,5 mm")
    44.5

    Raises
    ------
    UnitError
        Without a number, without a unit of length, or not above zero and finite.
    """
    shown = _shown(text)
    number, unit = _split(text, what=what, cure=_LENGTH_CURE)
    if not unit:
        raise UnitError(f"{what} {shown} has no unit: {_length_cure(number)}")
    if unit not in LENGTH_UNITS_MM:
        raise UnitError(f"{what} {shown} has no known unit of length ({_shown(unit)}): {_LENGTH_CURE}")
    length = number * LENGTH_UNITS_MM[unit]
    _check_finite(length, f"{what} {shown}", cure=_LENGTH_CURE)
    if length <= 0.0:
        raise UnitError(f"{what} {shown} is not above zero: {_LENGTH_CURE}")
    return length


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
    shown = _shown(text)
    number, unit = _split(text, what=what, cure=_PRESSURE_CURE)
    if not unit:
        raise UnitError(f"{what} {shown} has no unit: {_PRESSURE_CURE}")
    parts = _PRESSURE_UNIT.fullmatch(unit)
    if parts is None:
        raise UnitError(f"{what} {shown} has no known unit of pressure ({_shown(unit)}): {_PRESSURE_CURE}")
    name, above = parts.groups()
    kpa = number * PRESSURE_UNITS_KPA[name]
    _check_finite(kpa, f"{what} {shown}", cure=_PRESSURE_CURE)
    if not above and name != "psi":
        raise UnitError(
            f"{what} {shown} does not say what it counts from: "
            f"write '{shown} gauge' if a dial shows it, else '{shown} abs'"
        )
    return _absolute(kpa, f"{what} {shown}") if above.startswith("a") else _gauge(kpa, f"{what} {shown}")


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


def _split(text: str, *, what: str, cure: str) -> tuple[float, str]:
    """Return the number at the head of `text` and the unit behind it, in small letters."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-").lower()
    if not plain:
        raise UnitError(f"{what} is empty: {cure}")
    parts = _NUMBER.fullmatch(plain)
    if parts is None:
        raise UnitError(f"{what} {_shown(text)} does not begin with a number: {cure}")
    digits, unit = parts.groups()
    if _THOUSANDS.fullmatch(digits):
        either = f"{digits.replace(',', '.')}{unit} or {digits.replace(',', '')}{unit}"
        raise UnitError(f"{what} {_shown(text)} can be read in two ways: write {either}")
    return float(digits.replace(",", ".")), unit.strip()


def _check_finite(number: float, shown: str, *, cure: str) -> None:
    """Refuse what is not a number or has no end."""
    if not math.isfinite(number):
        raise UnitError(f"{shown} is not a finite number: {cure}")


def _length_cure(number: float) -> str:
    """Return the cure for a bare number, with the user's own number where it makes a length."""
    return f"write {number:g}mm or 1.75in" if 0.0 < number < math.inf else _LENGTH_CURE


def _shown(text: str) -> str:
    """Return `text` on one line, short enough to repeat in an error."""
    line = "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))
    return line if len(line) <= _LONGEST_SHOWN else f"{line[:_LONGEST_SHOWN]}..."
