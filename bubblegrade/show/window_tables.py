"""The resin's window on the terminal: the verdict, the timeline, what is left to see at each pressure, what to know."""

from __future__ import annotations

import math
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.gas import kelvin
from bubblegrade.pressure.resin import GELLED_PA_S
from bubblegrade.pressure.situation import psi
from bubblegrade.pressure.window import Steps, Window, WindowRow
from bubblegrade.show.cautions import show_cautions
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import percent, rounded

HOUR_S, MINUTE_S = 3600.0, 60.0
HEADLINES: Final = {
    "in time": "The pressure stands in time.",
    "perhaps too late": "The pressure stands perhaps too late.",
    "too late": "The pressure comes too late.",
}


def show_window(found: Window, console: Console) -> None:
    """Print the resin's window."""
    say(verdict_words(found), console)
    say("", console)
    print_table(timeline_table(found, console), console)
    say("", console)
    print_table(sizes_table(found, console), console)
    say("", console)
    for line in ground_lines(found):
        say(line, console)
    say("", console)
    show_cautions(console, resin=True)


def verdict_words(found: Window) -> str:
    """Return the verdict with its meaning."""
    pressed = found.question.steps.pressed_s
    gel = f"gel comes after {time_words(found.gel.value)}, {_between(found.gel)}"
    words = f"{HEADLINES[found.verdict]} It stands {time_words(pressed)} after the first stir; {gel}."
    if found.verdict == "in time" and not found.early_enough:
        words += " That is in the second half of the time to the earliest gel: thick resin yields late. Be quicker."
    return words


def time_words(seconds: float) -> str:
    """Return a time as people say it.

    >>> time_words(45.0), time_words(1500.0), time_words(9000.0), time_words(-90.0)
    ('45 s', '25 min', '2.5 h', '-1.5 min')
    """
    sign, size = ("-" if seconds < 0.0 else ""), abs(seconds)
    if size < MINUTE_S:
        return f"{sign}{size:.0f} s"
    if size < 1.5 * HOUR_S:
        return f"{sign}{size / MINUTE_S:.2g} min" if size < 10.0 * MINUTE_S else f"{sign}{size / MINUTE_S:.0f} min"
    return f"{sign}{size / HOUR_S:.3g} h"


def ground_lines(found: Window) -> tuple[str, ...]:
    """Return what the numbers rest on, a sentence a line."""
    asked = found.question
    lines = [
        *_untimed(asked.steps),
        _gel_ground(found),
        f"Sizes are diameters in open air; visible is {rounded(asked.visible_mm)} mm at gel.",
    ]
    if asked.flow is None:
        lines.append(
            "Which voids rise out cannot be told without the resin's viscosity: add --viscosity from its data sheet, "
            "and --depth."
        )
    else:
        lines.append(
            f"Rise from the bottom of {rounded(asked.flow.depth_mm)} mm of resin that thickens evenly, in its "
            f"logarithm, to {asked.flow.gelled_pa_s:g} Pa s at gel{_assumed(asked.flow.gelled_pa_s)}: between a rigid "
            "ball at the earliest gel and a clean void at the latest. Pressure slows it: a smaller void climbs less."
        )
        if found.too_fast_mm < max(row.out_surely_mm for row in found.rows):
            lines.append(f"Above {rounded(found.too_fast_mm)} mm voids climb more slowly than this.")
    if asked.dissolving is None:
        lines.append("Dissolving is left out: no constants of casting resins are known well enough to be guessed.")
    else:
        lines.append(
            "Dissolving after Epstein and Plesset; measured times are some 9 % longer, and longer in thick resin."
        )
    return tuple(lines)


def _untimed(steps: Steps) -> tuple[str, ...]:
    """Return which steps were counted as taking no time, in a sentence."""
    times = (
        ("mixing (--mix)", steps.mixing_s),
        ("pouring (--pour)", steps.pouring_s),
        ("closing (--close)", steps.closing_s),
        ("filling (--fill)", steps.filling_s),
    )
    untimed = ", ".join(step for step, seconds in times if seconds == 0.0)
    said = f"Taken to need no time: {untimed}. State what each takes: the pressure stands that much later."
    return (said,) if untimed else ()


