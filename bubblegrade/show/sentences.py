"""Sentences on the terminal and in a file, laid out the same in every command."""

from __future__ import annotations

import textwrap
from typing import Final

from rich.console import Console
from rich.text import Text

WIDEST: Final = 100  # columns of a line that people like to read
NARROWEST: Final = 20


def say(line: str, console: Console, *, style: str = "", bullet: str = "") -> None:
    """Print a paragraph, wrapped at its words on a terminal; elsewhere it stays a line, which can be searched.

    `bullet` stands before it, and what is wrapped is indented by as much; `style` is one of rich.
    """
    laid = f"{bullet}{line}"
    if console.is_terminal:
        wide = max(min(console.width, WIDEST), NARROWEST)
        indent = " " * len(bullet)
        laid = textwrap.fill(laid, wide, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    console.print(Text(laid, style), soft_wrap=True)
