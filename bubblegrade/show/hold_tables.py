"""A hold test on the terminal: the verdict with its meaning, the numbers, what to know, the cautions."""

from __future__ import annotations

import math
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.grading.estimate import Estimate, from_error
from bubblegrade.pressure.hold import GROWTH_ALLOWED, HOUR_S, Answer, Held
from bubblegrade.pressure.hold_advice import advise_on_hold
from bubblegrade.pressure.hold_doubts import accuracy_of
from bubblegrade.pressure.situation import psi
from bubblegrade.show.cautions import show_cautions
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import percent
from bubblegrade.units import PSI_KPA

MOST_DECIMALS: Final = 4  # an interval that ends where the possible ends may be as narrow as chance has it
SMALL_GROWTH: Final = 0.02  # of a diameter: about what a photograph measures
HEADLINES: Final = {
    Answer.HOLDS: "The pot holds.",
    Answer.LEAKS: "The pot leaks.",
    Answer.CANNOT_TELL: "It cannot be told in this time.",
}


def show_hold(held: Held, console: Console) -> None:
    """Print a hold test."""
    say(verdict_words(held), console)
    say("", console)
    print_table(number_table(held, console), console)
    say("", console)
    for line in ground_lines(held):
        say(line, console)
    for each in advise_on_hold(held):
        say(each.text, console)
    say("", console)
    show_cautions(console)


def verdict_words(held: Held) -> str:
    """Return the verdict with its meaning."""
    if held.rises:
        return f"{HEADLINES[Answer.CANNOT_TELL]} The pressure rises, which no leak does."
    drop, allowed = held.asked.drop_kpa.scaled(1.0 / PSI_KPA), _psi(held.allowed_kpa)
    decimals = _decimals(drop)
    between = {
        Answer.HOLDS: f"is at most {drop.high:.{decimals}f} psi, below the {allowed} allowed",
        Answer.LEAKS: f"is at least {drop.low:.{decimals}f} psi, above the {allowed} allowed",
        Answer.CANNOT_TELL: f"may be {_range(drop)} psi, on both sides of the {allowed} allowed",
    }
    until = f"until {held.asked.name}, {duration_words(held.asked.at_s)} after the first reading,"
    return f"{HEADLINES[held.answer]} The drop {until} {between[held.answer]}."


def ground_lines(held: Held) -> tuple[str, ...]:
    """Return what the verdict rests on, a sentence a line."""
    lines = []
    if held.stages:
        lines.append(
            "What the dial shows later is told for the temperature of the first reading, and for a leak that goes on "
            "as the readings show it: one that begins or closes after them is not foretold."
        )
    if held.drawn_in:
        lines.append(
            "A closed pot gains no air and ends at the pressure around it: limits beyond that, which these readings "
            "alone would leave open, are drawn in to it."
        )
    if math.isnan(held.test.allowed_kpa):
        lines.append(
            f"No source is known for the drop that a pot may have: {_psi(held.allowed_kpa)} make a void "
            f"{percent(GROWTH_ALLOWED)} larger; --allowed sets another."
        )
    growth = held.asked.growth_share
    if max(abs(growth.low), abs(growth.high)) < SMALL_GROWTH:
        lines.append("What that changes in a void's diameter is less than a photograph measures.")
    accuracy, first = accuracy_of(held.test), held.test.readings[0].dial
    lines.append(
        f"Limits are those of 95 %. The dial itself may be {psi(accuracy.limit_kpa(first.psig) / PSI_KPA)} off "
        f"(grade {accuracy.grade}), the same in all readings, so that a drop hardly shows it. It is taken to "
        "have been tapped before each: a needle that sticks shows too little."
    )
    return tuple(lines)


def duration_words(seconds: float) -> str:
    """Return a time in words.

    >>> duration_words(1200.0), duration_words(43200.0)
    ('20 min', '12 h')
    """
    return f"{seconds / 60.0:.3g} min" if seconds < 2.0 * HOUR_S else f"{seconds / HOUR_S:.3g} h"


def number_table(held: Held, console: Console) -> Table:
    """Return the numbers, a line each."""
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    table.add_column("quantity")
    table.add_column("value", justify="right", no_wrap=True)
    table.add_column("95 % from ... to", justify="right", no_wrap=True)
    table.add_column("unit", no_wrap=True)
    over = held.over_test
    read = (held.test.readings[0].dial.kpa_gauge - held.test.readings[-1].dial.kpa_gauge) / PSI_KPA
    table.add_row(f"drop of the dial in {duration_words(held.series.span_s)}", f"{read:.2f}", "", "psi")
    last = held.test.readings[-1]
    if math.isfinite(last.turn_deg):
        turn = from_error(last.turn_deg, last.turn_err_deg)
        table.add_row("needle turned", f"{turn.value:.2f}", f"{turn.low:.2f} to {turn.high:.2f}", "degrees")
    rows = [("drop, temperature taken out", over.drop_kpa.scaled(1.0 / PSI_KPA), "psi")]
    if held.rate_kpa_h.known:
        rows += [("leak rate", held.rate_kpa_h.scaled(1.0 / PSI_KPA), "psi/h")]
    if held.pa_m3_s.known:
        rows += [("", held.pa_m3_s, "Pa m3/s"), ("", held.std_cm3_min, "std cm3/min")]
    for stage in held.stages:
        when = f"{stage.name}, {duration_words(stage.at_s)}"
        rows += [
            (f"dial at {when}", stage.dial_kpa.scaled(1.0 / PSI_KPA), "psi"),
            ("  drop until then", stage.drop_kpa.scaled(1.0 / PSI_KPA), "psi"),
            ("  void's diameter grows by", stage.growth_share.scaled(100.0), "%"),
        ]
    if not held.stages and not held.rises:
        rows += [("void's diameter grows by", held.asked.growth_share.scaled(100.0), "%")]
    for words, estimate, unit in rows:
        value = _fixed(estimate.value, _decimals(estimate))
        table.add_row(*(Text(cell) for cell in (words, value, _range(estimate), unit)))
    return table


def _psi(kpa: float) -> str:
    """Return a difference of pressures in words."""
    return f"{kpa / PSI_KPA:.2f} psi"


def _range(estimate: Estimate) -> str:
    """Return the limits of 95 %."""
    decimals = _decimals(estimate)
    return f"{_fixed(estimate.low, decimals)} to {_fixed(estimate.high, decimals)}"


def _fixed(value: float, decimals: int) -> str:
    """Return a number with so many decimals; one that rounds to nothing has no sign."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def _decimals(estimate: Estimate) -> int:
    """Return how many decimals leave two digits of the doubt."""
    half = (estimate.high - estimate.low) / 2.0
    return min(max(0, 1 - math.floor(math.log10(half))), MOST_DECIMALS) if half > 0.0 else 0
