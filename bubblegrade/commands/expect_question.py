"""What the options of `bubblegrade expect` ask, checked."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any, Final

from bubblegrade.commands.pressure_options import stated_atmosphere, stated_limits
from bubblegrade.errors import InputError, UnitError
from bubblegrade.pressure.atmosphere import Atmosphere, gauge
from bubblegrade.pressure.expectation import Question
from bubblegrade.pressure.gas import RESIN_TENSION_N_PER_M, ROOM_K, kelvin
from bubblegrade.pressure.prediction import TENSION_BELOW_MM, Dissolving, Premises
from bubblegrade.pressure.trial_plan import Assumed
from bubblegrade.runs.measured_spread import read_cup_spread
from bubblegrade.units import GaugePressure, celsius, decimal, duration_s, length_mm, pressure

LARGEST_MM: Final = 50.0  # of a void that anybody casts
WIDEST_SPREAD: Final = 2.0  # of ln d; one in three would then be seven times larger or smaller
DISSOLVING: Final = ("diffusivity", "solubility", "saturation", "gel_time")
PLANNING: Final = (
    *("cup_spread", "trial", "mix_spread", "mixes", "voids", "spread", "median", "smallest", "precision"),
)


def stated_question(pressures: tuple[str, ...], options: dict[str, Any]) -> Question:
    """Return what is asked.

    Raises
    ------
    InputError
        Something cannot be used, or does not go with the rest.
    """
    air = stated_atmosphere(options)
    if not options["plan"]:
        _refuse_without(options, PLANNING, needs="--plan")
    return Question(
        asked=tuple(stated_gauge(text, "pressure", air) for text in pressures),
        premises=_premises(options, air),
        atmosphere=air,
        limits=stated_limits(options),
        trial=_assumed(options) if options["plan"] else None,
        precision=_share(options["precision"], "--precision"),
    )


def stated_gauge(text: str, what: str, air: Atmosphere) -> GaugePressure:
    """Return a pressure as the dial shows it.

    Raises
    ------
    UnitError
        It is no pressure, or lies below the air around the pot.
    """
    found = gauge(pressure(text, what=what), air.kpa, what=what)
    if found.kpa_gauge < 0.0:
        raise UnitError(f"{what} {text} lies below the air around the pot: write 0psi for an open cup")
    return found


def _premises(options: dict[str, Any], air: Atmosphere) -> Premises:
    """Return what the prediction rests on."""
    size_mm = _length(options["size"], "--size")
    close, gel = options["close"], options["gel"]
    if (close is None) != (gel is None):
        raise InputError("--close and --gel go together, the gas warms between the two: give both or neither")
    return Premises(
        atmosphere_kpa=air.kpa,
        start=stated_gauge(options["start"], "--from", air),
        closing_k=ROOM_K if close is None else kelvin(celsius(close, what="--close"), what="--close"),
        gel_k=ROOM_K if gel is None else kelvin(celsius(gel, what="--gel"), what="--gel"),
        size_mm=size_mm,
        tension_n_per_m=_tension(options["tension"], size_mm),
        dissolving=_dissolving(options),
    )


def _tension(text: str | None, size_mm: float) -> float:
    """Return the surface tension, a usual one where it matters, else none."""
    if text is not None:
        if not math.isfinite(size_mm):
            raise InputError("--tension acts on a void of known size: add --size, such as --size 0.02mm")
        return number_in_range(text, "--tension", low=0.001, high=0.1)
    return RESIN_TENSION_N_PER_M if size_mm < TENSION_BELOW_MM else 0.0


def _dissolving(options: dict[str, Any]) -> Dissolving | None:
    """Return the resin's constants, all of them stated, for none is known to us."""
    if not options["dissolve"]:
        _refuse_without(options, DISSOLVING, needs="--dissolve")
        return None
    missing = [_written(name) for name in ("size", *DISSOLVING) if options[name] is None]
    if missing:
        raise InputError(
            f"--dissolve needs {', '.join(missing)}: no constants of casting resins are known well enough to be "
            "guessed, so state them or leave --dissolve out"
        )
    return dissolving_of(options, gel_s=duration_s(options["gel_time"], what="--gel-time"))


