"""The resin's window on disk: window.csv, window.json and the schema that describes every field of it."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any, Final

from bubblegrade.pressure.cautions import PRESSURE, RESIN
from bubblegrade.pressure.gas import kelvin
from bubblegrade.pressure.window import Window, WindowRow
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run_json import to_json
from bubblegrade.results.tables import csv_text

RECORD_FILE: Final = "window.json"
TABLE_FILE: Final = "window.csv"
FORMAT: Final = 1  # of window.json; grows when a field goes or changes its meaning
COLUMNS: Final = (
    *("pressure_psig", "diameter_share", "dissolved_below_mm", "visible_from_mm"),
    *("stays_below_mm", "rises_out_above_mm", "visible_remain"),
)

Part = dict[str, Any]


def write_window(folder: ResultFolder, found: Window, *, version: str, pictures: tuple[str, ...]) -> str:
    """Write the table and the record; return the record's text. `pictures` are the files written before."""
    folder.write_text(TABLE_FILE, csv_text(COLUMNS, [row_record(row) for row in found.rows]))
    text = window_json(found, version=version, files=(TABLE_FILE, RECORD_FILE, *pictures))
    folder.write_text(RECORD_FILE, text)
    return text


def window_json(found: Window, *, version: str, files: tuple[str, ...] = ()) -> str:
    """Return the resin's window as JSON text; the schema beside this module describes every field."""
    asked, steps = found.question, found.question.steps
    return to_json(
        {
            "format": FORMAT,
            "version": version,
            "verdict": found.verdict,
            "room_c": asked.room_k - kelvin(0.0),
            "gel_times": [{"c": point.kelvin - kelvin(0.0), "s": point.seconds} for point in asked.points],
            "activation_j_mol": math.nan if asked.activation_j_mol is None else asked.activation_j_mol,
            "atmosphere_kpa": asked.atmosphere_kpa,
            "timeline_s": {"poured": steps.poured_s, "closed": steps.closed_s, "pressure_stands": steps.pressed_s},
            "gel_s": asdict(found.gel),
            "left_s": asdict(found.left),
            "early_enough": found.early_enough,
            "visible_mm": asked.visible_mm,
            "flow": _flow(found),
            "dissolving": _dissolving(found),
            "rows": [row_record(row) for row in found.rows],
            "cautions": [asdict(each) for each in (*PRESSURE, *RESIN)],
            "files": sorted(files),
        }
    )


def row_record(row: WindowRow) -> Part:
    """Return one pressure as a row of the table."""
    remain = "yes" if row.remains_surely else "perhaps" if row.remains_perhaps else "no"
    values = (
        *(row.gauge.psig, row.diameter_share, row.gone_mm, row.seen_from_mm),
        *(row.out_hardly_mm, row.out_surely_mm, "" if math.isnan(row.out_hardly_mm) else remain),
    )
    return dict(zip(COLUMNS, values, strict=True))


def _flow(found: Window) -> Part | None:
    flow = found.question.flow
    if flow is None:
        return None
    return {
        "viscosity_pa_s": flow.viscosity_pa_s,
        "stated_c": flow.stated_k - kelvin(0.0),
        "gelled_pa_s": flow.gelled_pa_s,
        "depth_mm": flow.depth_mm,
        "density_kg_m3": flow.density_kg_m3,
        "too_fast_above_mm": found.too_fast_mm,
    }


def _dissolving(found: Window) -> Part | None:
    given = found.question.dissolving
    if given is None:
        return None
    return {
        "diffusivity_m2_s": given.diffusivity_m2_s,
        "solubility": given.solubility,
        "saturation": given.saturation,
    }
