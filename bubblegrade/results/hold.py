"""A hold test on disk: readings.csv, hold.json and the schema that describes every field of it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any, Final

import numpy as np

from bubblegrade.grading.estimate import Estimate
from bubblegrade.pressure.cautions import PRESSURE
from bubblegrade.pressure.hold import Held, Stage
from bubblegrade.pressure.hold_advice import advise_on_hold
from bubblegrade.pressure.hold_doubts import accuracy_of, temperature_err_k
from bubblegrade.pressure.hold_readings import Hold
from bubblegrade.pressure.pot import Pot
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run_json import to_json
from bubblegrade.results.tables import csv_text
from bubblegrade.units import PSI_KPA, GaugePressure

RECORD_FILE: Final = "hold.json"
LOG_FILE: Final = "readings.csv"
FORMAT: Final = 1  # of hold.json; grows when a field goes or changes its meaning
COLUMNS: Final = (
    *("time_s", "gauge_psig", "gauge_err_psi", "needle_deg", "needle_err_deg"),
    *("temperature_c", "atmosphere_kpa", "absolute_kpa"),
    *(
        "at_first_temperature_psig",
        "expected_psig",
        "expected_low_psig",
        "expected_high_psig",
        "day",
        "source",
        "remark",
    ),
)

Part = dict[str, Any]


def write_hold(folder: ResultFolder, held: Held, *, version: str, pictures: tuple[str, ...]) -> str:
    """Write the log of readings and the record; return the record's text. `pictures` are the files written before."""
    folder.write_text(LOG_FILE, csv_text(COLUMNS, log_rows(held)))
    text = hold_json(held, version=version, files=(LOG_FILE, RECORD_FILE, *pictures))
    folder.write_text(RECORD_FILE, text)
    return text


def hold_json(held: Held, *, version: str, files: tuple[str, ...] = ()) -> str:
    """Return a hold test as JSON text; the schema beside this module describes every field."""
    test = held.test
    return to_json(
        {
            "format": FORMAT,
            "version": version,
            "verdict": held.answer,
            "asked": _stage(held.asked),
            "allowed_psi": held.allowed_kpa / PSI_KPA,
            "over_test": _stage(held.over_test),
            "stages": [_stage(stage) for stage in held.stages],
            **_limits("rate_psi_h", held.rate_kpa_h.scaled(1.0 / PSI_KPA)),
            **_limits("leak_mol_s", held.mol_s),
            **_limits("leak_pa_m3_s", held.pa_m3_s),
            **_limits("leak_std_cm3_min", held.std_cm3_min),
            "rises": held.rises,
            "scatter": held.leak.scatter,
            "tells_after_s": held.tells_after_s,
            "tight_after_s": held.tight_after_s,
            "atmosphere_kpa": test.air.kpa,
            "atmosphere_from": test.air.source,
            "settled_s": test.settled_s,
            "temperature_err_k": temperature_err_k(test),
            "drift_share": held.drift.share,
            "gain_share": held.drift.gain_share,
            "dial": _dial(test),
            "pot": _pot(test.pot),
            "readings": log_rows(held),
            "advice": [asdict(each) for each in advise_on_hold(held)],
            "cautions": [asdict(each) for each in PRESSURE],
            "files": sorted(files),
        }
    )


def log_rows(held: Held) -> list[Part]:
    """Return a row a reading, beside what the fall explains of it."""
    return [_log_row(held, number) for number in range(len(held.test.readings))]


def _log_row(held: Held, number: int) -> Part:
    """Return one reading as a row of the log."""
    reading, series, air = held.test.readings[number], held.series, held.test.air_kpa[number]
    low, value, high = np.percentile(held.leak.kpa(float(series.at_s[number])), [2.5, 50.0, 97.5])
    levelled = series.kpa[number] * series.kelvin[0] / series.kelvin[number]
    values = (
        float(series.at_s[number]),
        reading.dial.psig,
        float(series.err_kpa[number]) / PSI_KPA,
        reading.turn_deg,
        reading.turn_err_deg,
        reading.celsius,
        air,
        float(series.kpa[number]),
        *(float(kpa - held.test.air.kpa) / PSI_KPA for kpa in (levelled, value, low, high)),
        None if reading.day is None else reading.day.isoformat(),
        reading.source,
        reading.remark,
    )
    return dict(zip(COLUMNS, values, strict=True))


def _dial(test: Hold) -> Part:
    """Return the dial and how far it may err."""
    accuracy = accuracy_of(test)
    return {
        "low_psig": accuracy.dial.low.psig,
        "high_psig": accuracy.dial.high.psig,
        "grade": accuracy.grade,
        "graduation_psi": accuracy.step_kpa / PSI_KPA,
        "largest_error_psi": accuracy.limit_kpa(test.readings[0].dial.psig) / PSI_KPA,
        "assumed": accuracy.assumed,
    }


def _pot(pot: Pot) -> Part:
    """Return the pot and its limits."""
    return {
        "name": pot.name,
        "rated_psig": _psig(pot.limits.rated),
        "relief_psig": _psig(pot.limits.relief),
        "mould_psig": _psig(pot.limits.mould),
        "free_volume_cm3": pot.free_volume_cm3,
        "last_inspection": None if pot.last_inspection is None else pot.last_inspection.isoformat(),
    }


def _stage(stage: Stage) -> Part:
    """Return what is expected at a time."""
    return {
        "name": stage.name,
        "at_s": stage.at_s,
        **_limits("dial_psig", stage.dial_kpa.scaled(1.0 / PSI_KPA)),
        **_limits("drop_psi", stage.drop_kpa.scaled(1.0 / PSI_KPA)),
        **_limits("growth_share", stage.growth_share),
    }


def _limits(name: str, estimate: Estimate) -> Part:
    """Return an estimate as three fields."""
    return {
        name: estimate.value,
        f"{name}_low": estimate.low,
        f"{name}_high": estimate.high,
    }


def _psig(limit: GaugePressure | None) -> float | None:
    return None if limit is None else limit.psig
