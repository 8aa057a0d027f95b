"""One casting of the log in words: its fields as typed and as kept, and what was noted and corrected."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from typing import Any, Final

from bubblegrade.records.fields import DAY, FIELDS
from bubblegrade.records.reading import Row, Whole

MANY: Final = 1e6  # from here on numbers are shown without decimals and without an exponent
PARTS: Final = (
    ("Photographs", "photos", ("name", "sha256")),
    ("Notes", "notes", ("at", "by", "text", "cause")),
    ("Corrected", "history", ("at", "by", "field", "old", "new", "why")),
)


def entered(casting: Row) -> str:
    """Return which casting it is, and who entered it when."""
    by = f" by {casting['entered_by']}" if casting["entered_by"] else ""
    return f"Casting {casting['id']}, entered {casting['entered_at']}{by}"


def field_lines(casting: Row) -> list[tuple[str, str | None, str]]:
    """Return every field: its name, what was typed, and the number that is kept."""
    return [(field.name, casting[field.name], _number(casting, field.number, field.kind.shown)) for field in FIELDS]


def parts(found: Whole) -> Iterator[tuple[str, tuple[str, ...], list[dict[str, Any]]]]:
    """Return heading, columns and rows of all that is tied to a casting, results apart."""
    for heading, name, columns in PARTS:
        rows = [dict(row) for row in getattr(found, name)]
        if rows:
            marked = [{**row, "cause": "cause" if row["cause"] else None} if "cause" in row else row for row in rows]
            yield heading, columns, marked


def was_pressed(casting: Row) -> bool:
    """Say whether a pressure is known of a casting, beside which cautions stand."""
    return any(casting[field.name] for field in FIELDS if field.kind.unit == "kpa_gauge")


def _number(casting: Row, column: str | None, unit: str) -> str:
    """Return a number as the log keeps it."""
    if column is None or casting[column] is None:
        return ""
    value = casting[column]
    if unit == DAY.shown:
        return f"{datetime.datetime.fromtimestamp(value, datetime.UTC):%Y-%m-%d %H:%M} {unit}"
    return f"{value:.0f} {unit}" if abs(value) >= MANY else f"{value:.6g} {unit}"
