"""The JSON schemas of the records, and what tests ask of them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from importlib import resources
from typing import Any


def schema_of(record: str) -> Any:
    """Return the schema of a record, such as "run" of run.json, as it comes with the package."""
    return json.loads(resources.files("bubblegrade.results").joinpath(f"{record}.schema.json").read_text("utf-8"))


def parts_of(schema: Any) -> Iterator[tuple[str, Any]]:
    """Return every field of a schema by its name."""
    if isinstance(schema, dict):
        yield from schema.get("properties", {}).items()
        for part in schema.values():
            yield from parts_of(part)
    if isinstance(schema, list):
        for part in schema:
            yield from parts_of(part)
