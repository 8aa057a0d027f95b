"""What only a log asks for: shares, mixing ratios, vacuums, dates and times of day, each as people write them.

Every reader takes the text and what it is called in an error, and returns the number in the unit of its name.
"""

from __future__ import annotations

import datetime
import math
import re
from typing import Final

from bubblegrade.errors import InputError, UnitError
from bubblegrade.pressure import atmosphere as air
from bubblegrade.units import AT_SEA_LEVEL, GaugePressure, altitude_m, barometer, celsius, pressure

ZERO_C_K: Final = 273.15
COLDEST_C: Final = -40.0  # no resin is cast colder
HOTTEST_C: Final = 250.0  # a runaway exotherm passes 200 C (maker guidance)
MOST_VACUUM_KPA: Final = 110.0  # no more can be taken from the air there is
_NUMBER: Final = re.compile(r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(.*)", re.ASCII)
_RATIO: Final = re.compile(r"([\d.,]+)\s*(?::|to|/)\s*([\d.,]+)", re.ASCII)
_CLOCK: Final = re.compile(r"\d{1,2}:\d{2}(:\d{2})?", re.ASCII)
FARTHEST_ZONE_S: Final = 14 * 3600.0  # no clock is farther from that of UTC
_DAY_CURE: Final = "write 2026-03-01, '2026-03-01 08:15' or 2026-03-01T08:15+01:00"


def humidity_share(text: str, what: str) -> float:
    """Return a relative humidity as a share, 0 to 1.

    >>> humidity_share("45 %RH", "humidity")
    0.45

    Raises
    ------
    UnitError
        It is no percentage from 0 to 100.
    """
    share = deviation_share(re.sub(r"\s*r\.?h\.?\s*$", "", text, flags=re.IGNORECASE), what)
    if not 0.0 <= share <= 1.0:
        raise UnitError(f"{what} {text} is out of range: write 0% to 100%")
    return share


def deviation_share(text: str, what: str) -> float:
    """Return a deviation in percent as a share, of either sign.

    >>> deviation_share("-1.5%", "ratio error")
    -0.015

    Raises
    ------
    UnitError
        It is no percentage.
    """
    number, unit = _split(text, what, cure="write 45%")
    if unit not in ("%", "percent"):
        as_share = f", or {100.0 * number:g}% where it is a share of 1" if 0.0 < abs(number) <= 1.0 else ""
        raise UnitError(f"{what} {text} has no percent sign: write {number:g}%{as_share}")
    return number / 100.0


def ratio_b_per_a(text: str, what: str) -> float:
    """Return how much of part B is taken to one of part A.

    >>> ratio_b_per_a("100:90", "ratio")
    0.9

    Raises
    ------
    UnitError
        It is not two numbers above zero with a colon between them.
    """
    parts = _RATIO.fullmatch(text.strip().lower())
    try:
        a, b = (float(part.replace(",", ".")) for part in parts.groups()) if parts else (0.0, 0.0)
    except ValueError:
        a = b = 0.0
    if a <= 0.0 or b <= 0.0:
        raise UnitError(f"{what} {text} is no ratio: write parts A to parts B, such as 100:90")
    return b / a


def vacuum_kpa_below(text: str, what: str) -> float:
    """Return a vacuum as its dial shows it, in kPa below the air around.

    >>> round(vacuum_kpa_below("29 inHg", "vacuum"), 1)
    98.2

    Raises
    ------
    UnitError
        It is no pressure, or more than the air has.
    """
    kpa = barometer(text.removeprefix("-"), what=what).kpa
    if kpa > MOST_VACUUM_KPA or "abs" in text.lower():
        raise UnitError(f"{what} {text} is not what a vacuum's dial shows: write how far below the air, such as 29inHg")
    return kpa


def dial_kpa_gauge(text: str, what: str) -> float:
    """Return a pressure as the pot's dial shows it, in kPa gauge.

    >>> dial_kpa_gauge("4 bar gauge", "gauge")
    400.0

    Raises
    ------
    UnitError
        It counts from vacuum, is no pressure, or more than any pot holds.
    """
    said = pressure(text, what=what)
    if not isinstance(said, GaugePressure):
        raise UnitError(
            f"{what} {text} counts from vacuum, and the log keeps what the dial shows: write that, {AT_SEA_LEVEL}"
        )
    return air.gauge(said, air.SEA_LEVEL_KPA, what=what).kpa_gauge


def barometer_kpa(text: str, what: str) -> float:
    """Return the air's own pressure in kPa absolute.

    Raises
    ------
    UnitError
        It is no air pressure that there is on land.
    """
    return air.atmosphere(barometer=barometer(text, what=what)).kpa


def height_m(text: str, what: str) -> float:
    """Return a height above the sea in m.

    Raises
    ------
    UnitError
        It is no height that there is on land.
    """
    height = altitude_m(text, what=what)
    air.altitude_kpa(height)
    return height


def temperature_k(text: str, what: str) -> float:
    """Return a temperature in kelvin.

    >>> temperature_k("25C", "temperature")
    298.15

    Raises
    ------
    UnitError
        It is no temperature that resin is cast at.
    """
    degrees = celsius(text, what=what)
    if not COLDEST_C <= degrees <= HOTTEST_C:
        raise UnitError(f"{what} {text} is out of range: write {COLDEST_C:g}C to {HOTTEST_C:g}C")
    return degrees + ZERO_C_K


def day_s(text: str, what: str) -> float:
    """Return a day, with or without a time, in seconds since 1970; a time without a zone counts as if in UTC.

    >>> day_s("1970-01-02", "cast"), day_s("1970-01-01T01:00+01:00", "cast")
    (86400.0, 0.0)

    Raises
    ------
    InputError
        It is no day of the calendar written year first.
    """
    try:
        moment = datetime.datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"{what} {text} is no day: {_DAY_CURE}") from None
    return (moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)).timestamp()


