"""A prediction on disk: expect.csv, expect.json and the schema that describes every field of it."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any, Final

from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.expectation import Expectation
from bubblegrade.pressure.gas import kelvin
from bubblegrade.pressure.plan import CHANCE, Plan
from bubblegrade.pressure.prediction import Row
from bubblegrade.pressure.situation import Advice
from bubblegrade.pressure.trial_plan import TrialPlan
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run_json import to_json
from bubblegrade.results.tables import csv_text
from bubblegrade.units import GaugePressure

RECORD_FILE: Final = "expect.json"
TABLE_FILE: Final = "expect.csv"
FORMAT: Final = 1  # of expect.json; grows when a field goes or changes its meaning
COLUMNS: Final = (
    *("pressure_psig", "absolute_kpa", "asked", "volume_share", "diameter_share", "area_share"),
    *("next_5psi_gain_share", "becomes_mm", "began_mm", "dissolved_mm"),
)

Part = dict[str, Any]


def write_expectation(folder: ResultFolder, found: Expectation, *, version: str, pictures: tuple[str, ...]) -> str:
    """Write the table and the record; return the record's text. `pictures` are the files written before."""
    folder.write_text(TABLE_FILE, csv_text(COLUMNS, [row_record(row) for row in found.rows]))
    text = expectation_json(found, version=version, files=(TABLE_FILE, RECORD_FILE, *pictures))
    folder.write_text(RECORD_FILE, text)
    return text


def expectation_json(found: Expectation, *, version: str, files: tuple[str, ...] = ()) -> str:
    """Return a prediction as JSON text; the schema beside this module describes every field."""
    question = found.question
    premises = question.premises
    cautions = (*PRESSURE, *(RESIN if found.plan else ()))
    return to_json(
        {
            "format": FORMAT,
            "version": version,
            "asked_psig": [each.psig for each in question.asked],
            "from_psig": premises.start.psig,
            "atmosphere_kpa": question.atmosphere.kpa,
            "atmosphere_from": question.atmosphere.source,
            "limits": {
                "rated_psig": _psig(question.limits.rated),
                "relief_psig": _psig(question.limits.relief),
                "mould_psig": _psig(question.limits.mould),
            },
            "closing_c": premises.closing_k - kelvin(0.0),
            "gel_c": premises.gel_k - kelvin(0.0),
            "size_mm": premises.size_mm,
            "tension_n_per_m": premises.tension_n_per_m,
            "dissolving": asdict(premises.dissolving) if premises.dissolving else None,
            "stopped": found.stopped,
            "advice": [_advice(each) for each in found.said],
            "rows": [row_record(row) for row in found.rows],
            "plan": _trial_plan(found.plan) if found.plan else None,
            "cautions": [_advice(each) for each in cautions],
            "files": sorted(files),
        }
    )


def row_record(row: Row) -> Part:
    """Return one pressure as a row of the table."""
    values = (
        *(row.gauge.psig, row.absolute_kpa, row.asked, row.ratios.volume, row.ratios.diameter, row.ratios.area),
        *(row.next_gain_share, row.becomes_mm, row.began_mm, row.dissolved_mm),
    )
    return dict(zip(COLUMNS, values, strict=True))


def _psig(limit: GaugePressure | None) -> float | None:
    return None if limit is None else limit.psig


def _advice(said: Advice) -> Part:
    return asdict(said)


def _trial_plan(plan: TrialPlan) -> Part:
    return {
        "assumed": asdict(plan.assumed),
        "void_err": plan.void_err,
        "difference_share": plan.difference_share,
        "precision_share": plan.precision,
        "chance_share": math.nan if math.isfinite(plan.precision) else CHANCE,
        "one_mix_over_both": _plan(plan.blocked),
        "a_mix_for_every_cup": _plan(plan.apart) if plan.apart else None,
    }


def _plan(plan: Plan) -> Part:
    return {
        "cups_per_setting": plan.cups_per_setting,
        "mixes": plan.mixes,
        "half_width_share": plan.share,
    }
