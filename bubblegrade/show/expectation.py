"""A prediction on the terminal: stops first, then the table, what it rests on, the plan, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.pressure.atmosphere import Source
from bubblegrade.pressure.expectation import Expectation
from bubblegrade.pressure.gas import ROOM_K, kelvin
from bubblegrade.pressure.prediction import TENSION_BELOW_MM, Row
from bubblegrade.pressure.situation import Level, psi
from bubblegrade.show.cautions import show_cautions
from bubblegrade.show.plan import plan_lines
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import VERY_NARROW, print_table
from bubblegrade.show.words import percent, rounded

ASKED: Final = ">"  # before a pressure that was asked for
LEFT_OUT_FIRST: Final = ("absolute kPa", "area left")  # on a very narrow terminal
SOURCES: Final = {
    Source.SEA_LEVEL: "at sea level, for neither --altitude nor --barometer is given",
    Source.ALTITUDE: "by the altitude",
    Source.BAROMETER: "by the barometer",
}

Cell = Callable[[Row], str]


def show_expectation(found: Expectation, console: Console) -> None:
    """Print a prediction."""
    for each in found.said:
        if each.level is Level.STOP:
            say(f"STOP: {each.text} {each.ground}", console)
    if found.rows:
        print_table(_table(found, console), console)
        say("", console)
        for line in ground_lines(found):
            say(line, console)
    if found.plan is not None:
        for line in plan_lines(found.plan, found.question.settings):
            say(line, console)
    for each in found.said:
        if each.level is not Level.STOP:
            say(each.text, console)
    say("", console)
    show_cautions(console, resin=found.plan is not None)


def ground_lines(found: Expectation) -> tuple[str, ...]:
    """Return what the table rests on, a sentence a line."""
    premises, air = found.question.premises, found.question.atmosphere
    lines = [
        f"Shares of what it was at {since(found)}, where the air has {rounded(air.kpa, 4)} kPa {SOURCES[air.source]}. "
        "What counts is the pressure that stands at gel."
    ]
    if not premises.closing_k == premises.gel_k == ROOM_K:
        lines.append(
            f"The gas is closed in at {premises.closing_k - kelvin(0.0):.3g} C, at {since(found)}, "
            f"and fixed at {premises.gel_k - kelvin(0.0):.3g} C."
        )
    if premises.tension_n_per_m > 0.0:
        lines.append(
            f"The sizes include a surface tension of {premises.tension_n_per_m:g} N/m, which shows below about "
            f"{TENSION_BELOW_MM:g} mm; the shares do not."
        )
    if premises.dissolving is not None:
        lines.append(
            f"Dissolving after Epstein and Plesset, with the constants given, for "
            f"{premises.dissolving.gel_s / 60.0:.3g} min under pressure; measured times are some 9 % longer, and "
            "longer still as the resin thickens."
        )
    return tuple(lines)


def since(found: Expectation) -> str:
    """Return what the shares are shares of."""
    start = found.question.premises.start.psig
    return psi(start) if start > 0.0 else "open air"


def _columns(found: Expectation) -> dict[str, Cell]:
    """Return the columns by their headings; those of a size only where one was asked for."""
    size = found.question.premises.size_mm
    columns: dict[str, Cell] = {
        "absolute kPa": lambda row: rounded(row.absolute_kpa),
        "volume left": lambda row: percent(row.ratios.volume, decimals=1),
        "diameter left": lambda row: percent(row.ratios.diameter, decimals=1),
        "area left": lambda row: percent(row.ratios.area, decimals=1),
        "next 5 psi": lambda row: _taken(row.next_gain_share),
    }
    if math.isfinite(size):
        columns[f"{rounded(size)} mm becomes"] = lambda row: f"{rounded(row.becomes_mm)} mm"
        if found.question.premises.dissolving is not None:
            columns["or, dissolving,"] = lambda row: _dissolved(row.dissolved_mm)
        columns[f"{rounded(size)} mm was"] = lambda row: f"{rounded(row.began_mm)} mm"
    return columns


def _taken(share: float) -> str:
    """Return what the next step takes off a diameter; a dash where it would pass a limit."""
    return f"-{percent(share, decimals=1)}" if math.isfinite(share) else "-"


def _dissolved(diameter_mm: float) -> str:
    """Return a diameter, or that nothing is left."""
    return "gone" if diameter_mm == 0.0 else f"{rounded(diameter_mm)} mm"


def _table(found: Expectation, console: Console) -> Table:
    """Return the table, on a terminal with headings in two lines."""
    columns = _columns(found)
    names = [name for name in columns if console.width >= VERY_NARROW or name not in LEFT_OUT_FIRST]
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    table.add_column("pressure", justify="right", no_wrap=True)
    for name in names:
        heading = "\n".join(name.rsplit(" ", 1)) if console.is_terminal else name
        table.add_column(heading, justify="right", no_wrap=True)
    for row in found.rows:
        marked = f"{ASKED} {psi(row.gauge.psig)}" if row.asked else psi(row.gauge.psig)
        cells = (marked, *(columns[name](row) for name in names))
        table.add_row(*(Text(cell) for cell in cells), style="bold" if row.asked else "")
    return table
