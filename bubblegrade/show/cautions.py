"""Cautions on the terminal: wrapped to its width, and the same in every command."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import Final

from rich.console import Console

from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.situation import Advice

WIDEST: Final = 100  # columns of a line that people like to read, on a terminal and in a file
NARROWEST: Final = 20
HEADING: Final = "Take care"
BULLET: Final = "- "


def pressure_cautions(*, width: int = WIDEST) -> str:
    """Return what stands wherever a pressure is printed, as lines of at most `width` columns."""
    return caution_text(PRESSURE, width=width)


def resin_cautions(*, width: int = WIDEST) -> str:
    """Return what stands wherever resin is to be poured, as lines of at most `width` columns."""
    return caution_text(RESIN, width=width)


def caution_text(cautions: Iterable[Advice], *, width: int = WIDEST) -> str:
    """Return cautions as a list, one a bullet, wrapped to `width` columns."""
    wide = max(min(width, WIDEST), NARROWEST)
    listed = (
        textwrap.fill(
            each.text, wide, initial_indent=BULLET, subsequent_indent=" " * len(BULLET), break_long_words=False
        )
        for each in cautions
    )
    return "\n".join(listed)


def show_stops(stopped: Iterable[Advice], console: Console) -> None:
    """Print why a pressure is not looked at, and the cautions."""
    for each in stopped:
        said = textwrap.fill(f"STOP: {each.text} {each.ground}", min(console.width, WIDEST))
        console.print(said, markup=False, soft_wrap=True)
    console.print(soft_wrap=True)
    show_cautions(console)


def show_cautions(console: Console, *, resin: bool = False) -> None:
    """Print the cautions for pressure, and those for resin where some is to be poured."""
    groups = (PRESSURE, RESIN) if resin else (PRESSURE,)
    text = "\n".join(caution_text(group, width=console.width) for group in groups)
    console.print(f"{HEADING}:\n{text}", markup=False, highlight=False, soft_wrap=True)
