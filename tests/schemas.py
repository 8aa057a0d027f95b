"""What tests ask of a JSON schema."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any


def parts_of(schema: Any) -> Iterator[tuple[str, Any]]:
    """Return every field of a schema by its name."""
    if isinstance(schema, dict):
        yield from schema.get("properties", {}).items()
        for part in schema.values():
            yield from parts_of(part)
    if isinstance(schema, list):
        for part in schema:
            yield from parts_of(part)
