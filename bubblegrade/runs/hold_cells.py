"""The words of a hold test as people write them: a time, what the dial showed or its photograph, a temperature."""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError, UnitError
from bubblegrade.photo.reading import is_picture
from bubblegrade.units import AT_SEA_LEVEL, GaugePressure, barometer, celsius, duration_s, pressure

_ZERO: Final = re.compile(r"0+([.,]0*)?\s*[a-z]*", re.IGNORECASE)
_CLOCK: Final = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}[T ].+")
_UNIT: Final = re.compile(r"[-+\d.,\s]*(.*?)\s*", re.DOTALL)
_TIME_CURE: Final = "write 0min and 2h, or 08:15, or 2026-03-01 08:15"
_KINDS: Final = ("a time since the start", "a time of day", "a day and time")


@dataclass(frozen=True)
class Words:
    """One reading as written; empty where nothing was."""

    time: str
    gauge: str = ""
    photo: Path | None = None
    temperature: str = ""
    barometer: str = ""
    remark: str = ""
    at: str = ""  # where it stands, for messages
    shown: str = ""  # what its photograph is called there, where that is not its path


@dataclass(frozen=True)
class Time:
    """When a reading was taken, and how that was written."""

    at_s: float
    kind: str  # one of `_KINDS`
    day: datetime.date | None = None


def words_on_the_line(text: str) -> Words:
    """Return a reading written as TIME=GAUGE@TEMPERATURE or TIME=PHOTO@TEMPERATURE, the temperature left out at will.

    Raises
    ------
    InputError
        There is no time or nothing behind it.

    >>> words_on_the_line("2h=59psi@23C").temperature
    '23C'
    """
    time, _, rest = text.partition("=")
    shown, _, temperature = rest.rpartition("@") if "@" in rest else (rest, "", "")
    if not time.strip() or not shown.strip():
        raise InputError(f"{text} is no reading: write TIME=GAUGE@TEMPERATURE, such as 0min=60psi@24C 2h=59.5psi@23C")
    at = f"reading {text}"
    if is_picture(Path(shown.strip())):
        return Words(time.strip(), photo=Path(shown.strip()), temperature=temperature.strip(), at=at)
    return Words(time.strip(), shown.strip(), temperature=temperature.strip(), at=at)


def time_of(text: str) -> Time:
    """Return when a reading was taken: 0min and 2h, 08:15, or 2026-03-01 08:15.

    Raises
    ------
    InputError
        It is none of these.

    >>> time_of("0").at_s, time_of("08:15").at_s, time_of("90 min").at_s
    (0.0, 29700.0, 5400.0)
    """
    if _ZERO.fullmatch(text):
        return Time(0.0, _KINDS[0])
    try:
        if _CLOCK.fullmatch(text):
            clock = datetime.time.fromisoformat(text.rjust(8 if text.count(":") > 1 else 5, "0"))
            return Time(3600.0 * clock.hour + 60.0 * clock.minute + clock.second, _KINDS[1])
        if _DAY.fullmatch(text):
            moment = datetime.datetime.fromisoformat(text).replace(tzinfo=datetime.UTC)
            return Time(moment.timestamp(), _KINDS[2], moment.date())
    except ValueError:
        raise InputError(f"time {text} is no time: {_TIME_CURE}") from None
    try:
        return Time(duration_s(text), _KINDS[0])
    except UnitError as error:
        raise InputError(f"time {text} is no time of a reading: {_TIME_CURE}") from error


def dial_of(text: str, *, what: str = "gauge") -> GaugePressure:
    """Return what the dial showed; `what` names it in an error.

    Raises
    ------
    UnitError
        It is no gauge pressure.
    """
    found = pressure(text, what=what)
    if not isinstance(found, GaugePressure):
        raise UnitError(
            f"{what} {text} counts from vacuum, and the test is of what the dial shows: write that, {AT_SEA_LEVEL}"
        )
    return found


def temperature_of(text: str) -> float:
    """Return the temperature beside the dial in degrees Celsius.

    Raises
    ------
    UnitError
        It has no unit that is known.
    """
    if text.strip().lower().endswith("k"):
        raise UnitError(f"temperature {text} counts in kelvin: take 273.15 off and write C, such as 24C")
    return celsius(text)


def air_of(text: str) -> float:
    """Return what the barometer showed, in kPa.

    Raises
    ------
    UnitError
        It is no pressure of the air.
    """
    return barometer(text).kpa


def unit_of(text: str) -> str:
    """Return the unit behind a number, in small letters.

    >>> unit_of("59,5 PSI"), unit_of("24 \N{DEGREE SIGN}C")
    ('psi', 'c')
    """
    parts = _UNIT.fullmatch(text)
    assert parts is not None  # noqa: S101 - the pattern takes any text
    return parts[1].replace("\N{DEGREE SIGN}", "").strip().lower().replace("psig", "psi")
