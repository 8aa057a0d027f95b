"""What is no hold test: too few readings, out of order, past what pot or dial bear, in a wrong unit."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

from bubblegrade.errors import InputError, PartError
from bubblegrade.pressure.hold_readings import Hold, Reading
from bubblegrade.pressure.pot import Pot
from bubblegrade.pressure.situation import Advice, Situation, psi
from bubblegrade.pressure.stops import stops
from bubblegrade.units import PSI_KPA

COLDEST_C: Final = -30.0  # of the air in a pot
HOTTEST_C: Final = 70.0
BEYOND_ERRS: Final = 3.0  # standard uncertainties by which a needle's photograph may miss the end of the scale


def check_readings(test: Hold) -> None:
    """Refuse readings that are no test, or that pot and dial do not bear; the reason is in the error.

    Raises
    ------
    InputError
        See above.
    """
    readings = test.readings
    if len(readings) < 2:  # noqa: PLR2004
        raise InputError("one reading shows no drop: give a second one, an hour or more after the first")
    for place, (before, after) in enumerate(pairwise(readings), 1):
        if after.at_s <= before.at_s:
            raise PartError(
                f"the reading of {psi(after.dial.psig)} is not later than that of {psi(before.dial.psig)} before it: "
                "put the readings in the order of their times, and write the day where midnight lies between",
                "time",
                place=place,
            )
    for stop in stops_on(test):
        raise InputError(f"STOP: {stop.text} {stop.ground}")
    for place, each in enumerate(readings):
        _check_dial(each, test.pot, place)
        _check_temperature(each, place)
    if math.isfinite(test.gel_s) and math.isfinite(test.release_s) and test.release_s < test.gel_s:
        raise InputError("release comes before gel: the resin would foam up, check both times")


def stops_on(test: Hold) -> tuple[Advice, ...]:
    """Return what of the pot's limits stands against a test."""
    return stops(Situation(test.pot.limits, tuple(each.dial for each in test.readings), test.air.kpa))


def check_allowed(test: Hold, allowed_kpa: float) -> None:
    """Refuse a pot that would hold even if it lost all that its dial shows.

    Raises
    ------
    InputError
        See above.
    """
    shown = test.readings[0].dial
    if shown.kpa_gauge > allowed_kpa:
        return
    raise InputError(
        f"the first reading of {psi(shown.psig)} is no more than the drop of {psi(allowed_kpa / PSI_KPA)} that may be: "
        "a pot that loses all of it would hold, test it at the pressure that you cast at"
    )


def _check_dial(reading: Reading, pot: Pot, place: int) -> None:
    """Refuse a reading that this dial cannot show; a photographed needle at an end of it may seem a little beyond."""
    if pot.dial is None:
        return
    slack = 0.0 if math.isnan(reading.err_kpa) else BEYOND_ERRS * reading.err_kpa
    if pot.dial.low.kpa_gauge - slack <= reading.dial.kpa_gauge <= pot.dial.high.kpa_gauge + slack:
        return
    if math.isfinite(reading.turn_deg) and place:
        raise PartError(
            f"{reading.source} shows the needle turned by {reading.turn_deg:.0f} degrees, to {psi(reading.dial.psig)}, "
            f"off the dial, which spans {pot.dial.low.psig:.4g} to {psi(pot.dial.high.psig)}: check what the first "
            "photograph shows, the range and the sweep",
            "photo",
            place=place,
        )
    raise PartError(
        f"{psi(reading.dial.psig)} is off the dial, which spans {pot.dial.low.psig:.4g} to {psi(pot.dial.high.psig)}: "
        "check the number, its unit and the range",
        "gauge",
        place=place,
    )


def _check_temperature(reading: Reading, place: int) -> None:
    """Refuse a temperature that no air in a pot has, kelvin given as Celsius above all."""
    if math.isnan(reading.celsius) or COLDEST_C <= reading.celsius <= HOTTEST_C:
        return
    as_kelvin = reading.celsius - 273.15
    cure = f"if it counts in kelvin, write {as_kelvin:.4g}C" if COLDEST_C <= as_kelvin <= HOTTEST_C else "write 24C"
    line = f"temperature {reading.celsius:.4g} C is not that of the air in a pot: {cure}"
    raise PartError(line, "temperature", place=place)
