"""Checks of a photograph as people read them, and their table on the terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.fitness.check import Check, Checked, Verdict
from bubblegrade.fitness.geometry import NOT_ASKED
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import percent
from bubblegrade.units import count_of

WORST_FIRST: Final = (Verdict.UNFIT, Verdict.CARE)
STYLES: Final = {Verdict.FIT: "green", Verdict.CARE: "yellow", Verdict.UNFIT: "bold red"}


def quantity(value: float, unit: str) -> str:
    """Return a value with its unit.

    >>> quantity(0.0442, "share"), quantity(3.24, "px"), quantity(12.0, "code"), quantity(0.8, "ratio")
    ('4.4 %', '3.2 px', '12 codes', '0.80')
    """
    if math.isnan(value):
        return "-"
    if unit == "share":
        return percent(value, decimals=1)
    told = {"px": f"{value:.1f} px" if value else "0 px", "code": f"{value:.0f} codes", "count": f"{value:.0f}"}
    return told.get(unit, f"{value:.2f}")


def limit_words(check: Check) -> str:
    """Return the limit that the value is held against: the one that it breaks, else the first.

    >>> from bubblegrade.fitness.check import Limit
    >>> facts = ("pixels", "smallest void", 4.0, "px", Limit(8.0, 5.0, least=True), Verdict.UNFIT, "", "", "")
    >>> limit_words(Check(*facts))
    'at least 5.0 px'
    """
    limit = check.limit.unfit if check.verdict is Verdict.UNFIT else check.limit.care
    return f"at {'least' if check.limit.least else 'most'} {quantity(limit, check.unit)}"


def show_checked(checked: Sequence[Checked], console: Console) -> None:
    """Print each photograph's verdict with what is wrong, its limit, what it costs and what to do."""
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    for name in ("photo", "verdict", "what", "limit", "so", "do"):
        table.add_column(name, overflow="fold")
    for one in checked:
        faults = [check for verdict in WORST_FIRST for check in one.fitness.of(verdict)]
        for number, check in enumerate(faults):
            photo = one.photo if number == 0 else ""
            cells = (check.fault, limit_words(check), check.effect, check.cure)
            table.add_row(Text(photo), Text(check.verdict, STYLES[check.verdict]), *(Text(cell) for cell in cells))
        if not faults:
            told = len(one.fitness.of(Verdict.FIT))
            table.add_row(
                Text(one.photo), Text(Verdict.FIT, STYLES[Verdict.FIT]), Text(count_of(told, "check") + " kept")
            )
    print_table(table, console)
    for line in untold(checked):
        console.print(Text(line))


def untold(checked: Sequence[Checked]) -> list[str]:
    """Return what cannot be told and why, what has one reason together, with the number of photographs."""
    reasons: dict[tuple[str, str], int] = {}
    for one in checked:
        by_fault: dict[str, dict[str, None]] = {}  # each title once: a value may be held against two limits
        for check in one.fitness.of(Verdict.CANNOT_TELL):
            if check.fault != NOT_ASKED:
                by_fault.setdefault(check.fault, {})[check.title] = None
        for fault, titles in by_fault.items():
            reason = ", ".join(titles), fault
            reasons[reason] = reasons.get(reason, 0) + 1
    return [
        f"cannot be told: {titles} ({fault}) in {count_of(count, 'photograph')}"
        for (titles, fault), count in reasons.items()
    ]
