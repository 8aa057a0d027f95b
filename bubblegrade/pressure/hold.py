"""The pressure-hold test: what the pot loses, what stands at gel and at release, and whether that holds.

    Hold ──> checked against pot and dial ──> series, drift ──> leak ──> Held: drop, rate, stages, answer
    hold_readings.py  hold_checks.py              hold_doubts.py    leak.py

It holds, if the drop until release (else until gel, else over the test's own length) stays below the allowed drop, the
air's temperature unchanged, at the upper limit of the 95 % interval; it leaks, if the lower limit lies above. Else it
cannot be told. What is foretold stays within what a closed pot can do: it gains no air, and ends at the pressure around
it; what the test has measured stands as measured. Readings that do not fall evenly foretell nothing: later on the pot
has lost at least what it has lost by the last of them, and at most all. No source is known for the drop that a casting
pot may have: the one taken makes a void 1 % larger.

Air that goes into the resin is left out: at 60 psi some 30 cm3 to a litre of resin, could it saturate, of which the
surface takes up a few percent by gel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from bubblegrade.grading.estimate import NORMAL_95, UNKNOWN, Estimate
from bubblegrade.pressure.gas import BOYLE_EXPONENT, GAS_CONSTANT, GasState
from bubblegrade.pressure.hold_checks import check_allowed, check_readings
from bubblegrade.pressure.hold_doubts import drift_of, heat_of_filling, series_of
from bubblegrade.pressure.hold_readings import Hold
from bubblegrade.pressure.leak import Drift, Leak, Series, fit_leak, molar_flow
from bubblegrade.pressure.plan import CHANCE

GROWTH_ALLOWED: Final = 0.01  # of a void's diameter; photographs measure one to about 2 %
HOUR_S: Final = 3600.0
LONGEST_TEST_S: Final = 72.0 * HOUR_S  # that anybody would wait for
SHORTEST_TEST_S: Final = 300.0
LENGTHENED: Final = 1.1  # from one length that is tried to the next
LAST: Final = "the last reading"
STANDARD_KPA: Final = 101.325  # at which leaks are stated in cm3/min
CM3_M3: Final = 1e-6

Floats = NDArray[np.floating[Any]]


class Answer(StrEnum):
    """What a hold test says."""

    HOLDS = "holds"
    LEAKS = "leaks"
    CANNOT_TELL = "cannot be told"


@dataclass(frozen=True)
class Stage:
    """What a time after the first reading shows, its temperature unchanged."""

    name: str
    at_s: float
    dial_kpa: Estimate  # gauge, as this dial will show it
    drop_kpa: Estimate
    growth_share: Estimate  # of a void's diameter, over one fixed at the first reading


@dataclass(frozen=True, eq=False)
class Held:
    """What the test says."""

    test: Hold
    series: Series
    drift: Drift
    leak: Leak
    answer: Answer
    asked: Stage  # on which the answer is given
    stages: tuple[Stage, ...]  # gel and release, as far as told; none where the pressure rises, which foretells nothing
    allowed_kpa: float
    tells_after_s: float  # length of a test that tells 9 in 10 of the leaks that are left open; NaN: none within 72 h
    tight_after_s: float  # length of one that tells 9 times in 10 a pot without any leak from one that drops as allowed

    @property
    def over_test(self) -> Stage:
        """What the test itself has measured, a rise too."""
        return _measured(self.leak, self.test.air.kpa)

    @property
    def rises(self) -> bool:
        """Whether the pressure has risen by more than all doubts explain."""
        return _rises(self.leak)

    def at(self, at_s: float) -> Stage:
        """Return what a time shows: foretold of a closed pot, or as the readings rise."""
        air_kpa = self.test.air.kpa
        if self.rises:
            return _stage_at(self.leak, "", at_s, air_kpa, self.leak.kpa(at_s))
        return _stage(self.leak, "", at_s, air_kpa)

    @property
    def possible_kpa(self) -> Estimate:
        """Drop over the test, as far as a leak can make it; NaN where the pressure rises."""
        if self.rises:
            return UNKNOWN
        return _stage(self.leak, LAST, self.series.span_s, self.test.air.kpa).drop_kpa

    @property
    def drawn_in(self) -> bool:
        """Whether the readings alone would leave open that the pot gains air, or goes below the air around it."""
        raw = self.leak.kpa(self.asked.at_s)
        gained, least = np.percentile(raw - self.leak.start_kpa, 97.5), np.percentile(raw, 2.5)
        return not self.rises and bool(gained > 0.0 or least < self.test.air.kpa)

    @property
    def opened(self) -> bool:
        """Whether what is asked comes after readings that foretell nothing, since they do not fall evenly."""
        return self.leak.uneven and self.asked.at_s > self.leak.span_s

    @property
    def rate_kpa_h(self) -> Estimate:
        """Mean fall over the test in kPa an hour; NaN where the pressure rises."""
        return self.possible_kpa.scaled(HOUR_S / self.series.span_s)

    @property
    def mol_s(self) -> Estimate:
        """Air lost in mol a second over the test; NaN without the free volume, or where the pressure rises."""
        drop = self.possible_kpa
        if self.test.pot.free_volume_cm3 is None or not drop.known:
            return UNKNOWN
        kelvin, volume_m3 = float(self.series.kelvin[0]), self.test.pot.free_volume_cm3 * CM3_M3
        start = float(np.median(self.leak.start_kpa))
        value, low, high = (
            -molar_flow(volume_m3, GasState(start, kelvin), GasState(start - kpa, kelvin), self.series.span_s)
            for kpa in (drop.value, drop.low, drop.high)
        )
        return Estimate(value, low, high)

    @property
    def pa_m3_s(self) -> Estimate:
        """The same as pressure times volume, at the first reading's temperature."""
        return self.mol_s.scaled(GAS_CONSTANT * float(self.series.kelvin[0]))

    @property
    def std_cm3_min(self) -> Estimate:
        """The same in cm3 a minute at one standard atmosphere and the first reading's temperature."""
        return self.pa_m3_s.scaled(60.0 / CM3_M3 / (1000.0 * STANDARD_KPA))


