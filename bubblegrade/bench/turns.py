"""What a page waits for: how far it is, and whether anybody still wants it."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

from bubblegrade.errors import InputError

HELD: Final = 100  # turns that can still be asked about or cancelled
CANCELLED: Final = "cancelled: what is asked is kept, ask again when you like"

Item = TypeVar("Item")


class NotWantedError(InputError):
    """Nobody waits for this any more."""


@dataclass(eq=False)
class Turn:
    """One question that is being answered."""

    progress: tuple[str, int, int] = ("", 0, 0)  # what is done, and how many of how many are
    _cancelled: threading.Event = field(default_factory=threading.Event)

    def cancel(self) -> None:
        """Want it no more; what answers it stops at its next step."""
        self._cancelled.set()

    def at(self, doing: str, done: int, of: int) -> None:
        """Say how far it is.

        Raises
        ------
        NotWantedError
            It is not wanted any more.
        """
        if self._cancelled.is_set():
            raise NotWantedError(CANCELLED)
        self.progress = doing, done, of

    def over(self, doing: str, items: Sequence[Item]) -> Iterator[Item]:
        """Go over items, and say before each how far it is.

        Raises
        ------
        NotWantedError
            It is not wanted any more.
        """
        for done, item in enumerate(items):
            self.at(doing, done, len(items))
            yield item
        self.at(doing, len(items), len(items))


@dataclass(eq=False)
class Turns:
    """The latest questions of all pages, each under the name that its page gave it."""

    _held: OrderedDict[str, Turn] = field(default_factory=OrderedDict)
    _lock: Any = field(default_factory=threading.Lock)

    def of(self, name: str) -> Turn:
        """Return a question's turn, a new one where it is not known; without a name it is nobody else's."""
        if not name:
            return Turn()
        with self._lock:
            turn = self._held.setdefault(name, Turn())
            while len(self._held) > HELD:
                self._held.popitem(last=False)
            return turn
