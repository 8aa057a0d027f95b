"""What the options of `bubblegrade hold` ask, checked."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

from bubblegrade.commands.pressure_options import stated_atmosphere, stated_limits
from bubblegrade.errors import InputError, UnitError
from bubblegrade.pressure.hold_readings import Hold
from bubblegrade.pressure.pot import Pot
from bubblegrade.runs.hold import Photographed, readings_of
from bubblegrade.runs.hold_cells import dial_of, words_on_the_line
from bubblegrade.runs.hold_sheet import read_hold_sheet
from bubblegrade.runs.pot_file import dial_class, dial_range, read_pot_file
from bubblegrade.runs.ranges import USUAL_SWEEP_DEG, WIDEST_SWEEP_DEG
from bubblegrade.units import angle_deg, celsius, duration_s, volume_cm3

MOST_DOUBT_K: Final = 20.0  # of a temperature that anybody has read


def stated_hold(readings: tuple[str, ...], options: dict[str, Any]) -> Hold:
    """Return the test that is asked about.

    Raises
    ------
    InputError
        Something cannot be used, or does not go with the rest.
    """
    pot = _pot(options)
    sheet = options["sheet"]
    words = tuple(words_on_the_line(text) for text in readings) if sheet is None else read_hold_sheet(sheet)
    return Hold(
        readings=readings_of(words, Photographed(options["shows"], pot.dial, _sweep(options["sweep"]))),
        air=stated_atmosphere(options),
        pot=pot,
        graduation_kpa=_step(options["graduation"], "--graduation"),
        temperature_err_k=_doubt(options["temperature_doubt"]),
        settled_s=_duration(options["settled"], "--settled"),
        gel_s=_duration(options["gel"], "--gel"),
        release_s=_duration(options["release"], "--release"),
        allowed_kpa=_step(options["allowed"], "--allowed"),
    )


def _pot(options: dict[str, Any]) -> Pot:
    """Return the pot of the file, with what the options say of it."""
    pot = Pot() if options["pot"] is None else read_pot_file(options["pot"])
    pot = replace(pot, limits=stated_limits(options))
    if options["free_volume"] is not None:
        pot = replace(pot, free_volume_cm3=volume_cm3(options["free_volume"], what="--free-volume"))
    if options["span"] is not None:
        pot = replace(pot, dial=dial_range(options["span"], what="--range"))
    if options["grade"] is None:
        return pot
    if pot.dial is None:
        raise InputError("--class is a share of the dial's span: add --range, such as --range '0-100 psi'")
    return replace(pot, dial=replace(pot.dial, grade=dial_class(options["grade"], what="--class")))


def _sweep(text: str | None) -> float:
    """Return the angle from one end of the scale to the other."""
    if text is None:
        return USUAL_SWEEP_DEG
    sweep = angle_deg(text, what="--sweep")
    if sweep > WIDEST_SWEEP_DEG:
        raise UnitError(f"--sweep {text} is no scale of a dial: give up to {WIDEST_SWEEP_DEG:g}deg, 270deg is usual")
    return sweep


def _step(text: str | None, what: str) -> float:
    """Return a difference of the dial in kPa, NaN where none is stated."""
    if text is None:
        return math.nan
    step = dial_of(text, what=what).kpa_gauge
    if step <= 0.0:
        raise UnitError(f"{what} {text} is not above zero: write it as the dial would show it, such as 2psi")
    return step


def _doubt(text: str | None) -> float:
    """Return a difference of temperature in kelvin, NaN where none is stated."""
    if text is None:
        return math.nan
    difference = celsius(text, what="--temperature-doubt")
    if text.strip().lower().endswith("f"):
        difference += 32.0 / 1.8
    if not 0.0 < difference <= MOST_DOUBT_K:
        raise UnitError(
            f"--temperature-doubt {text} is out of range: give the doubt of a difference, above 0 up to "
            f"{MOST_DOUBT_K:g}C, such as 0.5C"
        )
    return difference


def _duration(text: str | None, what: str) -> float:
    """Return a time in seconds, NaN where none is stated."""
    return math.nan if text is None else duration_s(text, what=what)
