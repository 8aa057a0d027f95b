"""Cautions on the terminal, the same in every command."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from rich.console import Console

from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.situation import Advice
from bubblegrade.show.sentences import say

HEADING: Final = "Take care:"
BULLET: Final = "- "


def show_stops(stopped: Iterable[Advice], console: Console) -> None:
    """Print why a pressure is not looked at, and the cautions."""
    for each in stopped:
        say(f"STOP: {each.text} {each.ground}", console)
    say("", console)
    show_cautions(console)


def show_cautions(console: Console, *, resin: bool = False) -> None:
    """Print the cautions for pressure, and those for resin where some is to be poured, one a bullet."""
    say(HEADING, console)
    for each in (*PRESSURE, *RESIN) if resin else PRESSURE:
        say(each.text, console, bullet=BULLET)
