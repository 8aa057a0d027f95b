"""Castings that the log has been told before, as when a growing sheet is entered again."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from bubblegrade.records.fields import BY_NAME, cells_of

if TYPE_CHECKING:
    from bubblegrade.records.log import Photo

Said = tuple[object, ...]  # the text of every field, in their order; None: unknown


def entered_before(
    connection: sqlite3.Connection, castings: Sequence[tuple[Mapping[str, str], Sequence[Photo]]]
) -> list[int | None]:
    """Return for each casting, typed by field and with its photographs, which one of the log is the same; None: none.

    The same is what every field says alike, as the log has it or as it was entered before it was corrected, and what
    has the photographs. One of the log stands for one casting only: of two alike the second may be new.
    """
    known = _known(connection)
    of_photo = defaultdict[str, set[int]](set)
    for digest, number in connection.execute("SELECT sha256, casting_id FROM photo"):
        of_photo[digest].add(number)
    taken, found = set[int](), list[int | None]()
    for typed, photos in castings:
        alike = (number for number in known[_said(cells_of(typed))] if number not in taken)
        same = next((number for number in alike if all(number in of_photo[each.sha256] for each in photos)), None)
        found.append(same)
        if same is not None:
            taken.add(same)
    return found


def _known(connection: sqlite3.Connection) -> defaultdict[Said, list[int]]:
    """Return the castings of the log, in the order of their numbers, by what they say and by what was entered."""
    first = defaultdict[int, dict[str, object]](dict)
    for number, name, old in connection.execute("SELECT casting_id, field, old FROM history ORDER BY id"):
        first[number].setdefault(name, old)
    known = defaultdict[Said, list[int]](list)
    for row in connection.execute(f"SELECT id, {', '.join(BY_NAME)} FROM casting ORDER BY id"):  # noqa: S608
        says = {name: row[name] for name in BY_NAME}
        for said in dict.fromkeys((_said(says), _said(says | first[row["id"]]))):
            known[said].append(row["id"])
    return known


def _said(cells: Mapping[str, object]) -> Said:
    return tuple(cells.get(name) for name in BY_NAME)
