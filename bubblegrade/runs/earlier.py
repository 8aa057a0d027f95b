"""Photographs that an earlier result holds already: taken over where they would be graded the same again."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bubblegrade.grading_run import Request
from bubblegrade.results.entry import Entry
from bubblegrade.results.folder import RUN_FILE
from bubblegrade.results.run import FORMAT, asked_record
from bubblegrade.results.run_json import plain
from bubblegrade.results.tables import cell_text
from bubblegrade.runs.inputs import marked_name
from bubblegrade.settings import Settings


@dataclass(frozen=True, eq=False)
class Earlier:
    """A result whose version, request and settings are those of now."""

    folder: Path
    entries: dict[str, Entry]  # by the hash of the photograph

    def find(self, photograph: Path) -> tuple[Entry, bytes] | None:
        """Return a photograph's part and its marked picture; None where the result lacks either."""
        try:
            entry = self.entries.get(hashlib.sha256(photograph.read_bytes()).hexdigest())
            return None if entry is None else (entry, (self.folder / marked_name(entry.record["photo"])).read_bytes())
        except OSError:
            return None


def reusable(
    folder: Path, version: str, request: Request, settings: Settings, blank_sha256: str | None
) -> Earlier | None:
    """Return the result in `folder` where the same photographs would come out the same; else None."""
    try:
        run = json.loads((folder / RUN_FILE).read_text("utf-8"))
        rows = list(csv.DictReader(io.StringIO((folder / "castings.csv").read_text("utf-8"), newline="")))
        asked = {name: run[name] for name in ("format", "version", "request", "settings")}
        wanted = {"format": FORMAT, "version": version}
        wanted |= asked_record(request, settings, blank_sha256=blank_sha256)
        same = asked == plain(wanted)
        return Earlier(folder, _entries(run["castings"], rows)) if same else None
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return None  # whatever stands there, it is no result to take over


def _entries(records: list[dict[str, Any]], rows: list[dict[str, str]]) -> dict[str, Entry]:
    """Return the result's photographs that stand in both of its files, by the hash of each."""
    by_hash = {(row["photo"], row.get("sha256")): row for row in rows}
    found = [(record, by_hash.get((cell_text(record["photo"]), record["sha256"]))) for record in records]
    return {record["sha256"]: Entry(record, row) for record, row in found if row is not None}