def dissolving_of(options: dict[str, Any], *, gel_s: float) -> Dissolving:
    """Return the resin's constants as --diffusivity, --solubility and --saturation state them.

    Raises
    ------
    InputError
        One is no number, or out of its range.
    """
    return Dissolving(
        diffusivity_m2_s=number_in_range(options["diffusivity"], "--diffusivity", low=1e-16, high=1e-7),
        solubility=number_in_range(options["solubility"], "--solubility", low=1e-4, high=10.0),
        saturation=number_in_range(options["saturation"], "--saturation", low=0.0, high=1.0),
        gel_s=gel_s,
    )


def _assumed(options: dict[str, Any]) -> Assumed:
    """Return what the cups of a trial are taken to be like."""
    usual = Assumed()
    median_mm, smallest_mm = _length(options["median"], "--median"), _length(options["smallest"], "--smallest")
    if math.isfinite(median_mm) != math.isfinite(smallest_mm):
        raise InputError("--median and --smallest go together, they say how many voids are counted: give both")
    if smallest_mm >= median_mm:
        raise InputError(
            f"--smallest {options['smallest']} is not below --median {options['median']}: "
            "most voids of an open cup have to be counted, photograph from closer"
        )
    spread, measured = _cup_spread(options, usual.cup_spread)
    return Assumed(
        cup_spread=spread,
        cup_spread_measured=measured,
        mix_spread=number_in_range(options["mix_spread"], "--mix-spread", usual.mix_spread, high=WIDEST_SPREAD),
        voids=number_in_range(options["voids"], "--voids", usual.voids, low=2.0, high=1e6),
        spread=number_in_range(options["spread"], "--spread", usual.spread, low=0.01, high=WIDEST_SPREAD),
        median_mm=median_mm,
        smallest_mm=smallest_mm,
        mixes=_count(options["mixes"], "--mixes", usual.mixes),
    )


def _cup_spread(options: dict[str, Any], usual: float) -> tuple[float, bool]:
    """Return how far cups differ, and whether that was measured."""
    path: Path | None = options["trial"]
    if path is None:
        return number_in_range(options["cup_spread"], "--cup-spread", usual, high=WIDEST_SPREAD), False
    if options["cup_spread"] is not None:
        raise InputError("--cup-spread and --trial both say how far cups differ: leave one of them out")
    return read_cup_spread(path), True


def _refuse_without(options: dict[str, Any], names: tuple[str, ...], *, needs: str) -> None:
    """Refuse options that say nothing without another."""
    for name in names:
        if options[name] is not None:
            raise InputError(f"{_written(name)} says nothing without {needs}: add it, or leave {_written(name)} out")


def _written(name: str) -> str:
    """Return an option as it is written."""
    return f"--{name.replace('_', '-')}"


def _length(text: str | None, what: str) -> float:
    """Return a diameter in mm, NaN where none is stated."""
    if text is None:
        return math.nan
    length = length_mm(text, what=what)
    if length > LARGEST_MM:
        raise UnitError(f"{what} {text} is more than {LARGEST_MM:g}mm: check its unit")
    return length


def _share(text: str | None, what: str) -> float:
    """Return a share, written as 5% or 0.05; NaN where none is stated."""
    if text is None:
        return math.nan
    if text.rstrip().endswith("%"):
        return number_in_range(text.rstrip().removesuffix("%"), what, low=0.1, high=100.0) / 100.0
    return number_in_range(text, what, low=0.001, high=1.0)


def _count(text: str | None, what: str, usual: int) -> int:
    """Return a whole number."""
    found = number_in_range(text, what, float(usual), low=1.0, high=100.0)
    if found != int(found):
        raise InputError(f"{what} {text} is no whole number: give one, such as {usual}")
    return int(found)


def number_in_range(text: str | None, what: str, usual: float = math.nan, *, low: float = 0.0, high: float) -> float:
    """Return a number in its range, the usual one where none is stated.

    Raises
    ------
    InputError
        It is no number, or out of its range.
    """
    if text is None:
        return usual
    try:
        number = decimal(text)
    except ValueError:
        raise InputError(f"{what} {text} is not a number: give {low:g} to {high:g}") from None
    if not low <= number <= high:
        raise InputError(f"{what} {text} is out of range: give {low:g} to {high:g}")
    return number
