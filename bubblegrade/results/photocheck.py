"""Checked photographs on disk: photocheck.csv, photocheck.json and the schema that describes every field of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from bubblegrade.fitness.check import Checked
from bubblegrade.fitness.checks import Said
from bubblegrade.results.fitness_record import CORNERS, check_record, fitness_record
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run_json import to_json
from bubblegrade.results.tables import csv_text

RECORD_FILE: Final = "photocheck.json"
TABLE_FILE: Final = "photocheck.csv"
FORMAT: Final = 1  # of photocheck.json; grows when a field goes or changes its meaning
COLUMNS: Final = (
    *("photo", "fitness", "check", "verdict", "value", "unit", "care_limit", "unfit_limit", "smaller_is_worse"),
    *("fault", "effect", "cure", "place", *CORNERS, "sha256"),
)

Part = dict[str, Any]


@dataclass(frozen=True)
class NotRead:
    """A photograph that could not be checked, and why."""

    photo: str
    reason: str


@dataclass(frozen=True, eq=False)
class PhotoCheck:
    """What was asked for, and what came out."""

    version: str  # of bubblegrade
    said: Said
    checked: tuple[Checked, ...]
    not_read: tuple[NotRead, ...]
    pictures: tuple[str, ...] = ()  # files written beside the table


def write_photocheck(folder: ResultFolder, found: PhotoCheck) -> str:
    """Write the table and the record; return the record's text."""
    folder.write_text(TABLE_FILE, csv_text(COLUMNS, [row for one in found.checked for row in _rows(one)]))
    text = photocheck_json(found, files=(TABLE_FILE, RECORD_FILE, *found.pictures))
    folder.write_text(RECORD_FILE, text)
    return text


def photocheck_json(found: PhotoCheck, *, files: Sequence[str] = ()) -> str:
    """Return checked photographs as JSON text; the schema beside this module describes every field."""
    return to_json(
        {
            "format": FORMAT,
            "version": found.version,
            "said": found.said,
            "photographs": [
                {
                    "photo": one.photo,
                    "sha256": one.sha256,
                    "width_px": one.shape_px[1],
                    "height_px": one.shape_px[0],
                    **fitness_record(one.fitness),
                }
                for one in found.checked
            ],
            "not_read": found.not_read,
            "files": sorted(files),
        }
    )


def _rows(one: Checked) -> list[Part]:
    """Return a photograph's rows, one a check."""
    return [_row(one, check_record(check)) for check in one.fitness.checks]


def _row(one: Checked, record: Part) -> Part:
    place = record.pop("place") or {}
    del record["title"]
    return {
        "photo": one.photo,
        "fitness": one.fitness.verdict,
        "check": record.pop("name"),
        **record,
        "place": place.pop("kind", ""),
        **place,
        "sha256": one.sha256,
    }
