"""A whole run: the tables and run.json that its castings leave in the result folder."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any, BinaryIO, Final

from bubblegrade.grading_run import Request
from bubblegrade.results.entry import Entry
from bubblegrade.results.folder import RUN_FILE, ResultFolder
from bubblegrade.results.parquet import PARQUET_TABLES, parquet_writers
from bubblegrade.results.run_json import json_pieces
from bubblegrade.results.tables import csv_pieces
from bubblegrade.results.void_columns import SET_ASIDE_HAVE, VOIDS_HAVE
from bubblegrade.settings import Settings

TABLES: Final = ("castings.csv", "voids.csv", "set-aside.csv")
FORMAT: Final = 1  # of run.json; grows when a field goes or changes its meaning

Part = dict[str, Any]


@dataclass(frozen=True)
class NotGraded:
    """A photograph without a result, and why."""

    photo: str
    reason: str


@dataclass(frozen=True)
class Run:
    """What was asked for, and what came out."""

    version: str  # of bubblegrade
    request: Request
    settings: Settings
    blank_sha256: str | None  # of the photograph of the bare light
    entries: Sequence[Entry]  # of many photographs, they wait on the disk
    not_graded: tuple[NotGraded, ...]
    pictures: tuple[str, ...]  # files written beside the tables, below the folder


def write_run(folder: ResultFolder, run: Run, *, parquet: bool = False) -> None:
    """Write the tables, as Parquet too if asked, and run.json of a run of at least one casting.

    A result that has them as Parquet keeps them when it is added to. The memory holds one entry at a time. The files
    are put in their places together, so that they tell of the same photographs whatever happens while they are written.
    """
    entries = run.entries
    with_parquet = parquet or (folder.resuming and all((folder.path / name).exists() for name in PARQUET_TABLES))
    tables = (*TABLES, *PARQUET_TABLES) if with_parquet else TABLES
    writers = {
        RUN_FILE: _text(json_pieces(run_record(run, tables=tables))),
        "set-aside.csv": _text(csv_pieces(SET_ASIDE_HAVE, _finds(entries, "set_aside"))),
        "voids.csv": _text(csv_pieces(VOIDS_HAVE, _finds(entries, "voids"))),
        "castings.csv": _text(csv_pieces(list(entries[0].row), (entry.row for entry in entries))),
    }
    folder.write_together(writers | (parquet_writers(entries) if with_parquet else {}))


def run_record(run: Run, *, tables: Sequence[str] = TABLES) -> Part:
    """Return a run as run.json holds it, with these tables beside; the schema in this folder describes every field.

    Its castings come one by one.
    """
    return {
        "format": FORMAT,
        "version": run.version,
        **asked_record(run.request, run.settings, blank_sha256=run.blank_sha256),
        "castings": (entry.record for entry in run.entries),
        "not_graded": [asdict(photo) for photo in run.not_graded],
        "files": sorted([*tables, RUN_FILE, *run.pictures]),
    }


def asked_record(request: Request, settings: Settings, *, blank_sha256: str | None) -> Part:
    """Return what was asked for, as run.json holds it; the same photograph asked for the same gives the same."""
    return {
        "request": {**asdict(request), "blank_sha256": blank_sha256},
        "settings": {**asdict(settings), "grades": dict(settings.grades)},
    }


def _text(pieces: Iterator[str]) -> Callable[[BinaryIO], object]:
    """Return what writes a text, of which the memory holds a piece at a time, as `ResultFolder.write_text` does."""
    return lambda file: file.writelines(piece.encode("utf-8", errors="backslashreplace") for piece in pieces)


def _finds(entries: Sequence[Entry], part: str) -> Iterator[Part]:
    """Return the rows of a table of finds, from all photographs."""
    for entry in entries:
        columns = entry.record[part]
        for cells in zip(*columns.values(), strict=True):
            yield {"photo": entry.record["photo"], **dict(zip(columns, cells, strict=True))}
