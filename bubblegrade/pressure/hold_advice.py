"""What to know and to do after a hold test: each rule is one small function with its ground and source."""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable
from typing import Final

from bubblegrade.pressure.hold import HOUR_S, Answer, Held
from bubblegrade.pressure.hold_doubts import FILLING_K, accuracy_of, heat_of_filling, temperature_err_k
from bubblegrade.pressure.leak import CHOKED_RATIO
from bubblegrade.pressure.plan import CHANCE
from bubblegrade.pressure.situation import COMMON, GAS_LAW, MAKERS, Advice, Level, psi
from bubblegrade.units import PSI_KPA

HEAT_TOLD_K: Final = 0.5  # of the heat of filling, from which it is worth a word
LARGE_DROP_SHARE: Final = 0.1  # of the starting pressure: ASTM E2930, pressure decay leak test
INSPECTED_WITHIN_YEARS: Final = 5.0  # maker guidance for the inside; a strength test within 10
DAYS_A_YEAR: Final = 365.25
MOSTLY: Final = f"{10.0 * CHANCE:g} in 10"
DECAY_STANDARD: Final = "ASTM E2930"
GAUGE_STANDARD: Final = "ASME B40.100"


def _advice(rule: str, text: str, *, ground: str, source: str) -> Advice:
    return Advice(Level.ADVICE, rule, text, ground, source)


def find_the_leak(held: Held) -> Advice | None:
    """Say how a leak is found."""
    if held.answer is not Answer.LEAKS:
        return None
    return _advice(
        "find the leak",
        "Soapy water on gasket, fittings, relief valve and inlet shows where it blows; vent the pot to 0 and open the "
        "vent before anything is tightened or taken apart.",
        ground="A leak at the lid's seat or at a fitting is usual; a clamp that is touched under pressure can let go.",
        source=COMMON,
    )


def longer_test(held: Held) -> Advice | None:
    """Say how long a test would tell."""
    if held.answer is not Answer.CANNOT_TELL or held.rises or held.opened:
        return None
    seems, tight = _hours(held.tells_after_s), _hours(held.tight_after_s)
    words = (
        f"Of the leaks that these readings leave open, {seems} from the first reading would tell {MOSTLY}"
        if seems
        else f"No test within 72 h would tell {MOSTLY} of the leaks that these readings leave open"
    )
    if _heat_in_doubt(held):
        words += ", read first 15 min after filling"
    if not held.stages:  # over a test of minutes any pot drops less than allowed
        rest = "; say with --release until when it has to hold."
    else:
        rest = (
            f"; a pot without any leak shows it in {tight}, {10.0 * CHANCE:g} times in 10."
            if tight
            else "; with these doubts no tight pot would show."
        )
    return _advice(
        "test longer",
        words + rest,
        ground="The doubt of a rate falls as the test grows; a finer dial or a better known temperature shorten it.",
        source=GAS_LAW,
    )


def pressure_rises(held: Held) -> Advice | None:
    """Say that the numbers are no hold test where the pressure rises."""
    if not held.rises:
        return None
    photographed = any(math.isfinite(each.turn_deg) for each in held.test.readings)
    mirrored = (
        " In photographs that are both mirrored, as front cameras do it, a needle that falls seems to rise: "
        "see whether the dial's numbers can be read in them."
    )
    return _advice(
        "pressure rises",
        "The pressure has risen by more than all doubts explain: shut the inlet, let pot and thermometer come to rest, "
        f"and test again.{mirrored if photographed else ''}",
        ground="Air in a closed pot gains pressure by warming alone.",
        source=GAS_LAW,
    )


def still_cooling(held: Held) -> Advice | None:
    """Warn of air that is still hot from filling."""
    heat = heat_of_filling(held.test).most_k
    if math.isnan(held.test.settled_s) or not _heat_in_doubt(held):
        return None
    return _advice(
        "still cooling",
        f"The first reading came {held.test.settled_s / 60.0:.3g} min after filling, when the air may be {heat:.2g} C "
        "warmer than the pot: its cooling looks like a leak, and is in the doubt. Wait 15 min before reading.",
        ground=f"Pressing air together heats it, here taken as {FILLING_K:g} C that fade within minutes.",
        source="from memory",
    )


def _heat_in_doubt(held: Held) -> bool:
    """Say whether the air may have been notably warmer than the pot at the first reading."""
    return heat_of_filling(held.test).most_k >= HEAT_TOLD_K


def let_it_settle(held: Held) -> Advice | None:
    """Ask for the time since filling where it is not told."""
    if math.isfinite(held.test.settled_s):
        return None
    return _advice(
        "let it settle",
        "Read first 15 min after filling or later, and say so with --settled: air cools from being pressed together, "
        "which looks like a leak. Untold, the first reading may be of air as hot as right after filling, and "
        "that is in the doubt.",
        ground="The check as done: charge, shut the inlet, let the air cool, mark the needle, look again.",
        source=COMMON,
    )


def temperature_unread(held: Held) -> Advice | None:
    """Ask for temperatures where none were read."""
    if math.isfinite(held.test.readings[0].celsius):
        return None
    per_c = float(held.series.kpa[0] / held.series.kelvin[0]) / PSI_KPA
    return _advice(
        "temperature unread",
        f"No temperature was read: it is taken to have stayed within {temperature_err_k(held.test):.2g} C, and each "
        f"degree moves this pot by {per_c:.2g} psi. Read a thermometer at the pot with each reading.",
        ground="Cooling mimics a leak, warming hides one.",
        source=MAKERS,
    )


