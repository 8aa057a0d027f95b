"""Whole numbers as options take them, refused in words of our own."""

from __future__ import annotations

from typing import Any

import click

from bubblegrade.errors import InputError
from bubblegrade.units.written import quoted


class WholeNumber(click.types.IntParamType):
    """A whole number from 1 to `most`; `usual` is one that an error names, `beyond` what a larger one is."""

    name = "number"

    def __init__(self, usual: int, *, most: int | None = None, beyond: str = "") -> None:
        """Keep the range and what errors say."""
        self.usual, self.most, self.beyond = usual, most, beyond

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:  # noqa: ARG002
        """Return the number.

        Raises
        ------
        InputError
            It is none, or too large.
        """
        what = "NUMBER" if param is None or isinstance(param, click.Argument) else param.opts[0]
        try:
            number = int(value)
        except ValueError:
            number = 0
        said = f"{what} '{quoted(str(value))}'"
        if number < 1:
            raise InputError(f"{said} is no whole number from 1 on: write one in digits, such as {self.usual}")
        if self.most is not None and number > self.most:
            raise InputError(f"{said} is {self.beyond}: give a smaller one")
        return number
