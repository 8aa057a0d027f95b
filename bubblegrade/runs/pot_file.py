"""The small file that describes a pot: TOML in, a `Pot` out, every fault one line."""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from bubblegrade.errors import SettingsError, UnitError
from bubblegrade.pressure.pot import GAUGE_CLASSES, Dial, Pot, highest_relief, relief_contradicts, stated_limit
from bubblegrade.pressure.situation import Limits
from bubblegrade.runs.text_file import text_of
from bubblegrade.settings import nearest
from bubblegrade.units import GaugePressure, pressure, volume_cm3

_RANGE: Final = re.compile(
    r"\s*([\d.,]+)\s*(?:-|\N{EN DASH}|to)\s*([\d.,]+)\s*(psi|m?bar|[kh]pa)\s*(?:g|gauge)?\s*", re.IGNORECASE
)
_CURE: Final = 'write lines such as rated_pressure = "70psi"'
_RANGE_CURE: Final = 'write what the dial spans, such as "0-100 psi"'


def read_pot_file(path: Path) -> Pot:
    """Return the pot that a TOML file describes; what the file does not say stays unknown.

    Raises
    ------
    SettingsError
        The file cannot be read, or something in it cannot be used or contradicts the rest.
    """
    return read_pot(text_of(path, cure=_CURE), name=str(path))


def read_pot(text: str, *, name: str) -> Pot:
    """Return the pot in the TOML `text`; `name` is the file's, for messages.

    Raises
    ------
    SettingsError
        The text is no TOML, a name or a value in it cannot be used, or the relief valve contradicts the rating.

    >>> round(read_pot('rated_pressure = "70psi"', name="pot.toml").limits.rated.psig, 9)
    70.0
    """
    try:
        given = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SettingsError(f"{name} is not TOML ({error}): {_CURE}") from error
    said: dict[str, Any] = {}
    for key, value in given.items():
        if key not in KEYS:
            raise SettingsError(f"{name}: {key} is not known of a pot: {nearest(key, list(KEYS))}")
        try:
            said[key] = KEYS[key](value, key)
        except UnitError as error:
            raise SettingsError(f"{name}: {error}") from error
    return _pot(said, name)


def _pot(said: dict[str, Any], name: str) -> Pot:
    """Return the pot, refused where what was said contradicts itself."""
    limits = Limits(
        rated=said.get("rated_pressure"), relief=said.get("relief_setting"), mould=said.get("mould_pressure")
    )
    if relief_contradicts(limits) and limits.rated is not None and limits.relief is not None:
        raise SettingsError(
            f"{name}: relief_setting {limits.relief.psig:.4g} psi contradicts rated_pressure {limits.rated.psig:.4g} "
            f"psi, above which a relieved pot may rise to {highest_relief(limits.rated).psig:.4g} psi and no further: "
            "read both plates again, and have the right valve fitted if they are right"
        )
    ends = said.get("gauge_range")
    if ends is None and "gauge_class" in said:
        raise SettingsError(f"{name}: gauge_class is a share of the dial's span: add gauge_range = '0-100 psi'")
    return Pot(
        name=said.get("name"),
        limits=limits,
        dial=None if ends is None else Dial(ends[0], ends[1], said.get("gauge_class")),
        free_volume_cm3=said.get("free_volume"),
        last_inspection=said.get("last_inspection"),
    )


def dial_range(text: str, *, what: str) -> Dial:
    """Return a dial that spans what is written; `what` names it in an error.

    Raises
    ------
    UnitError
        It is no range with a unit, or does not rise.

    >>> round(dial_range("0-100 psi", what="--range").span_psi)
    100
    """
    return Dial(*_range(text, what))


def dial_class(text: str, *, what: str) -> str:
    """Return a dial's grade or class as written; `what` names it in an error.

    Raises
    ------
    UnitError
        It is none of them.
    """
    return _grade(text, what)


def _text(value: Any, key: str, *, cure: str) -> str:
    """Return a value that must be text."""
    if not isinstance(value, str):
        raise UnitError(f"{key} = {value} is not text in quotes: {cure}")
    return value


def _name(value: Any, key: str) -> str:
    """Return what the owner calls the pot."""
    return " ".join(_text(value, key, cure=f'write {key} = "the blue pot"').split())


def _limit(value: Any, key: str) -> GaugePressure:
    """Return a limit as a plate states it."""
    return stated_limit(_text(value, key, cure=f'write it with its unit, such as {key} = "60psi"'), what=key)


def _range(value: Any, key: str) -> tuple[GaugePressure, GaugePressure]:
    """Return both ends of the dial; a dial counts from the air and need not say so."""
    text = _text(value, key, cure=_RANGE_CURE)
    parts = _RANGE.fullmatch(text)
    if parts is None:
        raise UnitError(f"{key} {text} is no range with a unit: {_RANGE_CURE}")
    low, high = (pressure(f"{end}{parts[3]} gauge", what=f"{key} {text}:") for end in parts.groups()[:2])
    if not (isinstance(low, GaugePressure) and isinstance(high, GaugePressure) and low < high):
        raise UnitError(f"{key} {text} does not rise: {_RANGE_CURE}")
    return low, high


def _grade(value: Any, key: str) -> str:
    """Return the dial's grade or class."""
    text = str(value).strip().upper()
    if isinstance(value, bool) or text not in GAUGE_CLASSES:
        raise UnitError(f"{key} = {value!r} is no class of a gauge: use one of {', '.join(GAUGE_CLASSES)}")
    return text


def _volume(value: Any, key: str) -> float:
    """Return the volume of air in cm3."""
    return volume_cm3(_text(value, key, cure=f'write it with its unit, such as {key} = "9.5l"'), what=key)


def _date(value: Any, key: str) -> datetime.date:
    """Return a day, written with or without quotes."""
    try:
        day = datetime.date.fromisoformat(value) if isinstance(value, str) else value
    except ValueError:
        day = None
    if not isinstance(day, datetime.date) or isinstance(day, datetime.datetime):
        raise UnitError(f"{key} = {value} is no day: write year, month and day, such as {key} = 2025-03-31")
    return day


KEYS: Final[dict[str, Callable[[Any, str], Any]]] = {
    "name": _name,
    "rated_pressure": _limit,
    "relief_setting": _limit,
    "mould_pressure": _limit,
    "gauge_range": _range,
    "gauge_class": _grade,
    "free_volume": _volume,
    "last_inspection": _date,
}