def hold(test: Hold) -> Held:
    """Return what a hold test says.

    Raises
    ------
    InputError
        There are fewer than two readings, they are out of order, one of them is above what pot or dial bear or is
        no air's temperature, or the pot has no more pressure to lose than it may.
    """
    check_readings(test)
    series, drift = series_of(test), drift_of(test)
    leak = fit_leak(series, drift, heat_of_filling(test))
    rises = _rises(leak)
    moments = [(name, at_s) for name, at_s in (("gel", test.gel_s), ("release", test.release_s)) if math.isfinite(at_s)]
    stages = () if rises else tuple(_stage(leak, name, at_s, test.air.kpa) for name, at_s in moments)
    last = _measured(leak, test.air.kpa) if rises else _stage(leak, LAST, series.span_s, test.air.kpa)
    asked = stages[-1] if stages else last
    allowed = allowed_drop_kpa(float(np.median(leak.start_kpa))) if math.isnan(test.allowed_kpa) else test.allowed_kpa
    check_allowed(test, allowed)
    answer = _answer(asked.drop_kpa, allowed, rises=rises)
    length = _Length(test, float(np.mean(series.err_kpa)), asked.at_s if stages else math.nan, allowed)
    longer_s = LENGTHENED * series.span_s if answer is Answer.CANNOT_TELL else SHORTEST_TEST_S
    return Held(
        test=test,
        series=series,
        drift=drift,
        leak=leak,
        answer=answer,
        asked=asked,
        stages=stages,
        allowed_kpa=allowed,
        tells_after_s=length.that_tells_s(np.maximum(leak.drop_kpa(asked.at_s), 0.0) / asked.at_s, from_s=longer_s),
        tight_after_s=length.that_tells_s(np.zeros(1), from_s=SHORTEST_TEST_S),
    )


def allowed_drop_kpa(start_kpa: float) -> float:
    """Return the drop that lets a void grow by 1 % of its diameter.

    >>> round(allowed_drop_kpa(100.0), 2)
    2.94
    """
    return start_kpa * -math.expm1(-math.log1p(GROWTH_ALLOWED) / BOYLE_EXPONENT)


