"""The hold test on the bench: readings typed, or photographs of the dial in the folder, in the words of the form."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import count
from typing import Final

from bubblegrade.bench.folder import BenchFolder
from bubblegrade.bench.forms import Asked, FieldError, about
from bubblegrade.bench.pot_words import air_of, limits_of
from bubblegrade.bench.turns import Turn
from bubblegrade.errors import InputError, PartError, UnitError
from bubblegrade.pressure.hold import Held, hold
from bubblegrade.pressure.hold_readings import Hold
from bubblegrade.pressure.pot import Dial, Pot
from bubblegrade.runs.hold import Photographed, readings_of
from bubblegrade.runs.hold_cells import Words, dial_of, temperature_of, time_of
from bubblegrade.runs.pot_file import dial_class, dial_range
from bubblegrade.runs.ranges import USUAL_SWEEP_DEG, WIDEST_SWEEP_DEG
from bubblegrade.units import angle_deg, duration_s, volume_cm3

ASKED: Final = "hold.json"  # in FOLDER/bench
FIELDS: Final = ("time", "gauge", "photo", "temperature")  # of a reading
# What is written in a reading.
CELLS: Final[dict[str, Callable[[str], object]]] = {"time": time_of, "gauge": dial_of, "temperature": temperature_of}
LEAST: Final = 2  # readings of a test


def held_of(asked: Asked, folder: BenchFolder, turn: Turn) -> Held:
    """Return what the test says that a form asks about.

    Raises
    ------
    NotWantedError
        Nobody waits for it any more.
    InputError
        Something cannot be used, or does not go with the rest.
    """
    rows = [(row, at) for at, row in enumerate(asked.rows) if any(row.get(name, "").strip() for name in FIELDS)]
    if len(rows) < LEAST:
        raise InputError("a hold test takes two readings: write time and gauge of the first and of the last")
    words = [_words(row, at, folder) for row, at in rows]
    try:
        return hold(_hold(asked, words, turn))
    except PartError as error:
        raise FieldError(str(error), *error.names, row=str(rows[error.place][1])) from error


def _hold(asked: Asked, words: list[Words], turn: Turn) -> Hold:
    """Return the test of readings as written and what is asked of it."""
    pot = _pot(asked)
    compared = count()
    return Hold(
        readings=readings_of(
            words,
            _photographed(asked, words, pot.dial),
            before=lambda: turn.at("photographs", next(compared), len(words)),
        ),
        air=air_of(asked),
        pot=pot,
        graduation_kpa=_step(asked, "graduation"),
        settled_s=_duration(asked, "settled"),
        gel_s=_duration(asked, "gel"),
        release_s=_duration(asked, "release"),
        allowed_kpa=_step(asked, "allowed"),
    )


def _words(row: Mapping[str, str], place: int, folder: BenchFolder) -> Words:
    """Return a reading as written in the row of that place; its photograph is one of the folder."""
    time, gauge, photo, temperature = (row.get(name, "").strip() for name in FIELDS)
    at = f"reading {place + 1}"
    if not time:
        raise FieldError(f"{at} has no time: write 0min for the first, and 2h or 08:15", "time", row=str(place))
    if not gauge and not photo:
        line = f"{at} has neither gauge nor photograph: write what the dial showed, or choose its photograph"
        raise FieldError(line, "gauge", "photo", row=str(place))
    for name, read in CELLS.items():
        if text := row.get(name, "").strip():
            with about(name, row=str(place), at=at):
                read(text)
    return Words(time, gauge, folder.photograph(photo) if photo else None, temperature, at=at, shown=photo)


def _photographed(asked: Asked, words: list[Words], dial: Dial | None) -> Photographed:
    """Return what is known of the dial in the photographs."""
    if any(each.photo for each in words):
        if dial is None:
            raise FieldError("a dial in photographs needs its range: write what it spans, such as 0-100 psi", "range")
        if not words[0].gauge:
            line = "the first photograph needs what the dial shows in it: write it beside, such as 60psi"
            raise PartError(line, "gauge")
    return Photographed(None, dial, _sweep(asked["sweep"]))


def _pot(asked: Asked) -> Pot:
    pot = Pot(limits=limits_of(asked))
    if asked["free_volume"]:
        with about("free_volume"):
            pot = replace(pot, free_volume_cm3=volume_cm3(asked["free_volume"], what="air in the pot"))
    if asked["range"]:
        with about("range"):
            pot = replace(pot, dial=dial_range(asked["range"], what="range"))
    if not asked["class"]:
        return pot
    if pot.dial is None:
        raise FieldError("a class is a share of the dial's span: write its range as well, such as 0-100 psi", "range")
    with about("class"):
        return replace(pot, dial=replace(pot.dial, grade=dial_class(asked["class"], what="class")))


def _sweep(text: str) -> float:
    """Return the angle from one end of the scale to the other."""
    if not text:
        return USUAL_SWEEP_DEG
    with about("sweep"):
        sweep = angle_deg(text, what="sweep")
        if sweep > WIDEST_SWEEP_DEG:
            raise UnitError(f"sweep {text} is no scale of a dial: give up to {WIDEST_SWEEP_DEG:g}deg, 270deg is usual")
    return sweep


def _step(asked: Asked, name: str) -> float:
    """Return a difference of the dial in kPa, NaN where none is stated."""
    if not asked[name]:
        return math.nan
    with about(name):
        step = dial_of(asked[name], what=name).kpa_gauge
        if step <= 0.0:
            raise UnitError(f"{name} {asked[name]} is not above zero: write it as the dial would show it, such as 2psi")
    return step


def _duration(asked: Asked, name: str) -> float:
    """Return a time in seconds, NaN where none is stated."""
    with about(name):
        return duration_s(asked[name], what=name) if asked[name] else math.nan
