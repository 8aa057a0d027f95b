"""A weighing on disk: weigh.json and the schema that describes every field of it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Final

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.weighed import Weighed
from bubblegrade.pressure.weight import Density
from bubblegrade.results.run_json import to_json

RECORD_FILE: Final = "weigh.json"
FORMAT: Final = 1  # of weigh.json; grows when a field goes or changes its meaning

Part = dict[str, Any]


def weigh_json(found: Weighed, seen: Part | None, *, version: str, files: tuple[str, ...] = ()) -> str:
    """Return a weighing as JSON text; `seen` is what a photograph shows of the same piece."""
    asked = found.question
    return to_json(
        {
            "format": FORMAT,
            "version": version,
            "in_air_g": asked.in_air_g,
            "in_water": None if asked.piece is None else asdict(asked.piece),
            "water_c": None if asked.piece is None else asked.water.celsius,
            "water_err_c": None if asked.piece is None else asked.water.err_c,
            "resolution_g": asked.resolution_g,
            "density_kg_m3": _density(found.density),
            "reference_kg_m3": _density(found.reference),
            "void_share": _estimate(found.voids.share if found.voids else None),
            "void_volume_mm3": _estimate(found.voids.volume_mm3 if found.voids else None),
            "least_told_mm3": found.voids.least_mm3 if found.voids else None,
            "seen": seen,
            "master": None
            if found.against_master is None
            else {
                "master_g": asked.master_g,
                "difference_g": _estimate(found.against_master.difference_g),
                "missing_as_resin_mm3": _estimate(found.against_master.as_void_mm3),
                "missing_as_ballast_g": _estimate(found.against_master.as_ballast_g),
            },
            "files": sorted(files),
        }
    )


def _density(found: Density | None) -> Part | None:
    return None if found is None else asdict(found.estimate)


def _estimate(found: Estimate | None) -> Part | None:
    return None if found is None or not found.known else asdict(found)
