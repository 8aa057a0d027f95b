"""Which version of a kept form a page has loaded, and what a newer one says: no page undoes another unseen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from hashlib import sha256
from itertools import zip_longest
from pathlib import Path
from typing import Final

from bubblegrade.bench.forms import Asked
from bubblegrade.errors import InputError

DIGITS: Final = 24  # of the hash: that two versions share them will not happen
TOLD: Final = 3  # differences that a line names
LONGEST: Final = 60  # signs of a text in it


class NewerKeptError(InputError):
    """What is kept is newer than what the page had loaded."""

    def __init__(self, line: str, newer: str) -> None:
        super().__init__(line)
        self.newer = newer  # version


def version_of(places: Iterable[Path]) -> str:
    """Return the version of what stands in files; those that are missing or cannot be read count as well."""
    found = sha256()
    for place in places:
        try:
            found.update(sha256(place.read_bytes()).digest())
        except OSError as error:
            found.update(type(error).__name__.encode())
    return found.hexdigest()[:DIGITS]


def differences(kept: Asked, sent: Asked) -> list[str]:
    """Return what a kept form says otherwise than the one that is sent; what would be lost stands first.

    >>> differences(Asked({"altitude": "90m"}), Asked({"altitude": "", "visible": "0.2mm"}))
    ['altitude 90m (here nothing)', 'visible nothing (here 0.2mm)']
    """
    ours, theirs = _by_name(kept), _by_name(sent)
    found = list(_between(kept.words, sent.words, ""))
    for name in dict.fromkeys([*theirs, *ours]):
        found += _between(ours.get(name, {}), theirs.get(name, {}), f" of {name}")
    found.sort(key=lambda one: not one[1])
    return [f"{where} {_short(ours)} (here {_short(theirs)})" for where, ours, theirs in found]


def check_seen(kept: Asked, sent: Asked, newer: str) -> None:
    """Refuse to write over a form that the page has not seen.

    Raises
    ------
    NewerKeptError
        Something of the kept one would be lost.
    """
    told = differences(kept, sent)
    if told:
        more = f"; and {len(told) - TOLD} more" if len(told) > TOLD else ""
        raise NewerKeptError(
            f"another page or program has kept meanwhile: {'; '.join(told[:TOLD])}{more}. Load the newer, or write "
            "over it",
            newer,
        )


def _by_name(asked: Asked) -> dict[str, Mapping[str, str]]:
    """Return the rows by their photograph, or by their number where they are readings."""
    if any("time" in row for row in asked.rows):
        return {f"reading {at}": row for at, row in enumerate(asked.rows, 1)}
    return {row.get("photo", ""): {key: row[key] for key in row if key != "photo"} for row in asked.rows}


def _between(kept: Mapping[str, str], sent: Mapping[str, str], whose: str) -> Iterator[tuple[str, str, str]]:
    """Yield where two texts differ, and both, of long ones the first line that does."""
    for name in dict.fromkeys([*sent, *kept]):
        ours, theirs = (text.get(name, "").replace("\r\n", "\n").strip() for text in (kept, sent))
        if ours == theirs:
            continue
        where = f"{name.replace('_', ' ')}{whose}"
        if "\n" in ours + theirs:
            lines = enumerate(zip_longest(ours.split("\n"), theirs.split("\n"), fillvalue=""), 1)
            at, (ours, theirs) = next((at, pair) for at, pair in lines if pair[0] != pair[1])
            where = f"{where} line {at}"
        yield where, ours.strip(), theirs.strip()


def _short(text: str) -> str:
    return f"{text[:LONGEST]}…" if len(text) > LONGEST else text or "nothing"
