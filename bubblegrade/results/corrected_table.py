"""corrected.csv: every find beside what grading made of it, with its state and who put it right."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from bubblegrade.corrected.finds import Find, automatic_finds
from bubblegrade.corrected.numbers import Corrected
from bubblegrade.grading_run import Casting
from bubblegrade.results.tables import csv_text

CORRECTED_FILE: Final = "corrected.csv"
COLUMNS: Final = (
    *("photo", "find", "state", "x_px", "y_px", "diameter_px", "diameter_err_px", "diameter_mm", "diameter_err_mm"),
    *("kind", "reason", "source", "who", "automatic_diameter_px", "automatic_kind"),
)


def corrected_csv(corrected: Corrected, casting: Casting) -> str:
    """Return the table of all finds after corrections; `casting` is as graded."""
    before = {find.name: find for find in automatic_finds(casting)}
    rows = [_row(corrected.casting, find, before.get(find.name)) for find in corrected.finds]
    return csv_text(COLUMNS, rows)


def _row(casting: Casting, find: Find, automatic: Find | None) -> dict[str, Any]:
    scale = casting.void_scale
    mm, mm_err = (scale.mm_per_px, scale.mm_per_px_err) if scale else (np.nan, np.nan)
    return {
        "photo": casting.photo,
        "find": find.name,
        "state": str(find.state),
        "x_px": find.x_px,
        "y_px": find.y_px,
        "diameter_px": find.diameter_px,
        "diameter_err_px": find.diameter_err_px,
        "diameter_mm": find.diameter_px * mm,
        "diameter_err_mm": float(np.hypot(find.diameter_err_px * mm, find.diameter_px * mm_err)),
        "kind": find.kind,
        "reason": find.reason,
        "source": "by hand" if find.who else "automatic",
        "who": find.who,
        "automatic_diameter_px": automatic.diameter_px if automatic else None,
        "automatic_kind": automatic.kind if automatic else None,
    }
