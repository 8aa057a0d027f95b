"""What one photograph adds to a result: its part of run.json and its row of castings.csv, as they stand on disk."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from bubblegrade.grading_run import Casting
from bubblegrade.results.casting_record import casting_record
from bubblegrade.results.casting_row import casting_row
from bubblegrade.results.run_json import plain
from bubblegrade.results.tables import cell_text


@dataclass(frozen=True, eq=False)
class Entry:
    """One photograph's part; the same whether it was graded now or read from an earlier result."""

    record: dict[str, Any]  # one of run.json's castings
    row: dict[str, str]  # of castings.csv

    def renamed(self, photo: str) -> Entry:
        """Return the entry under another name of the photograph."""
        return replace(self, record={**self.record, "photo": photo}, row={**self.row, "photo": cell_text(photo)})


def entry_of(casting: Casting) -> Entry:
    """Return what a graded casting adds to a result."""
    record = plain(casting_record(casting))
    assert isinstance(record, dict)  # noqa: S101 - plain keeps mappings
    return Entry(record, {name: cell_text(cell) for name, cell in casting_row(casting).items()})
