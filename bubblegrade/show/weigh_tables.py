"""A weighing on the terminal: the numbers, the photograph's beside them, and what weighing cannot see."""

from __future__ import annotations

import math
from typing import Any, Final

from rich import box
from rich.console import Console
from rich.table import Table

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.weighed import Weighed
from bubblegrade.pressure.weight import Water
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import rounded

DIGITS: Final = 5  # of a density


def show_weighed(found: Weighed, seen: dict[str, Any] | None, console: Console) -> None:
    """Print a weighing; `seen` is what a photograph shows of the same piece."""
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    for heading in ("", "value", "95 % from ... to", "unit"):
        table.add_column(heading, justify="right" if heading[:1] in ("v", "9") else "left", no_wrap=True)
    for name, estimate, digits, unit in _rows(found, seen):
        table.add_row(name, rounded(estimate.value, digits), _limits(estimate, digits), unit)
    print_table(table, console)
    for line in ground_lines(found, seen):
        say("", console)
        say(line, console)


def ground_lines(found: Weighed, seen: dict[str, Any] | None) -> tuple[str, ...]:
    """Return what the numbers mean, a paragraph a line."""
    lines = []
    if found.density is None:
        lines.append("The density is not known: hang the piece in water and give --water.")
    elif found.reference is None:
        lines.append(
            "The void content is not known without a reference: give --reference, the density of the same resin and "
            "cure without voids, or weigh such a sample with --reference-air and --reference-water. A data sheet's "
            "density is of another cure and can be 1 % off."
        )
    waters = [water for water in _waters(found) if not water.stated]
    if waters:
        lines.append(
            f"The water's temperature is not stated{'' if len(waters) == len(_waters(found)) else ' for one of both'}: "
            f"it is taken as {waters[0].celsius:g} C, give or take {waters[0].err_c:g} C. State it for less "
            f"doubt, as in --water 3.26g@{waters[0].celsius:g}C."
        )
    if found.voids is not None:
        told = found.voids.share.low > 0.0
        lines.append(
            f"Weighing tells {'voids' if told else 'no voids'} here. It sees all voids together, from "
            f"{rounded(found.voids.least_mm3)} mm3 on: as much as {rounded(found.voids.least_voids)} voids of 1 mm. "
            "Fine bubbles it cannot see, and it takes missing fill, a wrong mixing ratio or ballast for voids."
        )
        if not told and found.voids.share.value < 0.0:
            lines.append("The piece came out a little denser than the reference, within what weighing explains.")
    if seen is not None:
        lines.append(
            f"The photograph counts voids from {rounded(seen['smallest_mm'])} mm in what was judged; what is smaller, "
            "hidden or not judged it does not count. The two are different things and are not to be merged."
        )
    if found.against_master is not None:
        lines.append(
            "A mass beside a master's holds for a piece of the same shape. Where mass is missing cannot be told by "
            "weight: it may be ballast, fill, voids or resin of another density."
        )
    lines.append(
        "Weigh dry, then immersed and clear of the walls, with no air clinging to the piece: brush it off under water."
    )
    return tuple(lines)


def _waters(found: Weighed) -> list[Water]:
    """Return the water of each that hung in it: the piece, the void-free sample."""
    asked = found.question
    own = [] if asked.piece is None else [asked.water]
    return own if asked.reference_weighed is None else [*own, asked.reference_weighed[1]]


def _rows(found: Weighed, seen: dict[str, Any] | None) -> list[tuple[str, Estimate, int, str]]:
    """Return the rows: name, estimate, digits, unit."""
    rows = []
    if found.density is not None:
        rows.append(("density", found.density.estimate, DIGITS, "kg/m3"))
    if found.reference is not None:
        rows.append(("reference", found.reference.estimate, DIGITS, "kg/m3"))
    if found.voids is not None:
        rows.append(("voids by weight", found.voids.share.scaled(100.0), 3, "% of volume"))
        rows.append(("", found.voids.volume_mm3, 3, "mm3"))
    if seen is not None:
        rows.append(("voids in the photograph", Estimate(**seen["share"]).scaled(100.0), 3, "% of volume judged"))
    if found.against_master is not None:
        rows.append(("mass less the master's", found.against_master.difference_g, 3, "g"))
        rows.append(("  missing as resin", found.against_master.as_void_mm3, 3, "mm3"))
        if found.against_master.as_ballast_g.known:
            rows.append(("  missing as ballast", found.against_master.as_ballast_g, 3, "g"))
    return rows


def _limits(estimate: Estimate, digits: int) -> str:
    return f"{rounded(estimate.low, digits)} to {rounded(estimate.high, digits)}" if math.isfinite(estimate.low) else ""