def own_clock_s(text: str | None, moment_s: float) -> float:
    """Return a moment, written in `text` where it is, by the clock of the zone it was written in, in s since 1970.

    A day that begins in one zone is another one elsewhere:

    >>> day_s("1970-01-02T01:00+09:00", "cast"), own_clock_s("1970-01-02T01:00+09:00", 57600.0)
    (57600.0, 90000.0)
    """
    try:
        moment = datetime.datetime.fromisoformat((text or "").strip())
    except ValueError:  # no day is known, or it was written by another hand
        return moment_s
    return moment.replace(tzinfo=datetime.UTC).timestamp()


def has_zone(text: str) -> bool:
    """Say whether a day that `day_s` reads names a zone.

    >>> has_zone("2026-03-01 08:15Z"), has_zone("2026-03-01")
    (True, False)
    """
    return datetime.datetime.fromisoformat(text.strip()).tzinfo is not None


def is_day(text: str) -> bool:
    """Say whether a day that `day_s` reads is a whole one, without a time.

    >>> is_day("2026-03-01"), is_day("2026-03-01T19:00-05:00"), is_day("2026-03-01 00:00")
    (True, False, False)
    """
    try:
        datetime.date.fromisoformat(text.strip())
    except ValueError:
        return False
    return True


def clock_s(text: str, what: str) -> float:
    """Return a time of day in seconds after midnight; a day and a zone may stand beside it.

    >>> clock_s("8:15", "pour start"), clock_s("2026-03-01T08:15+01:00", "pour start")
    (29700.0, 29700.0)

    Raises
    ------
    InputError
        It is no time of day.
    """
    plain = text.strip()
    try:
        if _CLOCK.fullmatch(plain):
            time = datetime.time.fromisoformat(plain.rjust(8 if plain.count(":") > 1 else 5, "0"))
        elif ":" in plain:
            time = datetime.datetime.fromisoformat(plain).time()
        else:
            raise ValueError
    except ValueError:
        raise InputError(f"{what} {text} is no time of day: write 08:15 or '2026-03-01 08:15'") from None
    return 3600.0 * time.hour + 60.0 * time.minute + time.second


def _split(text: str, what: str, *, cure: str) -> tuple[float, str]:
    """Return the number at the head of a text, its decimal sign a point or a comma, and the unit behind it."""
    parts = _NUMBER.fullmatch(text.strip().replace("\N{MINUS SIGN}", "-").lower())
    number = float(parts[1].replace(",", ".")) if parts else math.nan
    if parts is None or not math.isfinite(number):
        raise UnitError(f"{what} {text} does not begin with a number: {cure}")
    return number, parts[2].strip()
