"""The steps that bring an older log up to the schema of this version.

A step never changes once it was released, or logs would differ with the day on which they were brought up. So its text
stands here in full and takes nothing from elsewhere, though a rule that still holds has the same words.
"""

from __future__ import annotations

from typing import Final

# By the version that a file has: what makes the next one of it.
STEPS: Final[dict[int, tuple[str, ...]]] = {
    1: (
        "ALTER TABLE casting ADD COLUMN pot TEXT",
        "ALTER TABLE note ADD COLUMN cause INTEGER NOT NULL DEFAULT 0",
        "CREATE INDEX photo_by_hash ON photo (sha256)",
    ),
    2: (
        """CREATE TABLE untied (
            id INTEGER PRIMARY KEY, casting_id INTEGER NOT NULL REFERENCES casting (id), at TEXT NOT NULL, by TEXT,
            why TEXT, tied_at TEXT NOT NULL, tied_by TEXT, kind TEXT NOT NULL, file TEXT NOT NULL,
            file_sha256 TEXT NOT NULL, photo TEXT, photo_sha256 TEXT, text TEXT
        )""",
    ),
    3: (
        "ALTER TABLE result ADD COLUMN version TEXT",
        "ALTER TABLE result ADD COLUMN resin_index REAL",
        "ALTER TABLE result ADD COLUMN accept_share REAL",
        "ALTER TABLE result ADD COLUMN whole INTEGER",
        "ALTER TABLE result ADD COLUMN scale_from TEXT",
        """UPDATE result SET (version, resin_index, accept_share, whole, scale_from) = (
            SELECT
                json_extract(text, '$.version'),
                coalesce(json_extract(text, '$.settings.index'), json_extract(text, '$.index')),
                json_extract(text, '$.settings.accept'),
                json_extract(text, '$.request.whole'),
                CASE
                    WHEN json_extract(text, '$.request.card') IS NOT NULL THEN 'card'
                    WHEN json_extract(text, '$.request.disc') IS NOT NULL THEN 'disc'
                    WHEN json_extract(text, '$.request.mm_per_px') IS NOT NULL THEN 'stated'
                    WHEN json_extract(text, '$.request.width_mm') IS NOT NULL THEN 'width'
                    WHEN json_extract(text, '$.request.span') IS NOT NULL THEN 'span'
                END
            FROM record WHERE result_id = result.id AND typeof(text) = 'text' AND json_valid(text)
        ) WHERE version IS NULL""",
        "DROP INDEX result_of",
        """CREATE INDEX result_of ON result (kind, casting_id, id, unfit, file_sha256, voids, voids_low, voids_high,
            judged_area_px, judged_area_cm2, judged_volume_cm3, smallest_px, smallest_mm, clarity, clarity_low,
            clarity_high, shrinkage, shrinkage_low, shrinkage_high, version, resin_index, accept_share, whole,
            scale_from)""",
    ),
}
