"""What an earlier result, or a run that was cut short, holds already: it would come out the same again."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from bubblegrade.errors import InputError
from bubblegrade.grading_run import Request
from bubblegrade.results.entry import Entry
from bubblegrade.results.folder import RUN_FILE
from bubblegrade.results.journal import JOURNAL_FILE, read_journal
from bubblegrade.results.run import FORMAT, asked_record
from bubblegrade.results.run_json import plain
from bubblegrade.results.tables import cell_text
from bubblegrade.runs.inputs import Source, marked_name
from bubblegrade.settings import Settings


@dataclass(frozen=True)
class Asked:
    """By whom and how photographs are graded; what was asked alike comes out alike."""

    version: str
    request: Request
    settings: Settings
    blank_sha256: str | None

    @property
    def record(self) -> dict[str, Any]:
        """As run.json holds it."""
        asked = asked_record(self.request, self.settings, blank_sha256=self.blank_sha256)
        record = plain({"format": FORMAT, "version": self.version, **asked})
        assert isinstance(record, dict)  # noqa: S101 - plain keeps mappings
        return record


@dataclass(frozen=True, eq=False)
class Held:
    """A photograph that was graded."""

    entry: Entry
    marked: str  # where its marked picture lies, below the result folder
    marked_sha256: str | None  # of that picture, where it is known

    @property
    def sha256(self) -> str:
        """The hash of the photograph."""
        return str(self.entry.record["sha256"])


@dataclass(frozen=True, eq=False)
class Earlier:
    """What was graded into a folder, asked as now."""

    folder: Path
    entries: tuple[Held, ...]
    _hashes: dict[Path, str] = field(default_factory=dict, init=False, repr=False)

    def find(self, photograph: Path) -> tuple[Entry, bytes] | None:
        """Return a photograph's part and its marked picture; None where the result lacks either."""
        held = self._by_hash.get(self._hash_of(photograph))
        if held is None:
            return None
        try:
            picture = (self.folder / held.marked).read_bytes()
        except OSError:
            return None
        whole = held.marked_sha256 in {None, hashlib.sha256(picture).hexdigest()}
        return (held.entry, picture) if whole else None

    def apart_from(self, photographs: Sequence[Source]) -> tuple[Held, ...]:
        """Return what is held of other photographs than these.

        Raises
        ------
        InputError
            One of these would write its marked picture over that of another photograph.
        """
        named = {self._hash_of(source.path) for source in photographs}
        others = tuple(held for held in self.entries if held.sha256 not in named)
        taken = {held.marked: held for held in others}
        for source in photographs:
            if source.marked in taken:
                raise InputError(
                    f"{source.name} is another photograph than the one that {self.folder} holds under this name: "
                    "rename it, or name another folder with --out"
                )
        return others

    @cached_property
    def _by_hash(self) -> dict[str, Held]:
        return {held.sha256: held for held in self.entries}

    def _hash_of(self, photograph: Path) -> str:
        """Return the hash of a file, read once; empty where it cannot be read."""
        if photograph not in self._hashes:
            try:
                self._hashes[photograph] = hashlib.sha256(photograph.read_bytes()).hexdigest()
            except OSError:
                return ""
        return self._hashes[photograph]


def reusable(folder: Path, asked: Asked) -> Earlier | None:
    """Return what `folder` holds of the same request; else None."""
    found = [part for part in (_finished(folder), _journalled(folder)) if part is not None and part[0] == asked.record]
    return Earlier(folder, tuple(held for _, part in found for held in part)) if found else None


def going_on(folder: Path, asked: Asked) -> Earlier | None:
    """Return what `folder` holds of a run that now goes on; None where there is nothing yet.

    Raises
    ------
    InputError
        It was graded by another version, or for another request.
    """
    for name, part in ((JOURNAL_FILE, _journalled(folder)), (RUN_FILE, _finished(folder))):
        if (folder / name).exists() and (part is None or part[0] != asked.record):
            raise InputError(
                f"{folder / name} was not written by this version with these options and settings: --resume needs the "
                "same, or begin again with --replace"
            )
    return reusable(folder, asked)


def _finished(folder: Path) -> tuple[Any, list[Held]] | None:
    """Return what was asked of the result in `folder` and what it holds; None where there is no whole one."""
    try:
        run = json.loads((folder / RUN_FILE).read_text("utf-8"))
        rows = list(csv.DictReader(io.StringIO((folder / "castings.csv").read_text("utf-8"), newline="")))
        asked = {name: run[name] for name in ("format", "version", "request", "settings")}
        return asked, list(_in_both(run["castings"], rows))
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return None  # whatever stands there, it is no result to take over


def _in_both(records: list[dict[str, Any]], rows: list[dict[str, str]]) -> Iterable[Held]:
    """Yield the photographs that stand in both files of a result."""
    by_hash = {(row["photo"], row.get("sha256")): row for row in rows}
    for record in records:
        row = by_hash.get((cell_text(record["photo"]), record["sha256"]))
        if row is not None:
            yield Held(Entry(record, row), marked_name(record["photo"]), None)


def _journalled(folder: Path) -> tuple[Any, list[Held]] | None:
    """Return what was asked of the run that was cut short in `folder` and what it holds."""
    journal = read_journal(folder)
    if journal is None:
        return None
    return journal.asked, [Held(line.entry, line.marked, line.marked_sha256) for line in journal.lines]
