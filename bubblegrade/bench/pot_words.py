"""The words of a form on the air around the pot, and on what pot and mould bear."""

from __future__ import annotations

import json
from typing import Final

from bubblegrade.bench.forms import Asked
from bubblegrade.pressure.atmosphere import Atmosphere, atmosphere
from bubblegrade.pressure.situation import Limits
from bubblegrade.runs.pot_file import read_pot
from bubblegrade.units import altitude_m, barometer

RATINGS: Final = ("rated_pressure", "relief_setting", "mould_pressure")  # fields, named as in a pot's file


def air_of(asked: Asked) -> Atmosphere:
    """Return the air around the pot; that of sea level where nothing is said.

    Raises
    ------
    UnitError
        Altitude and barometer are both given, or one of them cannot be used.
    """
    height, read = asked["altitude"], asked["barometer"]
    return atmosphere(
        altitude_m=altitude_m(height, what="altitude") if height else None,
        barometer=barometer(read, what="barometer") if read else None,
    )


def limits_of(asked: Asked) -> Limits:
    """Return what pot and mould bear; what is not said stays unknown.

    Raises
    ------
    SettingsError
        A limit is none that a plate states, or the relief valve contradicts the rating.
    """
    lines = [f"{key} = {json.dumps(asked[key], ensure_ascii=False)}" for key in RATINGS if asked[key]]
    return read_pot("\n".join(lines), name="pot and mould").limits
