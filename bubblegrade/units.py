"""Lengths, pressures and the like as people write them: a number and its unit, parsed once, at the edge.

Lengths become mm. Pressures become kPa and keep what they count from in their type, so that a dial's reading cannot
be taken for an absolute pressure: only `AbsolutePressure` has a `kpa`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
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
ALTITUDE_UNITS_M: Final = {"m": 1.0, "km": 1000.0, "ft": 0.3048, "feet": 0.3048}
DURATION_UNITS_S: Final = {
    **dict.fromkeys(("s", "sec", "second", "seconds"), 1.0),
    **dict.fromkeys(("min", "minute", "minutes"), 60.0),
    **dict.fromkeys(("h", "hr", "hour", "hours"), 3600.0),
}
VOLUME_UNITS_CM3: Final = {
    **dict.fromkeys(("cm3", "cc", "ml"), 1.0),
    **dict.fromkeys(("l", "litre", "litres", "liter", "liters"), 1000.0),
    **dict.fromkeys(("gal", "gallon", "gallons"), 231.0 * 2.54**3),  # the US gallon, exact
    **dict.fromkeys(("qt", "quart", "quarts"), 231.0 * 2.54**3 / 4.0),
    **dict.fromkeys(("in3", "cu in"), 2.54**3),
}
MMHG_KPA: Final = 13595.1 * 9.80665 / 1e6  # the conventional millimetre of mercury
BAROMETER_UNITS_KPA: Final = {
    **dict.fromkeys(("hpa", "mbar"), 0.1),
    **dict.fromkeys(("mmhg", "torr"), MMHG_KPA),
    "kpa": 1.0,
    "inhg": MM_PER_INCH * MMHG_KPA,
    "psia": PSI_KPA,
}
VISCOSITY_UNITS_PA_S: Final = {
    **dict.fromkeys(("cp", "cps", "mpas", "mpa s", "mpa.s"), 1e-3),
    **dict.fromkeys(("p", "poise"), 0.1),
    **dict.fromkeys(("pas", "pa s", "pa.s"), 1.0),
}
MASS_UNITS_G: Final = {
    **dict.fromkeys(("g", "gram", "grams"), 1.0),
    "mg": 1e-3,
    "kg": 1e3,
    **dict.fromkeys(("oz", "ounce", "ounces"), 28.349523125),  # avoirdupois, exact
    **dict.fromkeys(("lb", "lbs", "pound", "pounds"), 453.59237),
}
DENSITY_UNITS_KG_M3: Final = {**dict.fromkeys(("g/cm3", "g/ml", "g/cc", "kg/l"), 1e3), "kg/m3": 1.0}
ANGLE_UNITS_DEG: Final = dict.fromkeys(("deg", "degree", "degrees", "\N{DEGREE SIGN}"), 1.0)
PRESSURE_UNITS_KPA: Final = {"psi": PSI_KPA, "kpa": 1.0, "bar": 100.0, "mbar": 0.1, "hpa": 0.1}

_LENGTH_CURE: Final = "write 44mm or 1.75in"
_PRESSURE_CURE: Final = "write 60psi (what the dial shows), 74.7psia, '4 bar gauge' or '500 kPa abs'"
_ALTITUDE_CURE: Final = "write 1500m or 4900ft"
_BAROMETER_CURE: Final = "write '1013 hPa', 101.3kPa, 29.92inHg or 760mmHg"
_TEMPERATURE_CURE: Final = "write 24C or 75F"
_DURATION_CURE: Final = "write 20min, 900s or 12h"
_VOLUME_CURE: Final = "write 30cm3, 9.5l or 2.5gal"
_ANGLE_CURE: Final = "write 270deg"
_VISCOSITY_CURE: Final = "write 600cP or '0.6 Pa s'"
_MASS_CURE: Final = "write 24.80g or 0.875oz"
_DENSITY_CURE: Final = "write 1.15g/cm3 or 1150kg/m3"
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


def altitude_m(text: str, *, what: str = "altitude") -> float:
    """Return the altitude above the sea written in `text` in m; below 0 in a land below the sea.

    >>> altitude_m("1.5 km"), altitude_m("-430m")
    (1500.0, -430.0)

    Raises
    ------
    UnitError
        Without a number or one of the units m, km and ft.
    """
    return _measured(text, ALTITUDE_UNITS_M, what=what, cure=_ALTITUDE_CURE)


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
    return AbsolutePressure(_above_zero(plain, BAROMETER_UNITS_KPA, what=what, cure=_BAROMETER_CURE))


def celsius(text: str, *, what: str = "temperature") -> float:
    """Return the temperature written in `text` in degrees Celsius.

    >>> celsius("24C"), celsius("77 F")
    (24.0, 25.0)

    Raises
    ------
    UnitError
        Without a number or one of the units C and F.
    """
    plain = text.replace("\N{DEGREE SIGN}", " ")
    number = _measured(plain, {"c": 1.0, "f": 1.0}, what=what, cure=_TEMPERATURE_CURE)
    return (number - 32.0) / 1.8 if plain.strip().lower().endswith("f") else number


def duration_s(text: str, *, what: str = "time") -> float:
    """Return the time written in `text` in seconds.

    >>> duration_s("20 min")
    1200.0

    Raises
    ------
    UnitError
        Without a number or one of the units s, min and h, or not above zero.
    """
    return _above_zero(text, DURATION_UNITS_S, what=what, cure=_DURATION_CURE)


def volume_cm3(text: str, *, what: str = "volume") -> float:
    """Return the volume written in `text` in cm3; gallons and quarts are those of the United States.

    >>> volume_cm3("9.5 l"), round(volume_cm3("2.5gal"))
    (9500.0, 9464)

    Raises
    ------
    UnitError
        Without a number or a unit of volume, or not above zero.
    """
    return _above_zero(text, VOLUME_UNITS_CM3, what=what, cure=_VOLUME_CURE)


def angle_deg(text: str, *, what: str = "angle") -> float:
    """Return the angle written in `text` in degrees.

    >>> angle_deg("270 deg")
    270.0

    Raises
    ------
    UnitError
        Without a number or the unit deg, or not above zero.
    """
    return _above_zero(text, ANGLE_UNITS_DEG, what=what, cure=_ANGLE_CURE)


def viscosity_pa_s(text: str, *, what: str = "viscosity") -> float:
    """Return the viscosity written in `text` in Pa s.

    >>> viscosity_pa_s("600cP"), viscosity_pa_s("0.6 Pa s")
    (0.6, 0.6)

    Raises
    ------
    UnitError
        Without a number or one of the units cP, mPa s, P and Pa s, or not above zero.
    """
    return _above_zero(text, VISCOSITY_UNITS_PA_S, what=what, cure=_VISCOSITY_CURE)


def mass_g(text: str, *, what: str = "mass") -> float:
    """Return the mass written in `text` in grams.

    >>> mass_g("24.80g"), round(mass_g("1oz"), 4)
    (24.8, 28.3495)

    Raises
    ------
    UnitError
        Without a number or one of the units g, mg, kg, oz and lb, or not above zero.
    """
    return _above_zero(text, MASS_UNITS_G, what=what, cure=_MASS_CURE)


def density_kg_m3(text: str, *, what: str = "density") -> float:
    """Return the density written in `text` in kg/m3.

    >>> density_kg_m3("1.15g/cm3"), density_kg_m3("1150 kg/m3")
    (1150.0, 1150.0)

    Raises
    ------
    UnitError
        Without a number or one of the units g/cm3, g/ml and kg/m3, or not above zero.
    """
    return _above_zero(text, DENSITY_UNITS_KG_M3, what=what, cure=_DENSITY_CURE)


def _above_zero(text: str, units: Mapping[str, float], *, what: str, cure: str) -> float:
    """Return a number in the unit that counts 1, refused where it is zero or less."""
    number = _measured(text, units, what=what, cure=cure)
    if number <= 0.0:
        raise UnitError(f"{what} {_shown(text)} is not above zero: {cure}")
    return number


def _measured(text: str, units: Mapping[str, float], *, what: str, cure: str) -> float:
    """Return a number in the unit that counts 1 in `units`, refused without one of these units."""
    shown = _shown(text)
    number, unit = _split(text, what=what, cure=cure)
    if not unit:
        raise UnitError(f"{what} {shown} has no unit: {cure}")
    if unit not in units:
        raise UnitError(f"{what} {shown} has no known unit ({_shown(unit)}): {cure}")
    _check_finite(number, f"{what} {shown}", cure=cure)
    return number * units[unit]


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
