"""From readings as written, or photographs of the dial, to the readings of a hold test."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from bubblegrade.errors import InputError, PartError
from bubblegrade.photo.reading import read_photo
from bubblegrade.pressure.dial import DialPhoto, NeedleTurn, needle_turn
from bubblegrade.pressure.hold_readings import Reading
from bubblegrade.pressure.pot import Dial
from bubblegrade.runs.hold_cells import Time, Words, air_of, dial_of, temperature_of, time_of, unit_of
from bubblegrade.show.printable import printable
from bubblegrade.units import GaugePressure

Told = TypeVar("Told")


@dataclass(frozen=True)
class Photographed:
    """What is known of a dial that is read from photographs."""

    shows: str | None  # what it showed in the first photograph, as written
    dial: Dial | None
    sweep_deg: float  # from one end of the scale to the other


def readings_of(
    words: Sequence[Words], photographed: Photographed, *, before: Callable[[], None] = lambda: None
) -> tuple[Reading, ...]:
    """Return the readings; those of photographs count from what the dial showed in the first.

    `before` is called before each photograph; what it raises ends the reading.

    Raises
    ------
    InputError
        Something cannot be read, does not go with the rest, or a photograph shows no dial that can be compared.
    """
    _check_one_unit(words, "gauge", lambda each: dial_of(each.gauge))
    _check_one_unit(words, "temperature", lambda each: temperature_of(each.temperature))
    times = [_at(each, lambda each: time_of(each.time)) for each in words]
    for place, (each, time) in enumerate(zip(words, times, strict=True)):
        if time.kind != times[0].kind:
            line = f"{each.at} is {time.kind} and the first is {times[0].kind}: write all in the same way"
            raise PartError(line, "time", place=place)
    _check_temperatures(words)
    if any(each.photo for each in words):
        return _from_photographs(words, times, photographed, before)
    if photographed.shows is not None:
        raise InputError("--shows is what the dial showed in the first photograph, and none is named: leave it out")
    return tuple(_reading(each, time, _at(each, _dial)) for each, time in zip(words, times, strict=True))


def _from_photographs(
    words: Sequence[Words], times: Sequence[Time], photographed: Photographed, before: Callable[[], None]
) -> tuple[Reading, ...]:
    """Return the readings of photographs, each compared with the first."""
    first, dial = words[0], photographed.dial
    for place, each in enumerate(words):
        if each.photo is None:
            line = f"{each.at} has no photograph and others have: name one for every reading, or for none"
            raise PartError(line, "photo", place=place)
        if each.gauge and place:
            line = f"{each.at} has a photograph and a gauge: the gauge is read from it, leave the number out"
            raise PartError(line, "gauge", place=place)
    if dial is None:
        raise InputError(
            "a dial in photographs needs its range: add --range '0-100 psi', or gauge_range to the pot's file"
        )
    if bool(first.gauge) == (photographed.shows is not None):
        raise InputError("say once what the dial shows in the first photograph: --shows 60psi, or a gauge in its row")
    shown = dial_of(first.gauge or photographed.shows or "")
    before()
    seen_first = _photo(first)
    readings = [_reading(first, times[0], shown, err_kpa=0.0, turn=NeedleTurn(0.0, 0.0, 1.0))]
    kpa_per_deg = (dial.high.kpa_gauge - dial.low.kpa_gauge) / photographed.sweep_deg
    for each, time in zip(words[1:], times[1:], strict=True):
        before()
        turn = _on_dial(needle_turn(seen_first, _photo(each)), shown, dial, kpa_per_deg)
        kpa = shown.kpa_gauge + turn.clockwise_deg * kpa_per_deg
        readings.append(_reading(each, time, GaugePressure(kpa), err_kpa=turn.err_deg * kpa_per_deg, turn=turn))
    return tuple(readings)


def _on_dial(turn: NeedleTurn, shown: GaugePressure, dial: Dial, kpa_per_deg: float) -> NeedleTurn:
    """Return which way the needle turned: the one that ends on the dial, or less far off it, as at its stop."""

    def off_dial_kpa(way: NeedleTurn) -> float:
        kpa = shown.kpa_gauge + way.clockwise_deg * kpa_per_deg
        return max(dial.low.kpa_gauge - kpa, kpa - dial.high.kpa_gauge, 0.0)

    return min(turn, turn.other_way, key=off_dial_kpa)


def _photo(words: Words) -> DialPhoto:
    """Return a photograph of the dial."""
    assert words.photo is not None  # noqa: S101 - checked before
    photo = read_photo(words.photo, name=printable(words.shown or words.photo.as_posix()))
    return DialPhoto(photo.codes, photo.name)


def _reading(
    words: Words, time: Time, dial: GaugePressure, *, err_kpa: float = math.nan, turn: NeedleTurn | None = None
) -> Reading:
    """Return a reading with what stands beside it."""
    return Reading(
        at_s=time.at_s,
        dial=dial,
        celsius=_at(words, lambda each: temperature_of(each.temperature)) if words.temperature else math.nan,
        air_kpa=_at(words, lambda each: air_of(each.barometer)) if words.barometer else math.nan,
        err_kpa=err_kpa,
        turn_deg=math.nan if turn is None else turn.clockwise_deg,
        turn_err_deg=math.nan if turn is None else turn.err_deg,
        day=time.day,
        source="read" if words.photo is None else printable(words.photo.name),
        remark=words.remark,
    )


def _dial(words: Words) -> GaugePressure:
    """Return what a person has read."""
    if not words.gauge:
        raise InputError("gauge is empty: write what the dial showed, such as 60psi")
    return dial_of(words.gauge)


def _check_one_unit(words: Sequence[Words], name: str, read: Callable[[Words], object]) -> None:
    """Refuse readings that cannot be read or are in several units: one dial and one thermometer have one each."""
    cells = [(place, each, text) for place, each in enumerate(words) if (text := getattr(each, name))]
    for place, each, text in cells[1:]:
        here, there = unit_of(text), unit_of(cells[0][2])
        if here != there:
            _at(cells[0][1], read)
            _at(each, read)
            raise PartError(
                f"{each.at}: {name} {text} is in {here or 'no unit'}, the first in {there or 'no unit'}: "
                "write all of them in the unit of the instrument",
                name,
                place=place,
            )


def _check_temperatures(words: Sequence[Words]) -> None:
    """Refuse readings of which some lack the temperature: what it does to the drop is then not known."""
    without = [place for place, each in enumerate(words) if not each.temperature]
    if 0 < len(without) < len(words):
        raise PartError(
            f"{words[without[0]].at} has no temperature and others have one: give it for each of them, or for none",
            "temperature",
            place=without[0],
        )


def _at(words: Words, read: Callable[[Words], Told]) -> Told:
    """Return what `read` makes of a reading; where it stands is put before the error."""
    try:
        return read(words)
    except InputError as error:
        raise type(error)(f"{words.at}: {error}") from error
