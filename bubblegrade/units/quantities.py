"""Lengths, times, volumes and the like: each parsed from text into its one unit inside."""

from __future__ import annotations

import math
from typing import Final

from bubblegrade.errors import UnitError
from bubblegrade.units.written import above_zero, check_finite, last_step, measured, quoted, split

MM_PER_INCH: Final = 25.4  # exact, international yard and pound agreement, 1959

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
SCALE_UNITS: Final = frozenset({"", "mm/px", "mm per px"})

_LENGTH_CURE: Final = "write 44mm or 1.75in"
_ALTITUDE_CURE: Final = "write 1500m or 4900ft"
_TEMPERATURE_CURE: Final = "write 24C or 75F"
_DURATION_CURE: Final = "write 20min, 900s or 12h"
_VOLUME_CURE: Final = "write 30cm3, 9.5l or 2.5gal"
_ANGLE_CURE: Final = "write 270deg"
_SCALE_CURE: Final = "give millimetres per pixel, such as 0.0375"
_VISCOSITY_CURE: Final = "write 600cP or '0.6 Pa s'"
_MASS_CURE: Final = "write 24.80g or 0.875oz"
_DENSITY_CURE: Final = "write 1.15g/cm3 or 1150kg/m3"


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
    shown = quoted(text)
    number, unit = split(text, what=what, cure=_LENGTH_CURE)
    if not unit:
        raise UnitError(f"{what} {shown} has no unit: {_length_cure(number)}")
    if unit not in LENGTH_UNITS_MM:
        raise UnitError(f"{what} {shown} has no known unit of length ({quoted(unit)}): {_LENGTH_CURE}")
    length = number * LENGTH_UNITS_MM[unit]
    check_finite(length, f"{what} {shown}", cure=_LENGTH_CURE)
    if length <= 0.0:
        raise UnitError(f"{what} {shown} is not above zero: {_LENGTH_CURE}")
    return length


def altitude_m(text: str, *, what: str = "altitude") -> float:
    """Return the altitude above the sea written in `text` in m; below 0 in a land below the sea.

    >>> altitude_m("1.5 km"), altitude_m("-430m")
    (1500.0, -430.0)

    Raises
    ------
    UnitError
        Without a number or one of the units m, km and ft.
    """
    return measured(text, ALTITUDE_UNITS_M, what=what, cure=_ALTITUDE_CURE)


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
    number = measured(plain, {"c": 1.0, "f": 1.0}, what=what, cure=_TEMPERATURE_CURE)
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
    return above_zero(text, DURATION_UNITS_S, what=what, cure=_DURATION_CURE)


def volume_cm3(text: str, *, what: str = "volume") -> float:
    """Return the volume written in `text` in cm3; gallons and quarts are those of the United States.

    >>> volume_cm3("9.5 l"), round(volume_cm3("2.5gal"))
    (9500.0, 9464)

    Raises
    ------
    UnitError
        Without a number or a unit of volume, or not above zero.
    """
    return above_zero(text, VOLUME_UNITS_CM3, what=what, cure=_VOLUME_CURE)


def angle_deg(text: str, *, what: str = "angle") -> float:
    """Return the angle written in `text` in degrees.

    >>> angle_deg("270 deg")
    270.0

    Raises
    ------
    UnitError
        Without a number or the unit deg, or not above zero.
    """
    return above_zero(text, ANGLE_UNITS_DEG, what=what, cure=_ANGLE_CURE)


def scale_mm_per_px(text: str, *, what: str = "scale") -> float:
    """Return the millimetres per pixel written in `text`; whether such a scale can be, `stated_scale` tells.

    >>> scale_mm_per_px("0.0375"), scale_mm_per_px("0,0375 mm/px")
    (0.0375, 0.0375)

    Raises
    ------
    UnitError
        Without a number, or with another unit.
    """
    number, unit = split(text, what=what, cure=_SCALE_CURE)
    if unit not in SCALE_UNITS:
        raise UnitError(f"{what} {quoted(text)} has no known unit ({quoted(unit)}): {_SCALE_CURE}")
    return number


def viscosity_pa_s(text: str, *, what: str = "viscosity") -> float:
    """Return the viscosity written in `text` in Pa s.

    >>> viscosity_pa_s("600cP"), viscosity_pa_s("0.6 Pa s")
    (0.6, 0.6)

    Raises
    ------
    UnitError
        Without a number or one of the units cP, mPa s, P and Pa s, or not above zero.
    """
    return above_zero(text, VISCOSITY_UNITS_PA_S, what=what, cure=_VISCOSITY_CURE)


def mass_g(text: str, *, what: str = "mass") -> float:
    """Return the mass written in `text` in grams.

    >>> mass_g("24.80g"), round(mass_g("1oz"), 4)
    (24.8, 28.3495)

    Raises
    ------
    UnitError
        Without a number or one of the units g, mg, kg, oz and lb, or not above zero.
    """
    return above_zero(text, MASS_UNITS_G, what=what, cure=_MASS_CURE)


def mass_step_g(text: str, *, what: str = "mass") -> float:
    """Return what one step of the last digit of the mass written in `text` counts, in grams.

    >>> mass_step_g("24.80g"), round(mass_step_g("0.11oz"), 3)
    (0.01, 0.283)

    Raises
    ------
    UnitError
        As `mass_g`.
    """
    return last_step(text, MASS_UNITS_G, what=what, cure=_MASS_CURE)


def density_step_kg_m3(text: str, *, what: str = "density") -> float:
    """Return what one step of the last digit of the density written in `text` counts, in kg/m3.

    >>> density_step_kg_m3("1.15g/cm3"), density_step_kg_m3("1150 kg/m3")
    (10.0, 1.0)

    Raises
    ------
    UnitError
        As `density_kg_m3`.
    """
    return last_step(text, DENSITY_UNITS_KG_M3, what=what, cure=_DENSITY_CURE)


def density_kg_m3(text: str, *, what: str = "density") -> float:
    """Return the density written in `text` in kg/m3.

    >>> density_kg_m3("1.15g/cm3"), density_kg_m3("1150 kg/m3")
    (1150.0, 1150.0)

    Raises
    ------
    UnitError
        Without a number or one of the units g/cm3, g/ml and kg/m3, or not above zero.
    """
    return above_zero(text, DENSITY_UNITS_KG_M3, what=what, cure=_DENSITY_CURE)


def _length_cure(number: float) -> str:
    """Return the cure for a bare number, with the user's own number where it makes a length."""
    return f"write {number:g}mm or 1.75in" if 0.0 < number < math.inf else _LENGTH_CURE
