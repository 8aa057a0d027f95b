"""A piece compared with its earlier photograph, on disk: regrowth.json and the schema that describes its fields."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from bubblegrade.grading.regrowth import Regrowth
from bubblegrade.grading_run import Casting, Request
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import asked_record
from bubblegrade.results.run_json import to_json
from bubblegrade.settings import Settings
from bubblegrade.voids.table import Voids

RECORD_FILE: Final = "regrowth.json"
FORMAT: Final = 2  # of regrowth.json; grows when a field goes or changes its meaning

Part = dict[str, Any]


@dataclass(frozen=True, eq=False)
class CameBack:
    """Both photographs and what became of the voids."""

    version: str  # of bubblegrade
    request: Request
    settings: Settings
    blank_sha256: str | None  # of the photograph of the bare light
    earlier: Casting
    later: Casting
    regrowth: Regrowth
    remarks: tuple[str, ...] = ()  # on what a person corrected and said
    pictures: tuple[str, ...] = ()  # files written beside the record
    same_setup: bool = False  # light, camera, distance and focus were the same, as was said


def write_regrowth(folder: ResultFolder, found: CameBack) -> str:
    """Write the record and return its text."""
    text = regrowth_json(found)
    folder.write_text(RECORD_FILE, text)
    return text


def regrowth_json(found: CameBack) -> str:
    """Return the comparison as JSON text; the schema beside this module describes every field."""
    told = found.regrowth
    before, after = found.earlier.voids[told.pairs[:, 0]], found.later.voids[told.pairs[:, 1]]
    return to_json(
        {
            "format": FORMAT,
            "version": found.version,
            **asked_record(found.request, found.settings, blank_sha256=found.blank_sha256),
            "same_setup": found.same_setup,
            "earlier": _photograph(found.earlier),
            "later": _photograph(found.later),
            "verdict": told.verdict,
            "reason": told.reason,
            "remarks": found.remarks,
            "growth_share": told.growth,
            "turned_degrees": told.turned_degrees,
            "scale": told.scale,
            "pairs": {
                **_columns(before, "earlier"),
                **_columns(after, "later"),
                "growth_share": told.growths,
                "growth_share_err": told.growth_errs,
                "stands_out": told.stands_out,
            },
            "gone": _columns(found.earlier.voids[told.gone], "earlier"),
            "new": _columns(found.later.voids[told.new], "later"),
            "files": sorted({*found.pictures, RECORD_FILE}),
        }
    )


def _photograph(casting: Casting) -> Part:
    return {
        "photo": casting.photo,
        "sha256": casting.sha256,
        "voids": len(casting.voids),
        "unfit": casting.unfit,
        "warnings": casting.warnings,
    }


def _columns(voids: Voids, when: str) -> dict[str, np.ndarray]:
    """Return places and diameters, in px of the photograph."""
    return {
        f"{when}_x_px": voids.x_px,
        f"{when}_y_px": voids.y_px,
        f"{when}_diameter_px": voids.diameter_px,
        f"{when}_diameter_err_px": voids.diameter_err_px,
    }
