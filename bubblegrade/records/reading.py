"""The log read: chosen castings in the order they were cast, one casting in full, series for charts.

A casting without a day stands where it was entered. Of several results of one kind the newest counts.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from bubblegrade.errors import InputError
from bubblegrade.records.fields import FIELDS, field_named, storable
from bubblegrade.records.quantities import FARTHEST_ZONE_S, day_s, has_zone, is_day
from bubblegrade.records.schema import GRADED

Row = sqlite3.Row
CHOSEN_BY: Final = tuple(each.name for each in FIELDS if each.chosen_by)
DAY_S: Final = 86400.0
# A casting is of the day that it was by the clock where it was cast. The first and wide limit goes by an index.
_BY_ZONE: Final = (
    "casting.order_s {sign} ? AND (casting.order_s {sign} ? OR own_clock_s(casting.date, casting.order_s) {sign} ?)"
)
LISTED: Final = ("id", "date", *CHOSEN_BY)
_IN_ORDER: Final = "ORDER BY casting.order_s DESC, casting.id DESC"
# The index holds all that is read, so that the table of results is not touched.
_NEWEST: Final = """casting CROSS JOIN result AS newest INDEXED BY result_of
    ON newest.kind = ? AND newest.casting_id = casting.id AND NOT EXISTS (
        SELECT 1 FROM result AS later
        WHERE later.kind = newest.kind AND later.casting_id = casting.id AND later.id > newest.id)"""
SERIES: Final = ("unfit", "smallest_px", "smallest_mm")  # read with every series
AT_ONCE: Final = 100  # rows of a series in memory, besides its columns


@dataclass(frozen=True)
class Chosen:
    """Which castings; all where nothing is said."""

    equal: Mapping[str, str] = field(default_factory=dict)  # by field; large and small letters count alike
    since: str | None = None  # days, the last one included
    until: str | None = None
    last: int | None = None  # so many of the newest

    def where(self) -> tuple[str, list[object]]:
        """Return the condition in SQL and its values.

        Raises
        ------
        InputError
            A field is none that castings are listed by, a day cannot be read, or `until` lies before `since`.
        """
        parts, values = [], list[object]()
        for name, text in self.equal.items():
            column = field_named(name).name
            if column not in CHOSEN_BY:
                raise InputError(f"{name} is no field that castings are listed by: use one of {', '.join(CHOSEN_BY)}")
            parts.append(f"casting.{column} = ? COLLATE NOCASE")
            values.append(storable(text.strip()))
        start = -math.inf
        if self.since is not None:
            start = day_s(self.since, "--since")
            parts.append(_BY_ZONE.format(sign=">="))
            values += _limits(start, self.since, FARTHEST_ZONE_S)
        if self.until is not None:
            end = day_s(self.until, "--until")
            whole_day = is_day(self.until)
            end += DAY_S * whole_day
            span = end - start + _slack_s(self.since, self.until)
            if span < 0.0 or (whole_day and span == 0.0):
                raise InputError(f"--until {self.until} lies before --since {self.since}: give the earlier one first")
            parts.append(_BY_ZONE.format(sign="<" if whole_day else "<="))
            values += _limits(end, self.until, -FARTHEST_ZONE_S)
        return " AND ".join(parts) or "1", values


@dataclass(frozen=True)
class Whole:
    """One casting with all that is tied to it."""

    casting: Row
    photos: list[Row]
    results: list[Row]
    notes: list[Row]
    history: list[Row]


def _limits(moment_s: float, text: str, zone_s: float) -> list[float]:
    """Return the limits of `_BY_ZONE`: of a moment in a zone it alone, else that which every clock may show."""
    return [moment_s] * 3 if has_zone(text) else [moment_s - zone_s, moment_s + zone_s, moment_s]


def _slack_s(since: str | None, until: str) -> float:
    """Return by how much `until` may lie before `since`: a moment of one zone may be any other on a casting's clock."""
    alike = since is None or has_zone(since) == has_zone(until)
    return 0.0 if alike else FARTHEST_ZONE_S


def list_query(chosen: Chosen) -> tuple[str, list[object]]:
    """Return the query of a list, the newest first, and its values."""
    where, values = chosen.where()
    names = ", ".join(f"casting.{name}" for name in LISTED)
    newest = "SELECT max(id) FROM result WHERE casting_id = casting.id AND kind = 'grade'"
    return (
        f"SELECT {names}, graded.voids, graded.voids_low, graded.voids_high, graded.clarity, graded.clarity_low, "  # noqa: S608
        f"graded.clarity_high, graded.unfit, graded.verdict FROM casting "
        f"LEFT JOIN result AS graded ON graded.id = ({newest}) WHERE {where} {_IN_ORDER} LIMIT ?",
        [*values, -1 if chosen.last is None else chosen.last],
    )


