"""The log's schema, with its comments; `steps` brings an older file up to it.

The comments stand in the file too: any program that opens SQLite files shows them. Times of entry are ISO 8601 in UTC.
What is unknown is NULL. A number always stands beside the text it was read from.
"""

from __future__ import annotations

from typing import Final

from bubblegrade.records.fields import FIELDS, Field

VERSION: Final = 4  # of the schema, in the file's user_version
APPLICATION: Final = 0x62676C67  # "bglg", in the file's application_id: this is a casting log

# What is taken out of a result for lists and charts, with its unit in words.
NUMBERS: Final = {
    "voids": "counted voids",
    "voids_low": "limits of 95 % of the number expected",
    "voids_high": "",
    "judged_area_px": "area they were counted in, in px",
    "judged_area_cm2": "the same in cm2",
    "judged_volume_cm3": "volume they were counted in, in cm3",
    "smallest_px": "smallest countable diameter, in px",
    "smallest_mm": "the same in mm",
    "clarity": "score, 0 to 100",
    "clarity_low": "limits of 95 %",
    "clarity_high": "",
    "shrinkage": "fitted exponent b: a diameter goes with the absolute pressure to the power -b",
    "shrinkage_low": "limits of 95 %",
    "shrinkage_high": "",
}
# How it was graded, which numbers hang on, with its type and in words; `GRADED_FROM_RECORD` takes it out of the record.
GRADED: Final = {
    "version": ("TEXT", "of bubblegrade"),
    "resin_index": ("REAL", "refractive index that was taken for the resin"),
    "accept_share": ("REAL", "probability from which a find counted as a void"),
    "whole": ("INTEGER", "1: the lit frame was judged, without looking for an outline"),
    "scale_from": ("TEXT", "what gave the scale: stated, width, card, disc, span"),
}
GRADED_FROM_RECORD: Final = """UPDATE result SET (version, resin_index, accept_share, whole, scale_from) = (
    SELECT
        json_extract(text, '$.version'),
        coalesce(json_extract(asked, '$.settings.index'), json_extract(text, '$.index')),
        json_extract(asked, '$.settings.accept'),
        json_extract(asked, '$.request.whole'),
        CASE
            WHEN json_extract(asked, '$.request.card') IS NOT NULL THEN 'card'
            WHEN json_extract(asked, '$.request.disc') IS NOT NULL THEN 'disc'
            WHEN json_extract(asked, '$.request.mm_per_px') IS NOT NULL THEN 'stated'
            WHEN json_extract(asked, '$.request.width_mm') IS NOT NULL THEN 'width'
            WHEN json_extract(asked, '$.request.span') IS NOT NULL THEN 'span'
        END
    FROM (
        SELECT text,
            CASE json_type(text, '$.graded') WHEN 'object' THEN json_extract(text, '$.graded') ELSE text END AS asked
        FROM record WHERE result_id = result.id AND typeof(text) = 'text' AND json_valid(text)
    )
) WHERE version IS NULL"""
INDEXES: Final = (
    "CREATE INDEX casting_in_order ON casting (order_s)",
    *(
        f"CREATE INDEX casting_by_{field.name} ON casting ({field.name} COLLATE NOCASE, order_s)"
        for field in FIELDS
        if field.chosen_by
    ),
    "CREATE INDEX note_of ON note (casting_id)",
    "CREATE INDEX history_of ON history (casting_id)",
    "CREATE INDEX photo_by_hash ON photo (sha256)",
    # Holds all that charts need, so that they never read the table.
    f"CREATE INDEX result_of ON result (kind, casting_id, id, unfit, file_sha256, {', '.join([*NUMBERS, *GRADED])})",
    "CREATE INDEX result_by_casting ON result (casting_id, kind)",
)


