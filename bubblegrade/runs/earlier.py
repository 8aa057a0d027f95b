"""What an earlier result, or a run that was cut short, holds already: it would come out the same again."""

from __future__ import annotations

import csv
import hashlib
from collections import Counter
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
from bubblegrade.results.members import members
from bubblegrade.results.run import FORMAT, asked_record
from bubblegrade.results.run_json import plain
from bubblegrade.results.spool import Spool
from bubblegrade.results.tables import cell_text
from bubblegrade.runs.inputs import Source, marked_name
from bubblegrade.runs.looks import Stamp, stamp_of
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
    """What the memory keeps of a photograph that was graded."""

    sha256: str  # of the photograph
    entry: int  # place in the spool
    marked: str  # where its marked picture lies, below the result folder
    marked_sha256: str | None  # of that picture, where it is known


@dataclass(frozen=True, eq=False)
class Earlier:
    """What was graded into a folder, asked as now; its entries wait in a spool."""

    folder: Path
    entries: tuple[Held, ...]
    spool: Spool
    _hashes: dict[tuple[Path, Stamp], str] = field(default_factory=dict, init=False, repr=False)
    _covered: set[str] = field(default_factory=set, init=False, repr=False)  # marked pictures that may be others now

    def find(self, photograph: Path, marked: str) -> tuple[Entry, bytes] | None:
        """Return a photograph's part and its marked picture, which is about to be written as `marked`.

        None where the result lacks either, or where another photograph was asked for under the picture's name before:
        it may lie over it.
        """
        self._covered.add(marked)
        held = self._by_hash.get(self.hash_of(photograph))
        if held is None or (held.marked != marked and held.marked in self._covered):
            return None
        try:
            picture = (self.folder / held.marked).read_bytes()
        except OSError:
            return None
        whole = held.marked_sha256 in {None, hashlib.sha256(picture).hexdigest()}
        return (self.spool.get(held.entry), picture) if whole else None

    def apart_from(self, photographs: Sequence[Source]) -> tuple[Held, ...]:
        """Return what is held of other photographs than these.

        Raises
        ------
        InputError
            One of these would write its marked picture over that of another photograph.
        """
        named = {self.hash_of(source.path) for source in photographs}
        others = tuple(held for held in self.entries if held.sha256 not in named)
        taken = {held.marked: held for held in others}
        for source in photographs:
            if source.marked in taken:
                raise InputError(self.taken_name(source))
        return others

    def taken_name(self, source: Source) -> str:
        """Return in one line that a photograph has the name of another that is held."""
        return (
            f"{source.name} is another photograph than the one that {self.folder} holds under this name: rename it, or "
            "name another folder with --out"
        )

    @cached_property
    def _by_hash(self) -> dict[str, Held]:
        return {held.sha256: held for held in self.entries}

    def hash_of(self, photograph: Path) -> str:
        """Return the hash of a file, read once until it changes; empty where it cannot be read."""
        if (stamp := stamp_of(photograph)) is None:
            return ""
        if (photograph, stamp) not in self._hashes:
            try:
                self._hashes[photograph, stamp] = hashlib.sha256(photograph.read_bytes()).hexdigest()
            except OSError:
                return ""
        return self._hashes[photograph, stamp]


def reusable(folder: Path, asked: Asked, spool: Spool) -> Earlier | None:
    """Return what `folder` holds of the same request, put into `spool`; else None."""
    return _together(folder, _parts(folder, asked, spool).values(), spool)


def going_on(folder: Path, asked: Asked, spool: Spool) -> Earlier | None:
    """Return what `folder` holds of a run that now goes on, put into `spool`; None where there is nothing yet.

    Raises
    ------
    InputError
        It was graded by another version, or for another request.
    """
    parts = _parts(folder, asked, spool)
    for name in (JOURNAL_FILE, RUN_FILE):
        if (folder / name).exists() and parts[name] is None:
            raise InputError(
                f"{folder / name} was not written by this version with these options and settings: --resume needs the "
                "same, or begin again with --replace"
            )
    return _together(folder, parts.values(), spool)


_Part = tuple[Held, ...] | None  # of what a folder holds; None where that is nothing, or was asked otherwise


def _parts(folder: Path, asked: Asked, spool: Spool) -> dict[str, _Part]:
    """Return what the record and the journal in `folder` hold of the same request."""
    record = asked.record
    return {RUN_FILE: _finished(folder, record, spool), JOURNAL_FILE: _journalled(folder, record, spool)}


def _together(folder: Path, parts: Iterable[_Part], spool: Spool) -> Earlier | None:
    """Return what the parts hold, of which a later one counts; one under a former name has no picture any more.

    Of two photographs with one name the later has taken the place of the other, whose picture it lies over.
    """
    found = [part for part in parts if part is not None]
    held = {one.marked: one for part in found for one in part}
    names = Counter(one.sha256 for one in held.values())
    entries = (one for one in held.values() if names[one.sha256] == 1 or (folder / one.marked).exists())
    return Earlier(folder, tuple(entries), spool) if found else None


def _finished(folder: Path, asked: dict[str, Any], spool: Spool) -> _Part:
    """Return what the result in `folder` holds."""
    said: dict[str, Any] = {}
    try:
        with (folder / "castings.csv").open(encoding="utf-8", newline="") as table:
            rows = {(row["photo"], row.get("sha256")): spool.put(row) for row in csv.DictReader(table)}
        held = []
        for name, value in members(folder / RUN_FILE):
            if name != "castings":
                said[name] = value
            elif (row := rows.get((cell_text(value["photo"]), value["sha256"]))) is not None:
                entry = spool.put(Entry(value, spool.get(row)))
                held.append(Held(value["sha256"], entry, marked_name(value["photo"]), None))
        return tuple(held) if {name: said[name] for name in asked} == asked else None
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError, csv.Error):
        return None  # whatever stands there, it is no result to take over


def _journalled(folder: Path, asked: dict[str, Any], spool: Spool) -> _Part:
    """Return what the run that was cut short in `folder` holds; of a line without its picture nobody was told."""
    journal = read_journal(folder)
    if journal is None or journal.asked != asked:
        return None
    return tuple(
        Held(line.sha256, spool.put(line.entry), line.marked, line.marked_sha256)
        for line in journal.lines()
        if (folder / line.marked).exists()
    )
