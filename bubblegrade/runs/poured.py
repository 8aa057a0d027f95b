"""The cups of a trial as the user names them: PRESSURE=PLACE on the command line, or rows of a sheet."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.pressure.atmosphere import Atmosphere, gauge, one_setting
from bubblegrade.pressure.poured import Stated
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.inputs import find_sources
from bubblegrade.show.printable import printable
from bubblegrade.units import GaugePressure, Pressure, pressure

EXAMPLE: Final = "0psi=cups/open 30psi=a.jpg,b.jpg"
LEAST_PRESSURES: Final = 2  # of a trial


@dataclass(frozen=True)
class Named:
    """A photograph of a cup, and what is said of the cup."""

    path: Path
    stated: Stated
    at: str  # where the user says so, for messages: a pressure, or a line of the sheet


@dataclass(frozen=True)
class Names:
    """One name for each pressure, the first that the user gives to it or to one that is the same setting."""

    _first: dict[tuple[Pressure, float], str] = field(default_factory=dict)  # by pressure and kPa from vacuum on

    def of(self, text: str, said: Pressure, air: Atmosphere) -> str:
        """Return the name of a pressure written as `text`, of a cup made in `air`.

        Two that a dial shows are held beside each other as it shows them, others from vacuum on.
        """
        absolute, words = _absolute_kpa(said, air), " ".join(text.split())
        if isinstance(said, GaugePressure) and "psi" in text.lower():
            words = f"{said.psig:.4g} psi"
        for (other, other_absolute), name in self._first.items():
            pair = (absolute, other_absolute)
            if isinstance(said, GaugePressure) and isinstance(other, GaugePressure):
                pair = (said.kpa_gauge, other.kpa_gauge)
            if one_setting(*pair):
                return name
        self._first[said, absolute] = words
        return words


def _absolute_kpa(said: Pressure, air: Atmosphere) -> float:
    return air.kpa + said.kpa_gauge if isinstance(said, GaugePressure) else said.kpa


def named_on_the_line(settings: Sequence[str], air: Atmosphere) -> tuple[tuple[Named, ...], tuple[NotGraded, ...]]:
    """Return the cups of PRESSURE=PLACE[,PLACE...] arguments, and why some of the places give none.

    Raises
    ------
    InputError
        An argument is no pressure with places.
    """
    names = Names()
    found: list[Named] = []
    faults: list[NotGraded] = []
    for text in settings:
        left, sign, right = text.partition("=")
        if not sign or not right.strip(" ,"):
            raise InputError(f"{printable(text)} is no pressure with its photographs: write {EXAMPLE}")
        said = pressure(left, what=f"{printable(text)}: pressure")
        stated = Stated(names.of(left, said, air), gauge(said, air.kpa, what=f"{printable(text)}: pressure"), air)
        sources = find_sources(_places(right), out=Path(os.devnull))
        found += [Named(source.path, stated, stated.setting) for source in sources.photographs]
        faults += sources.faults
    return tuple(found), tuple(faults)


def _places(text: str) -> list[Path]:
    """Return the places in a list; a place of that whole name comes first."""
    if os.path.lexists(text):
        return [Path(text)]
    return [Path(part.strip()) for part in text.split(",") if part.strip()]


def check_once(cups: Sequence[Named]) -> None:
    """Refuse a photograph that is named twice, also under another name.

    Raises
    ------
    InputError
        The same photograph stands for two cups.
    """
    _check_each(cups, (os.path.realpath(cup.path) for cup in cups), "is")
    _check_each(cups, (_hash(cup.path) for cup in cups), "is a copy of")


def _check_each(cups: Sequence[Named], keys: Iterable[str], how: str) -> None:
    seen: dict[str, Named] = {}
    for cup, key in zip(cups, keys, strict=True):
        other = seen.setdefault(key, cup)
        if other is cup:
            continue
        one, two = printable(str(other.path)), printable(str(cup.path))
        who = f"{two} is named twice" if how == "is" else f"{two} is a copy of {one}"
        if other.stated.setting == cup.stated.setting:
            raise InputError(f"{who} ({_both(other.at, cup.at)}): a cup counts once, leave one out")
        settings = f"at {other.stated.setting} and at {cup.stated.setting}"
        lines = "" if cup.at == cup.stated.setting else f" ({_both(other.at, cup.at)})"
        raise InputError(f"{who}, {settings}{lines}: a cup gelled at one pressure, keep the right one")


def _both(one: str, other: str) -> str:
    return one if one == other else f"{one} and {other}"


def _hash(path: Path) -> str:
    """Return what tells a file's bytes apart; one that cannot be read is like no other."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return str(path)


def check_pressures(cups: Sequence[Named], faults: Sequence[NotGraded] = ()) -> None:
    """Refuse a trial at one pressure only; `faults` are the places that gave no cup.

    Raises
    ------
    InputError
        There are not two different pressures.
    """
    settings = list(dict.fromkeys(cup.stated.setting for cup in cups))
    if faults and len(settings) < LEAST_PRESSURES:
        left = f"only {settings[0]} is" if settings else "no cup is"
        raise InputError(f"{'; '.join(fault.reason for fault in faults)}; {left} left, two pressures are needed")
    if len(settings) == 1:
        raise InputError(f"{settings[0]} is the only pressure: add cups at another one, best open ones at 0psi")
    if not settings:
        raise InputError(f"no cup is named: write {EXAMPLE}, or give a sheet with --sheet")


def check_populations(cups: Sequence[Named], *, across: bool) -> tuple[str, ...]:
    """Return the warning that cups of several recipes or resins are compared; refuse it unless `across`.

    Cups of unlike recipes differ in more than their pressure, so makers compare like with like. A cup without a word
    on its recipe is taken to be like the others.

    Raises
    ------
    InputError
        There are several, and `across` is not given.
    """
    said = []
    for what in ("recipe", "resin"):
        told = {" ".join(text.split()).casefold(): text for cup in cups if (text := getattr(cup.stated, what))}
        if len(told) > 1:
            listed = ", ".join(sorted(printable(text) for text in told.values()))
            said.append(f"{len(told)} {what}s ({listed})")
    if not said:
        return ()
    differ = " and ".join(said)
    if not across:
        raise InputError(
            f"the cups have {differ}, which differ in more than pressure: leave all but one out, "
            "or add --across-recipes to compare them as one"
        )
    return (f"The cups have {differ}: the fit presumes that all were poured with the same sizes of voids.",)