def readings_scatter(held: Held) -> Advice | None:
    """Say that the readings do not lie on a line."""
    if not held.leak.uneven:
        return None
    later = f" What comes after the last of them is not foretold: read until {held.asked.name}." if held.opened else ""
    return _advice(
        "readings scatter",
        f"The readings leave an even fall {held.leak.scatter:.2g} times as far as dial and eye explain, and the doubt "
        f"is widened by that: was air let in or out, or did the temperature jump?{later}",
        ground="A leak alone gives an even fall.",
        source=GAS_LAW,
    )


def large_drop(held: Held) -> Advice | None:
    """Say that a test by decay has lost too much to be exact."""
    start, drop = float(held.series.kpa[0]), held.over_test.drop_kpa.value
    if drop < LARGE_DROP_SHARE * start:
        return None
    return _advice(
        "large drop",
        f"The pot has lost {100.0 * drop / start:.0f} % of its absolute pressure: the leak is plain, its rate rough.",
        ground="A test by pressure decay keeps the total change under 10 % of the start.",
        source=DECAY_STANDARD,
    )


def slows_down(held: Held) -> Advice | None:
    """Say that a leak slows down at low pressure."""
    lowest = min(stage.dial_kpa.value for stage in (held.over_test, *held.stages)) + held.test.air.kpa
    if lowest >= CHOKED_RATIO * held.test.air.kpa:
        return None
    return _advice(
        "slows down",
        f"Below {(CHOKED_RATIO - 1.0) * held.test.air.kpa / PSI_KPA:.2g} psi air leaks slower and slower: what is "
        "foretold here is the most that can be lost.",
        ground="Above 1.89 atmospheres air leaves at the speed of sound, in proportion to its absolute pressure.",
        source=GAS_LAW,
    )


def dial_assumed(held: Held) -> Advice | None:
    """Say what was taken of a dial that was not described."""
    accuracy, test = accuracy_of(held.test), held.test
    by_eye = any(math.isnan(each.err_kpa) for each in test.readings)
    told = test.pot.dial
    taken = (
        (told is None, f"0 to {psi(accuracy.dial.high.psig)}", "--range"),
        (told is None or told.grade is None, f"grade {accuracy.grade}", "--class"),
        (
            by_eye and math.isnan(test.graduation_kpa),
            f"a mark every {psi(accuracy.step_kpa / PSI_KPA)}",
            "--graduation",
        ),
    )
    said = [(words, option) for untold, words, option in taken if untold]
    if not said:
        return None
    *others, last = (option for _, option in said)
    return _advice(
        "dial assumed",
        f"Taken of the dial: {', '.join(words for words, _ in said)}. Say what it is with "
        f"{', '.join(others)}{' and ' if others else ''}{last}.",
        ground="Marks are no further apart than twice the error of the grade in the middle half of the scale.",
        source=GAUGE_STANDARD,
    )


def photographed(held: Held) -> Advice | None:
    """Say what a needle's photographs cannot show."""
    if math.isnan(held.test.readings[-1].turn_deg):
        return None
    return _advice(
        "photographed",
        "The needle was followed in photographs, counted from the pressure told for the first. Tap the dial before "
        "each, and look at the pictures yourself: two gauges of one make look alike.",
        ground="A needle that sticks shows no drop. Its direction is compared, which a slant does not change.",
        source=COMMON,
    )


def inspection(held: Held) -> Advice | None:
    """Show when the pot was last looked at inside, and how long before this test, where its day is told."""
    last, day = held.test.pot.last_inspection, held.test.readings[0].day
    if last is None:
        return None
    age = "" if day is None else _age(last, day)
    return _advice(
        "inspection",
        f"Last inspection: {last.isoformat()}{age}.",
        ground="Inside within 5 years, strength within 10, and after any change, over-pressure or fire.",
        source=MAKERS,
    )


def _age(last: datetime.date, day: datetime.date) -> str:
    """Return how long before the test a pot was inspected."""
    years = (day - last).days / DAYS_A_YEAR
    if years < 0.0:
        return f", which is after this test of {day.isoformat()}: check both days"
    late = ": longer ago than the 5 years that makers name for the inside" if years > INSPECTED_WITHIN_YEARS else ""
    return f", {years:.1f} years before this test{late}"


def _hours(length_s: float) -> str:
    """Return a length of time in words, nothing where there is none."""
    if math.isnan(length_s):
        return ""
    return f"{length_s / 60.0:.0f} min" if length_s < HOUR_S else f"{length_s / HOUR_S:.2g} h"


RULES: Final[tuple[Callable[[Held], Advice | None], ...]] = (
    pressure_rises,
    longer_test,
    find_the_leak,
    still_cooling,
    let_it_settle,
    temperature_unread,
    readings_scatter,
    large_drop,
    slows_down,
    dial_assumed,
    photographed,
    inspection,
)


def advise_on_hold(held: Held) -> tuple[Advice, ...]:
    """Return what each rule says, in the order of the rules."""
    return tuple(said for rule in RULES if (said := rule(held)) is not None)
