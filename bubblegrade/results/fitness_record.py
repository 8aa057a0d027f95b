"""What the checks of a photograph found, as tables and records hold it."""

from __future__ import annotations

import math
from typing import Any, Final

from bubblegrade.fitness.check import Check, Fitness
from bubblegrade.fitness.checks import TESTS

CORNERS: Final = ("left_px", "top_px", "right_px", "bottom_px")

Part = dict[str, Any]


def fitness_record(fitness: Fitness) -> Part:
    """Return a photograph's fitness as run.json and photocheck.json hold it; their schemas describe every field."""
    return {"verdict": fitness.verdict, "checks": [check_record(check) for check in fitness.checks]}


def check_record(check: Check) -> Part:
    """Return one check."""
    bounds = check.place.bounds_px
    return {
        "name": check.name,
        "title": check.title,
        "verdict": check.verdict,
        "value": check.value,
        "unit": check.unit,
        "care_limit": check.limit.care,
        "unfit_limit": check.limit.unfit,
        "smaller_is_worse": check.limit.least,
        "fault": check.fault,
        "effect": check.effect,
        "cure": check.cure,
        "place": None if bounds is None else {"kind": check.place.kind, **dict(zip(CORNERS, bounds, strict=True))},
    }


def fitness_cells(fitness: Fitness) -> Part:
    """Return the verdict and every check's value as cells of castings.csv; a check that was not held is NaN."""
    held = {check.name: check.value for check in fitness.checks}
    values = {f"check_{test.name}_{test.unit}": held.get(test.name, math.nan) for test in TESTS}
    return {"fitness": fitness.verdict, **values}