# The tables beside castings and results.
_NOTE: Final = """CREATE TABLE note ( -- what was noted of a casting later
    id INTEGER PRIMARY KEY,
    casting_id INTEGER NOT NULL REFERENCES casting (id),
    at TEXT NOT NULL,
    by TEXT,
    text TEXT NOT NULL,
    cause INTEGER NOT NULL DEFAULT 0 -- 1: why this casting came out as it did; marked on charts
)"""
_HISTORY: Final = """CREATE TABLE history ( -- what was corrected: nothing is overwritten unseen
    id INTEGER PRIMARY KEY,
    casting_id INTEGER NOT NULL REFERENCES casting (id),
    at TEXT NOT NULL,
    by TEXT,
    field TEXT NOT NULL,
    old TEXT, -- as typed; NULL: it was unknown
    new TEXT,
    why TEXT
)"""
_PHOTO: Final = """CREATE TABLE photo ( -- photographs of a casting, known again by their bytes
    id INTEGER PRIMARY KEY,
    casting_id INTEGER NOT NULL REFERENCES casting (id),
    sha256 TEXT NOT NULL,
    name TEXT NOT NULL,
    UNIQUE (casting_id, sha256)
)"""
_RECORD: Final = """CREATE TABLE record ( -- the records themselves
    result_id INTEGER PRIMARY KEY REFERENCES result (id),
    text TEXT NOT NULL -- JSON
)"""

_UNTIED: Final = """CREATE TABLE untied ( -- results that were tied to a casting by mistake, as they were tied
    id INTEGER PRIMARY KEY,
    casting_id INTEGER NOT NULL REFERENCES casting (id),
    at TEXT NOT NULL, -- when the tie was taken off
    by TEXT,
    why TEXT,
    tied_at TEXT NOT NULL,
    tied_by TEXT,
    kind TEXT NOT NULL,
    file TEXT NOT NULL,
    file_sha256 TEXT NOT NULL,
    photo TEXT,
    photo_sha256 TEXT,
    text TEXT -- the record, JSON; its numbers are in it
)"""


def schema() -> tuple[str, ...]:
    """Return the statements that make an empty log of this version."""
    return (_casting(), _NOTE, _HISTORY, _PHOTO, _result(), _RECORD, _UNTIED, *INDEXES)


def _casting() -> str:
    return f"""CREATE TABLE casting ( -- one row a casting
    id INTEGER PRIMARY KEY AUTOINCREMENT, -- its number; none is given twice
    entered_at TEXT NOT NULL,
    entered_by TEXT,
    order_s REAL NOT NULL, -- its place among castings: date_s, or when it was entered where that is unknown
{_lines(FIELDS)}
)"""


def _result() -> str:
    return f"""CREATE TABLE result ( -- what was measured or judged; the newest of a kind counts
    id INTEGER PRIMARY KEY,
    casting_id INTEGER NOT NULL REFERENCES casting (id),
    at TEXT NOT NULL,
    by TEXT,
    kind TEXT NOT NULL, -- grade, inspect, regrowth, shrink, hold
    file TEXT NOT NULL, -- where the record was read
    file_sha256 TEXT NOT NULL, -- of the record's file
    photo TEXT,
    photo_sha256 TEXT,
    verdict TEXT, -- in the record's own word
    unfit INTEGER, -- 1: the photograph was not fit to measure
{_number_lines()}
)"""


def _lines(fields: tuple[Field, ...]) -> str:
    """Return the columns of the fields, each with what it is."""
    lines = []
    for field in fields:
        lines.append(f"    {field.name} TEXT -- {field.words}")
        if field.number:
            lines.append(f"    {field.number} REAL -- the same in {field.kind.shown}")
    return _with_commas(lines)


def _number_lines() -> str:
    lines = [f"    {name} {'INTEGER' if name == 'voids' else 'REAL'} -- {words}" for name, words in NUMBERS.items()]
    return _with_commas([*lines, *(f"    {name} {kind} -- {words}" for name, (kind, words) in GRADED.items())])


def _with_commas(lines: list[str]) -> str:
    """Return lines with a comma before each comment but the last."""
    return "\n".join([*(line.replace(" --", ", --", 1) for line in lines[:-1]), lines[-1]])
