"""A record of many castings read member by member, so that the memory holds one casting at a time."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TextIO

from bubblegrade.results.inside import is_inside

PIECE: Final = 2**16  # characters that are read at once
_BLANKS: Final = " \t\n\r"  # between the signs of JSON (RFC 8259, 2)
_IN_NUMBERS: Final = "0123456789+-.eE"


def members(record: Path, *, listed: str = "castings") -> Iterator[tuple[str, Any]]:
    """Yield the name and the value of each member of the JSON object in a file; of a list `listed` each item alone.

    Raises
    ------
    OSError
        It cannot be read.
    ValueError
        It holds no JSON object.
    RecursionError
        It is nested deeper than Python goes.
    """
    with record.open(encoding="utf-8") as file:
        text = _Text(file)
        for _ in text.items("{", "}"):
            name = text.value()
            if not isinstance(name, str):
                raise ValueError(f"{name!r} stands where a name has to")
            text.expect(":")
            if name != listed or text.sign() != "[":
                yield name, text.value()
                continue
            for _ in text.items("[", "]"):
                yield name, text.value()
        if text.sign():
            raise ValueError("more follows than an object")


def listed_files(record: Path) -> tuple[str, ...]:
    """Return the files inside its folder that a result's record lists as its own; none where it cannot be read."""
    try:
        names = dict(members(record)).get("files")
    except (OSError, ValueError, TypeError, RecursionError):
        return ()
    listed = names if isinstance(names, list) else []
    return tuple(name for name in listed if isinstance(name, str) and is_inside(record.parent, name))


@dataclass
class _Text:
    """JSON text, of which the memory holds what has not been taken yet of a piece."""

    file: TextIO
    held: str = ""
    at: int = 0  # of what is held, the first sign that was not taken

    def sign(self) -> str:
        """Return the next sign that is no blank, without taking it; empty at the end."""
        while True:
            while self.at < len(self.held) and self.held[self.at] in _BLANKS:
                self.at += 1
            if self.at < len(self.held) or not self._more(PIECE):
                return self.held[self.at : self.at + 1]

    def expect(self, signs: str) -> str:
        """Take the next sign, which has to be one of these, and return it."""
        sign = self.sign()
        if not sign or sign not in signs:
            raise ValueError(f"{sign!r} stands where one of {signs!r} has to")
        self.at += 1
        return sign

    def items(self, begin: str, end: str) -> Iterator[None]:
        """Stand before each item between two brackets in turn."""
        self.expect(begin)
        if self.sign() == end:
            self.expect(end)
            return
        yield None
        while self.expect(f",{end}") == ",":
            yield None

    def value(self) -> Any:
        """Take the next value."""
        self.sign()
        while True:
            try:
                value, at = json.JSONDecoder().raw_decode(self.held, self.at)
            except ValueError:
                if not self._more(max(PIECE, len(self.held))):
                    raise
                continue
            # A number may go on past what is held.
            if self.held[at:].lstrip(_IN_NUMBERS) or not self._more(PIECE):
                self.at = at
                return value

    def _more(self, count: int) -> bool:
        """Read on, and tell whether there was anything."""
        read = self.file.read(count)
        if read:
            self.held, self.at = self.held[self.at :] + read, 0
        return bool(read)
