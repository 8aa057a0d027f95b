"""Pictures that earlier results below a watched folder list as their own: they are no photographs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from bubblegrade.results.folder import RUN_FILE
from bubblegrade.results.journal import JOURNAL_FILE
from bubblegrade.runs.inputs import RECORDS, own_pictures
from bubblegrade.runs.looks import Stamp, stamp_of

OWN: Final = (RUN_FILE, JOURNAL_FILE)  # records of a watch, written to with every photograph


@dataclass
class Former:
    """Tells them by the results' records, each read again only where it has changed."""

    top: Path  # the watched folder
    apart: Path  # the folder of the watch's own result, which knows its pictures itself
    _read: dict[Path, tuple[Stamp, frozenset[str]]] = field(default_factory=dict)

    def among(self, pictures: Iterable[Path]) -> frozenset[str]:
        """Return the real paths of what the records beside or above the pictures list."""
        beside = {path.parent for path in pictures}
        above = beside.union(*(folder.parents for folder in beside))
        folders = {folder for folder in above if folder.is_relative_to(self.top)}
        records = {folder / name for folder in folders for name in RECORDS} - {self.apart / name for name in OWN}
        return frozenset[str]().union(*(self._listed(record) for record in records))

    def _listed(self, record: Path) -> frozenset[str]:
        stamp = stamp_of(record)
        if stamp is None:
            return frozenset()
        before, listed = self._read.get(record, (None, frozenset[str]()))
        if before != stamp:
            listed = own_pictures(record)
            self._read[record] = stamp, listed
        return listed
