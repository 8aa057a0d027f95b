"""How far the readings of a hold test can be trusted: the dial's step, its class, temperature, weather, filling.

Error of the class: the largest that its maker allows anywhere on the dial. Between readings of one dial it is common,
but for its slope; each reading by itself has the rounding to a step of the dial and how well the needle comes back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from bubblegrade.pressure.gas import ROOM_K, ZERO_C_K
from bubblegrade.pressure.hold_readings import Hold
from bubblegrade.pressure.leak import Drift, Heat, Series
from bubblegrade.pressure.pot import Dial
from bubblegrade.units import PSI_KPA, GaugePressure

USUAL_GRADE: Final = "B"  # of dials that come with pots (common practice)
USUAL_SHARE: Final = 0.5  # of the scale, where a dial is best read (maker guidance: 50 to 75 %)
# Of the class error, one standard uncertainty of coming back to the same reading after a tap: no source is known; a
# tenth is our choice, 0.2 psi on a dial of 100 psi and grade B.
REPEATS_SHARE: Final = 0.1
MARKS_OF_CLASS: Final = 2.0  # ASME B40.100: marks are no further apart than twice the error in the middle half
ROUND_MARKS: Final = (1.0, 2.0, 5.0)
FINEST_PART: Final = 5  # of the distance between two marks that an eye divides (common practice)
TEMPERATURE_ERR_K: Final = 1.0  # of the change that thermometers beside a pot show of the air in it
UNREAD_ERR_K: Final = 3.0  # of a room in an hour or a night, where nobody has read it
FILLING_K: Final = 40.0  # that the air of a pot is warmer right after filling; adiabatic would be more (from memory)
COOLING_S: Final = 180.0  # in which that falls to a third, against the walls (from memory)
WEATHER_KPA_ROOT_H: Final = 0.1  # a barometer moves about 1 hPa in an hour and 5 hPa in a day (from memory)
BAROMETER_ERR_KPA: Final = 0.03  # of the difference of two readings of a barometer


@dataclass(frozen=True)
class Accuracy:
    """What is taken of the dial."""

    dial: Dial
    grade: str
    step_kpa: float  # from mark to mark
    assumed: bool  # whether dial or grade is not told

    @property
    def span_kpa(self) -> float:
        """From one end of the scale to the other."""
        return self.dial.span_psi * PSI_KPA

    def limit_kpa(self, psig: float) -> float:
        """Return the class error at a reading."""
        return self.dial.largest_error_psi(psig, grade=self.grade) * PSI_KPA


def accuracy_of(test: Hold) -> Accuracy:
    """Return the dial as told, else one of grade B that is read at half its scale."""
    first = test.readings[0].dial
    told = test.pot.dial
    dial = told or Dial(GaugePressure(0.0), GaugePressure(max(first.kpa_gauge, PSI_KPA) / USUAL_SHARE))
    grade = USUAL_GRADE if dial.grade is None else dial.grade
    step = _usual_marks_psi(dial, grade) * PSI_KPA if math.isnan(test.graduation_kpa) else test.graduation_kpa
    return Accuracy(dial, grade, step, assumed=told is None or told.grade is None)


def _usual_marks_psi(dial: Dial, grade: str) -> float:
    """Return the widest marks that a dial of this grade may have: 1, 2 or 5 psi, or such of another size."""
    widest = MARKS_OF_CLASS * dial.largest_error_psi((dial.low.psig + dial.high.psig) / 2.0, grade=grade)
    power = 10.0 ** math.floor(math.log10(widest) + 1e-9)
    return power * max(number for number in ROUND_MARKS if number * power <= widest * (1.0 + 1e-9))


def rounding_kpa(test: Hold) -> float:
    """Return the step to which a person has rounded: the marks', or the part of it that all readings are whole of.

    A reading between the marks shows that the eye has divided them, in halves, quarters or fifths and no finer.

    >>> from bubblegrade.pressure.atmosphere import SEA_LEVEL
    >>> from bubblegrade.pressure.hold_readings import Reading
    >>> readings = tuple(Reading(at_s, GaugePressure(kpa)) for at_s, kpa in ((0.0, 410.0), (3600.0, 405.0)))
    >>> rounding_kpa(Hold(readings, SEA_LEVEL, graduation_kpa=10.0))
    5.0
    """
    step = accuracy_of(test).step_kpa
    read = [each.dial.kpa_gauge for each in test.readings if math.isnan(each.err_kpa)]
    for parts in (1, 2, 4):
        if all(math.isclose(kpa, round(kpa * parts / step) * step / parts, abs_tol=1e-6 * step) for kpa in read):
            return step / parts
    return step / FINEST_PART


def series_of(test: Hold) -> Series:
    """Return the readings as the fit takes them."""
    accuracy = accuracy_of(test)
    celsius = np.array([each.celsius for each in test.readings])
    photographed = np.array([each.err_kpa for each in test.readings])
    repeats = np.array([REPEATS_SHARE * accuracy.limit_kpa(each.dial.psig) for each in test.readings])
    return Series(
        at_s=np.array([each.at_s - test.readings[0].at_s for each in test.readings]),
        kpa=np.array([each.dial.kpa_gauge for each in test.readings]) + np.array(test.air_kpa),
        kelvin=np.where(np.isnan(celsius), ROOM_K, celsius + ZERO_C_K),
        step_kpa=np.where(np.isnan(photographed), rounding_kpa(test), 0.0),
        noise_kpa=np.hypot(repeats, np.nan_to_num(photographed)),
    )


def temperature_err_k(test: Hold) -> float:
    """Return how far the change of temperature may be wrong, the heat of filling apart."""
    if not math.isnan(test.temperature_err_k):
        return test.temperature_err_k
    return UNREAD_ERR_K if math.isnan(test.readings[0].celsius) else TEMPERATURE_ERR_K


def heat_of_filling(test: Hold) -> Heat:
    """Return how much warmer than its pot the air may be: as right after filling, where its age is not told.

    Air that is pressed together is hot and falls to the pot's temperature within minutes, which looks like a leak.
    """
    age_s = 0.0 if math.isnan(test.settled_s) else test.settled_s
    return Heat(FILLING_K * math.exp(-age_s / COOLING_S), COOLING_S)


def drift_of(test: Hold, *, span_s: float = math.nan) -> Drift:
    """Return what all readings share, over a test of `span_s`, else over this one."""
    kpa = test.readings[0].dial.kpa_gauge + test.air_kpa[0]
    celsius = test.readings[0].celsius
    kelvin = ROOM_K if math.isnan(celsius) else celsius + ZERO_C_K
    air_kpa = _air_drift_kpa(test, test.span_s if math.isnan(span_s) else span_s)
    accuracy = accuracy_of(test)
    limit = accuracy.limit_kpa(test.readings[0].dial.psig)
    # A straight error from -limit to +limit over the span, and the limit on the absolute pressure; rectangular both.
    gain = math.hypot(2.0 * limit / accuracy.span_kpa, limit / kpa) / math.sqrt(3.0)
    return Drift(share=math.hypot(temperature_err_k(test) / kelvin, air_kpa / kpa), gain_share=gain)


def _air_drift_kpa(test: Hold, span_s: float) -> float:
    """Return by how much the barometer may have moved a gauge, which shows the pot's pressure less the air's."""
    if all(math.isfinite(each.air_kpa) for each in test.readings):
        return BAROMETER_ERR_KPA
    return WEATHER_KPA_ROOT_H * math.sqrt(span_s / 3600.0)
