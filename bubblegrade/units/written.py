"""A number and its unit as people write them, apart from what is measured."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Final

from bubblegrade.errors import UnitError

_LONGEST_SHOWN: Final = 40  # characters of the user's text that an error repeats
_NUMBER: Final = re.compile(
    r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[+-]?\d+)?|[+-]?(?:nan|inf(?:inity)?\b))\s*(.*)", re.A
)
_THOUSANDS: Final = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.A)


def above_zero(text: str, units: Mapping[str, float], *, what: str, cure: str) -> float:
    """Return a number in the unit that counts 1, above zero.

    Raises
    ------
    UnitError
        As `measured`, or it is zero or less.
    """
    number = measured(text, units, what=what, cure=cure)
    if number <= 0.0:
        raise UnitError(f"{what} {quoted(text)} is not above zero: {cure}")
    return number


def decimal(text: str) -> float:
    """Return a number without a unit, such as a share; its decimal sign is a point or a comma.

    >>> decimal("0.05"), decimal(" 0,05")
    (0.05, 0.05)

    Raises
    ------
    ValueError
        It is no number.
    UnitError
        It is one that can be read in two ways, such as 1,000.
    """
    plain = text.strip()
    if _THOUSANDS.fullmatch(plain):
        raise UnitError(f"{plain} can be read in two ways: write {_either(plain)}")
    return float(plain.replace(",", "."))


def measured(text: str, units: Mapping[str, float], *, what: str, cure: str) -> float:
    """Return a number in the unit that counts 1 in `units`.

    Raises
    ------
    UnitError
        As `split`, without one of these units, or it is not finite.
    """
    shown = quoted(text)
    number, unit = split(text, what=what, cure=cure)
    if not unit:
        raise UnitError(f"{what} {shown} has no unit: {cure}")
    if unit not in units:
        raise UnitError(f"{what} {shown} has no known unit ({quoted(unit)}): {cure}")
    check_finite(number, f"{what} {shown}", cure=cure)
    return number * units[unit]


def last_step(text: str, units: Mapping[str, float], *, what: str, cure: str) -> float:
    """Return what one step of the last digit written counts, in the unit that counts 1 in `units`.

    >>> [last_step(each, {"g": 1.0, "kg": 1000.0}, what="mass", cure="") for each in ("3,26 g", "25kg", "2.5e3g")]
    [0.01, 1000.0, 100.0]

    Raises
    ------
    UnitError
        As `measured`.
    """
    measured(text, units, what=what, cure=cure)
    parts = _NUMBER.fullmatch(text.strip().lower())
    assert parts is not None  # noqa: S101  # `measured` has read it
    digits, _, power = parts.group(1).replace(",", ".").partition("e")
    places = len(digits.partition(".")[2])
    return float(f"1e{int(power or 0) - places}") * units[split(text, what=what, cure=cure)[1]]


def split(text: str, *, what: str, cure: str) -> tuple[float, str]:
    """Return the number at the head of `text` and the unit behind it, in small letters.

    Raises
    ------
    UnitError
        There is no number, or one that can be read in two ways.
    """
    plain = text.strip().replace("\N{MINUS SIGN}", "-").lower()
    if not plain:
        raise UnitError(f"{what} is empty: {cure}")
    parts = _NUMBER.fullmatch(plain)
    if parts is None:
        raise UnitError(f"{what} {quoted(text)} does not begin with a number: {cure}")
    digits, unit = parts.groups()
    if _THOUSANDS.fullmatch(digits):
        raise UnitError(f"{what} {quoted(text)} can be read in two ways: write {_either(digits, unit)}")
    return float(digits.replace(",", ".")), unit.strip()


def _either(digits: str, unit: str = "") -> str:
    """Return both ways in which a number with one comma can be meant."""
    return f"{digits.replace(',', '.')}{unit} or {digits.replace(',', '')}{unit}"


def check_finite(number: float, shown: str, *, cure: str) -> None:
    """Refuse what is not a number or has no end.

    Raises
    ------
    UnitError
        It is such a thing.
    """
    if not math.isfinite(number):
        raise UnitError(f"{shown} is not a finite number: {cure}")


def quoted(text: str) -> str:
    """Return `text` on one line, short enough to repeat in an error."""
    line = "".join(sign if sign.isprintable() else "?" for sign in " ".join(text.split()))
    return line if len(line) <= _LONGEST_SHOWN else f"{line[:_LONGEST_SHOWN]}..."
