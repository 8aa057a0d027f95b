"""The words of a form on the air around the pot, and on what pot and mould bear."""

from __future__ import annotations

import json
from typing import Final

from bubblegrade.bench.forms import Asked, about
from bubblegrade.pressure.atmosphere import Atmosphere, atmosphere
from bubblegrade.pressure.situation import Limits
from bubblegrade.runs.pot_file import read_pot
from bubblegrade.units import altitude_m, barometer

RATINGS: Final = ("rated_pressure", "relief_setting", "mould_pressure")  # fields, named as in a pot's file

NAME: Final = "pot and mould"


def air_of(asked: Asked) -> Atmosphere:
    """Return the air around the pot; that of sea level where nothing is said.

    Raises
    ------
    FieldError
        Altitude and barometer are both given, or one of them cannot be used.
    """
    height, read = asked["altitude"], asked["barometer"]
    with about("altitude"):
        at_m = altitude_m(height, what="altitude") if height else None
    with about("barometer"):
        shown = barometer(read, what="barometer") if read else None
    with about("altitude", "barometer"):
        return atmosphere(altitude_m=at_m, barometer=shown)


def limits_of(asked: Asked) -> Limits:
    """Return what pot and mould bear; what is not said stays unknown.

    Raises
    ------
    FieldError
        A limit is none that a plate states, or the relief valve contradicts the rating.
    """
    lines = {key: f"{key} = {json.dumps(asked[key], ensure_ascii=False)}" for key in RATINGS if asked[key]}
    for key, line in lines.items():
        with about(key):
            read_pot(line, name=NAME)
    with about(*lines):
        return read_pot("\n".join(lines.values()), name=NAME).limits
