"""What the options of `bubblegrade window` ask, checked."""

from __future__ import annotations

import math
from typing import Any, Final

from bubblegrade.commands.expect_question import dissolving_of, number_in_range, stated_gauge
from bubblegrade.commands.pressure_options import stated_atmosphere, stated_limits
from bubblegrade.errors import InputError, UnitError
from bubblegrade.pressure.enough import resolved_mm
from bubblegrade.pressure.gas import kelvin
from bubblegrade.pressure.prediction import Dissolving
from bubblegrade.pressure.resin import GELLED_PA_S, GelPoint
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.window import RESIN_KG_M3, Flow, Steps, WindowQuestion
from bubblegrade.units import celsius, density_kg_m3, duration_s, length_mm, viscosity_pa_s

USUAL_C: Final = 25.0  # at which data sheets state gel times and viscosities where they do not say (maker guidance)
DISSOLVING: Final = ("diffusivity", "solubility", "saturation")
DEEPEST_MM: Final = 1000.0


def stated_window(pressures: tuple[str, ...], options: dict[str, Any]) -> tuple[WindowQuestion, Limits]:
    """Return what is asked, and what pot and mould bear.

    Raises
    ------
    InputError
        Something cannot be used, or does not go with the rest.
    """
    air = stated_atmosphere(options)
    if not options["gel_time"]:
        raise InputError("no gel time is stated: add --gel-time 20min@25C from the resin's data sheet")
    activation = options["activation"]
    question = WindowQuestion(
        points=tuple(_point(text) for text in options["gel_time"]),
        room_k=kelvin(celsius(options["room"], what="--room"), what="--room"),
        steps=Steps(*(_duration(options[name], f"--{name}") for name in ("mix", "pour", "close", "fill"))),
        pressures=tuple(stated_gauge(text, "pressure", air) for text in pressures),
        atmosphere_kpa=air.kpa,
        visible_mm=resolved_mm() if options["visible"] is None else length_mm(options["visible"], what="--visible"),
        activation_j_mol=None
        if activation is None
        else 1e3 * number_in_range(activation, "--activation", low=10.0, high=200.0),
        flow=_flow(options),
        dissolving=_dissolving(options),
    )
    return question, stated_limits(options)


def _point(text: str) -> GelPoint:
    """Return a gel time and the temperature it holds at."""
    time, _, temperature = text.partition("@")
    at_c = celsius(temperature, what=f"--gel-time {text}:") if temperature else USUAL_C
    return GelPoint(kelvin(at_c, what=f"--gel-time {text}:"), duration_s(time, what=f"--gel-time {text}:"))


def _duration(text: str | None, what: str) -> float:
    return 0.0 if text is None else duration_s(text, what=what)


def _flow(options: dict[str, Any]) -> Flow | None:
    """Return how the resin flows; None where no viscosity is stated, for none is guessed."""
    stated, depth = options["viscosity"], options["depth"]
    if stated is None or depth is None:
        for name in ("viscosity", "depth", "density", "gelled"):
            if options[name] is not None:
                raise InputError(
                    f"--{name} says nothing alone: which voids rise out needs --viscosity from the data sheet and "
                    "--depth"
                )
        return None
    depth_mm = length_mm(depth, what="--depth")
    if depth_mm > DEEPEST_MM:
        raise UnitError(f"--depth {depth} is more than {DEEPEST_MM:g}mm: check its unit")
    viscosity, _, temperature = stated.partition("@")
    at_c = celsius(temperature, what=f"--viscosity {stated}:") if temperature else USUAL_C
    gelled, density = options["gelled"], options["density"]
    return Flow(
        viscosity_pa_s=viscosity_pa_s(viscosity, what=f"--viscosity {stated}:"),
        stated_k=kelvin(at_c, what=f"--viscosity {stated}:"),
        gelled_pa_s=GELLED_PA_S if gelled is None else viscosity_pa_s(gelled, what="--gelled"),
        depth_mm=depth_mm,
        density_kg_m3=RESIN_KG_M3 if density is None else density_kg_m3(density, what="--density"),
    )


def _dissolving(options: dict[str, Any]) -> Dissolving | None:
    """Return the resin's constants, all of them stated, for none is known to us."""
    given = [name for name in DISSOLVING if options[name] is not None]
    if not given:
        return None
    missing = [f"--{name}" for name in DISSOLVING if name not in given]
    if missing:
        raise InputError(
            f"--{given[0]} needs {', '.join(missing)} too: no constants of casting resins are known well enough to be "
            "guessed"
        )
    return dissolving_of(options, gel_s=math.nan)
