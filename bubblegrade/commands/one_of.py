"""Words of which an option takes one, refused in words of our own."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import click

from bubblegrade.errors import InputError
from bubblegrade.units.written import quoted


class OneOf(click.Choice[str]):
    """One of a few words, in large or small letters."""

    def __init__(self, choices: Iterable[str]) -> None:
        """Keep the words."""
        super().__init__(choices, case_sensitive=False)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return the word.

        Raises
        ------
        InputError
            It is another.
        """
        from bubblegrade.settings import nearest  # noqa: PLC0415

        if self.normalize_choice(value, ctx) in self.choices:
            return super().convert(value, param, ctx)
        option = f"{param.opts[0]} " if isinstance(param, click.Option) else ""
        raise InputError(f"{option}'{quoted(str(value))}' is not known: {nearest(str(value), list(self.choices))}")