def listed(connection: sqlite3.Connection, chosen: Chosen) -> list[Row]:
    """Return the chosen castings in short, in the order they were cast; errors are those of a field and a day."""
    return connection.execute(*list_query(chosen)).fetchall()[::-1]


def count(connection: sqlite3.Connection, chosen: Chosen) -> int:
    """Return how many castings are chosen, whatever `last` says."""
    where, values = chosen.where()
    (number,) = connection.execute(f"SELECT count(*) FROM casting WHERE {where}", values).fetchone()  # noqa: S608
    return int(number)


def whole(connection: sqlite3.Connection, number: int) -> Whole:
    """Return one casting with all that is tied to it.

    Raises
    ------
    InputError
        There is none of that number.
    """
    casting = connection.execute("SELECT * FROM casting WHERE id = ?", (number,)).fetchone()
    if casting is None:
        raise InputError(f"casting {number} is not in the log: see 'bubblegrade log list' for the numbers")
    tied = [
        connection.execute(f"SELECT * FROM {table} WHERE casting_id = ? ORDER BY id", (number,)).fetchall()  # noqa: S608
        for table in ("photo", "result", "note", "history")
    ]
    return Whole(casting, *tied)


def castings_of(connection: sqlite3.Connection, sha256: Iterable[str]) -> list[int]:
    """Return the numbers of the castings that these photographs are of."""
    found: set[int] = set()
    for digest in sha256:
        rows = connection.execute("SELECT casting_id FROM photo WHERE sha256 = ?", (digest,))
        found.update(number for (number,) in rows)
    return sorted(found)


def series_query(kind: str, numbers: Iterable[str], chosen: Chosen, names: Iterable[str]) -> tuple[str, list[object]]:
    """Return the query of `series`, the newest casting first, and its values."""
    where, values = chosen.where()
    read = [f"newest.{number}" for number in (*SERIES, *numbers)]
    columns = ", ".join(["casting.id AS number", *read, *(f"casting.{name}" for name in names)])
    return (
        f"SELECT {columns} FROM {_NEWEST} WHERE {where} {_IN_ORDER} LIMIT ?",  # noqa: S608 - columns are ours
        [kind, *values, -1 if chosen.last is None else chosen.last],
    )


def series(
    connection: sqlite3.Connection, kind: str, numbers: Iterable[str], chosen: Chosen, names: Iterable[str] = ()
) -> dict[str, tuple[Any, ...]]:
    """Return some numbers of the newest result of a kind, for each chosen casting that has one, in their order.

    There is a column, by its name, for the casting's `number`, those of `SERIES`, `numbers` of the result and fields
    `names` of the casting; None where a value is unknown.
    """
    cursor = connection.cursor()
    cursor.row_factory = None  # plain tuples: a chart is waited for
    cursor.execute(*series_query(kind, numbers, chosen, names))
    columns: dict[str, list[Any]] = {column: [] for column, *_ in cursor.description}
    while rows := cursor.fetchmany(AT_ONCE):
        for column, cells in zip(columns.values(), zip(*rows, strict=True), strict=True):
            column.extend(cells)
    return {name: tuple(reversed(column)) for name, column in columns.items()}


def graded_unlike(connection: sqlite3.Connection, kind: str) -> tuple[str, ...]:
    """Return those of `GRADED` by which any results of a kind are known to differ: the others need not be read."""
    query = f"SELECT DISTINCT {', '.join(GRADED)} FROM result INDEXED BY result_of WHERE kind = ?"  # noqa: S608
    ways = zip(GRADED, zip(*map(tuple, connection.execute(query, (kind,))), strict=True), strict=False)
    return tuple(name for name, levels in ways if len(set(levels) - {None}) > 1)


def causes(connection: sqlite3.Connection) -> dict[int, str]:
    """Return the causes noted, by casting; of several the newest."""
    rows = connection.execute("SELECT casting_id, text FROM note WHERE cause ORDER BY id")
    return {int(number): str(text) for number, text in rows}


def verdicts(connection: sqlite3.Connection, kind: str) -> dict[int, str]:
    """Return the verdict of the newest result of a kind, by casting."""
    rows = connection.execute("SELECT casting_id, verdict FROM result WHERE kind = ? ORDER BY id", (kind,))
    return {int(number): str(verdict) for number, verdict in rows if verdict is not None}