@dataclass(frozen=True)
class _Length:
    """How long a test, with a reading at each end, must be to tell."""

    test: Hold
    err_kpa: float  # of each reading by itself
    asked_s: float  # after the first reading; NaN: at the test's own end
    allowed_kpa: float

    def that_tells_s(self, kpa_s: Floats, *, from_s: float) -> float:
        """Return the first length that tells, with CHANCE, a pot whose drop is any of `kpa_s`; NaN if none in 72 h.

        What such a test finds scatters by its own doubt: a limit that lies just where it should is passed every other
        time.
        """
        length_s = from_s
        while length_s <= LONGEST_TEST_S:
            at_s = length_s if math.isnan(self.asked_s) else self.asked_s
            apart = np.abs(kpa_s * at_s - self.allowed_kpa) / (self._err_kpa(length_s) * at_s / length_s)
            if float(np.mean(ndtr(apart - NORMAL_95))) >= CHANCE:
                return length_s
            length_s *= LENGTHENED
        return math.nan

    def _err_kpa(self, length_s: float) -> float:
        """Return the standard uncertainty of the drop over the test."""
        start_kpa = self.test.readings[0].dial.kpa_gauge + self.test.air_kpa[0]
        shared_kpa = start_kpa * drift_of(self.test, span_s=length_s).share
        return math.hypot(math.sqrt(2.0) * self.err_kpa, shared_kpa)


def _rises(leak: Leak) -> bool:
    """Say whether the pressure has risen by more than all doubts explain."""
    return bool(np.percentile(leak.fall, 97.5) < 0.0)


def _stage(leak: Leak, name: str, at_s: float, air_kpa: float) -> Stage:
    """Return what is expected at a time of a closed pot.

    Its dial shows the first reading less the drop, since the middles of what is drawn in do not add up. Its limits are
    those that the readings leave, up to what the first may have been: each is left as seldom as before.
    """
    stage = _stage_at(leak, name, at_s, air_kpa, leak.closed_kpa(at_s, air_kpa))
    start, end = _estimate(leak.start_kpa - air_kpa), _estimate(np.maximum(leak.kpa(at_s) - air_kpa, 0.0))
    dial_kpa = Estimate(max(start.value - stage.drop_kpa.value, end.low), end.low, min(start.high, end.high))
    told = replace(stage, dial_kpa=dial_kpa)
    return _opened(leak, told, air_kpa) if leak.uneven and at_s > leak.span_s else told


def _opened(leak: Leak, stage: Stage, air_kpa: float) -> Stage:
    """Return a stage after the last reading, its limits no more than what a closed pot does after the test."""
    last = _stage_at(leak, LAST, leak.span_s, air_kpa, leak.closed_kpa(leak.span_s, air_kpa))
    emptied = _stage_at(leak, LAST, leak.span_s, air_kpa, np.full_like(leak.start_kpa, air_kpa))
    return replace(
        stage,
        dial_kpa=Estimate(min(stage.dial_kpa.value, last.dial_kpa.high), 0.0, last.dial_kpa.high),
        drop_kpa=Estimate(stage.drop_kpa.value, last.drop_kpa.low, emptied.drop_kpa.high),
        growth_share=Estimate(stage.growth_share.value, last.growth_share.low, emptied.growth_share.high),
    )


def _measured(leak: Leak, air_kpa: float) -> Stage:
    """Return what the readings say of the last of them, whatever a closed pot can do."""
    return _stage_at(leak, LAST, leak.span_s, air_kpa, leak.kpa(leak.span_s))


def _stage_at(leak: Leak, name: str, at_s: float, air_kpa: float, kpa: Floats) -> Stage:
    return Stage(
        name=name,
        at_s=at_s,
        dial_kpa=_estimate(kpa - air_kpa),
        drop_kpa=_estimate(leak.start_kpa - kpa),
        growth_share=_estimate((leak.start_kpa / kpa) ** BOYLE_EXPONENT - 1.0),
    )


def _estimate(draws: Floats) -> Estimate:
    """Return the median of equally likely values with the limits of 95 %."""
    low, value, high = (float(each) for each in np.percentile(draws, [2.5, 50.0, 97.5]))
    return Estimate(value, low, high)


def _answer(drop_kpa: Estimate, allowed_kpa: float, *, rises: bool) -> Answer:
    """Return the answer; a pressure that rises by more than all doubts explain answers nothing."""
    if rises:
        return Answer.CANNOT_TELL
    if drop_kpa.high < allowed_kpa:
        return Answer.HOLDS
    return Answer.LEAKS if drop_kpa.low > allowed_kpa else Answer.CANNOT_TELL