def _gel_ground(found: Window) -> str:
    """Return what the gel time rests on."""
    asked = found.question
    room, stated = (f"{each - kelvin(0.0):.3g} C" for each in (asked.room_k, asked.points[0].kelvin))
    point = f"from {time_words(asked.points[0].seconds)} at {stated}"
    if len(asked.points) > 1:
        return f"Gel time at {room} from both times of the data sheet (Arrhenius); batch and mass move it by some 12 %."
    if asked.activation_j_mol is not None:
        by = "by the activation energy given (Arrhenius)"
        return f"Gel time at {room} {point} {by}; batch and mass move it by some 12 %."
    return (
        f"Gel time at {room} {point} by the rule that it halves for every 10 C (maker guidance; by 1.5 to 2.5 for "
        "other resins). A second time of the data sheet tells more, a cup of your own the most."
    )


def _assumed(gelled_pa_s: float) -> str:
    return ", as we take it" if gelled_pa_s == GELLED_PA_S else ""


def _between(gel: Estimate) -> str:
    return f"{time_words(gel.low)} to {time_words(gel.high)} for 95 %"


def timeline_table(found: Window, console: Console) -> Table:
    """Return the steps and the time left."""
    steps = found.question.steps
    table = _plain_table(console)
    for heading in ("from the first stir", "after", "95 % from ... to"):
        table.add_column(heading, justify="left" if heading.startswith("from") else "right", no_wrap=True)
    for name, at in (
        ("mixed", steps.mixing_s),
        ("in the mould", steps.poured_s),
        ("lid shut", steps.closed_s),
        ("pressure stands", steps.pressed_s),
    ):
        table.add_row(name, time_words(at), "")
    gel, left = found.gel, found.left
    table.add_row("gel", time_words(gel.value), f"{time_words(gel.low)} to {time_words(gel.high)}")
    table.add_row("left under pressure", time_words(left.value), f"{time_words(left.low)} to {time_words(left.high)}")
    return table


def sizes_table(found: Window, console: Console) -> Table:
    """Return what is left to see at each pressure."""
    table = _plain_table(console)
    columns = ["pressure", "diameter left", "visible at gel from", "stays up to", "rises out from", "visible ones stay"]
    if found.question.flow is None:
        columns = columns[:3]
    if found.question.dissolving is not None:
        columns.insert(2, "dissolves up to")
    for name in columns:
        heading = "\n".join(name.rsplit(" ", 1)) if console.is_terminal else name
        table.add_column(heading, justify="right", no_wrap=True)
    for row in found.rows:
        cells = {
            "pressure": psi(row.gauge.psig) if row.gauge.psig > 0.0 else "open air",
            "diameter left": percent(row.diameter_share, decimals=1),
            "dissolves up to": _size(row.gone_mm),
            "visible at gel from": _size(row.seen_from_mm),
            "stays up to": _size(row.out_hardly_mm),
            "rises out from": _size(row.out_surely_mm),
            "visible ones stay": _remain(row),
        }
        table.add_row(*(Text(cells[name]) for name in columns))
    return table


def _remain(row: WindowRow) -> str:
    """Return the sizes that are visible at gel and do not rise out, in words."""
    if not row.remains_perhaps:
        return "none"
    top = row.out_hardly_mm if row.remains_surely else row.out_surely_mm
    reach = "from " + _size(row.seen_from_mm) if math.isinf(top) else f"{rounded(row.seen_from_mm)} to {_size(top)}"
    return reach if row.remains_surely else f"perhaps {reach}"


def _size(diameter_mm: float) -> str:
    if math.isinf(diameter_mm):
        return "none"
    return f"{rounded(diameter_mm)} mm" if diameter_mm > 0.0 else "-"


def _plain_table(console: Console) -> Table:
    return Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
