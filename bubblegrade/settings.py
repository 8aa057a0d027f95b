"""Every number that a user may tune: its unit, its reason, its range; read from TOML."""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass, field, fields, replace
from typing import Any, Final

from bubblegrade.errors import SettingsError

# Our own words with the least score of each, best first. In cover: under 0.03, 0.18, 0.67 and 2.3 %, about a factor
# of four a step; chosen to part castings by eye, not taken from any standard.
GRADES: Final = (("spotless", 97.0), ("sparse", 85.0), ("speckled", 60.0), ("bubbly", 30.0), ("foamy", 0.0))


def _number(default: float, low: float, high: float) -> Any:
    return field(default=default, metadata={"low": low, "high": high})


@dataclass(frozen=True)
class Settings:
    """What grading can be told; the defaults suit clear castings on a light panel."""

    index: float = _number(1.50, 1.30, 1.70)  # of the cured resin: epoxy 1.50 to 1.57, urethane 1.49 to 1.53
    smallest_px: float = _number(5.0, 4.0, 100.0)  # below about 5 px no diameter can be told (optics)
    accept: float = _number(0.5, 0.05, 0.95)  # probability from which a find counts as a void
    unsure: float = _number(0.1, 0.01, 0.95)  # from here up to `accept` it is shown as unsure
    grades: tuple[tuple[str, float], ...] = GRADES  # words and least clarity, best first, the last at 0

    @property
    def index_stated(self) -> bool:
        """Whether the resin's index is told; the one that is usual counts as not told.

        >>> Settings().index_stated, Settings(index=1.56).index_stated
        (False, True)
        """
        return self.index != Settings.index


def read_settings(text: str, *, name: str) -> Settings:
    """Return the settings in the TOML `text`; `name` is the file's, for messages.

    Raises
    ------
    SettingsError
        The text is no TOML, or a name or a value in it cannot be used.

    >>> read_settings("index = 1.55", name="mine.toml").index
    1.55
    """
    try:
        given = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise SettingsError(f"{name} is not TOML ({error}): write lines such as index = 1.55") from error
    known = {f.name: f for f in fields(Settings)}
    chosen: dict[str, Any] = {}
    for key, value in given.items():
        if key not in known:
            raise SettingsError(f"{name}: {key} is not a setting: {nearest(key, list(known))}")
        chosen[key] = _grades(value, name) if key == "grades" else _checked(key, value, known[key].metadata, name)
    settings = replace(Settings(), **chosen)
    if settings.unsure > settings.accept:
        raise SettingsError(f"{name}: unsure {settings.unsure:g} is above accept {settings.accept:g}: make it smaller")
    return settings


def with_index(settings: Settings, text: str, *, what: str) -> Settings:
    """Return the settings with the resin's refractive index as somebody wrote it; `what` names it in messages.

    The decimal sign is a point or a comma.

    Raises
    ------
    SettingsError
        It is no number, or no index that a clear resin has.

    >>> with_index(Settings(), "1.56", what="--index").index, with_index(Settings(), "1,56", what="--index").index
    (1.56, 1.56)
    """
    try:
        number = float(text.replace(",", "."))  # no index is a thousand and more
    except ValueError:
        raise SettingsError(f"{what} {text[:20]!r} is not a number: give the cured resin's, such as 1.55") from None
    limits = next(f for f in fields(Settings) if f.name == "index").metadata
    if not limits["low"] <= number <= limits["high"]:
        raise SettingsError(f"{what} {text[:20]} is out of range: give {limits['low']:g} to {limits['high']:g}")
    return replace(settings, index=number)


def nearest(key: str, known: list[str]) -> str:
    """Return the cure for an unknown name: the known one nearest to it, or all of them.

    >>> nearest("indx", ["index", "accept"])
    'did you mean index?'
    """
    begun = [name for name in known if key and name.startswith(key)]
    near = begun or difflib.get_close_matches(key, known, n=1)
    return f"did you mean {near[0]}?" if near else f"use one of {', '.join(known)}"


def _checked(key: str, value: Any, limits: Any, name: str) -> float:
    if isinstance(value, str):
        raise SettingsError(f"{name}: {key} = {value!r} is text: write a number, without quotation marks")
    if isinstance(value, bool) or not isinstance(value, int | float) or not limits["low"] <= value <= limits["high"]:
        raise SettingsError(f"{name}: {key} = {value!r} is out of range: give {limits['low']:g} to {limits['high']:g}")
    return float(value)


def _grades(value: Any, name: str) -> tuple[tuple[str, float], ...]:
    cure = (
        f"{name}: grades must be a table of words with falling least clarity, the last 0, such as clean = 90, foamy = 0"
    )
    if not isinstance(value, dict) or not value:
        raise SettingsError(cure)
    limits = list(value.values())
    numbers = all(isinstance(v, int | float) and not isinstance(v, bool) for v in limits)
    if not numbers or limits != sorted(set(limits), reverse=True) or limits[-1] != 0 or limits[0] > 100:  # noqa: PLR2004
        raise SettingsError(cure)
    return tuple((word, float(least)) for word, least in value.items())
