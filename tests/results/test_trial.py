"""A trial on disk."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from bubblegrade.grading.pattern_casting import Pouring, casting_pattern, judged_ground
from bubblegrade.grading_run import Request
from bubblegrade.pressure.poured import Poured
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.trial import Trial
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import asked_record
from bubblegrade.results.trial import trial_record, write_trial
from bubblegrade.settings import Settings
from bubblegrade.units import PSI_KPA, GaugePressure
from tests.command_line import rows
from tests.schemas import parts_of, schema_of

MakePoured = Callable[..., Poured]
MakeTrial = Callable[..., Trial]

GRADED = asked_record(Request(mm_per_px=0.04), Settings(), blank_sha256=None)
SQUARE = np.array([[0.0, 0.0], [399.0, 0.0], [399.0, 299.0], [0.0, 299.0]])


def written(folder: Path, trial: Trial) -> dict[str, Any]:
    """Write a trial and return what its trial.json holds."""
    with ResultFolder.prepare(folder, replace=True) as out:
        text = write_trial(out, trial, version="0.1.0", graded=GRADED)
    assert (folder / "trial.json").read_text("utf-8") == text
    record: dict[str, Any] = json.loads(text)
    return record


def trials(known_trial: MakeTrial, poured: MakePoured) -> Iterator[Trial]:
    """Return trials of every kind."""
    yield known_trial(limits=Limits(rated=GaugePressure(70.0 * PSI_KPA)))
    yield known_trial(pressure_share=0.3)
    yield known_trial(unit="px", limits=Limits(mould=GaugePressure(50.0 * PSI_KPA)))
    yield known_trial(cups=(poured(0.0), poured(60.0)))
    points = np.random.default_rng(1).uniform(0.0, 300.0, (40, 2))
    pattern = casting_pattern(
            np.column_stack([points, np.full(40, 3.0)]), judged_ground([SQUARE], (300, 400)),
            hardware_px=np.empty((0, 3)), pouring=Pouring(), seed=1,
        )  # fmt: skip
    said = {"mix": "m", "recipe": "slow", "gel_s": 900.0, "closed_k": 297.0, "gelled_k": 300.0, "pattern": pattern}
    cups = [poured(psig, name=name, **said) for psig in (0.0, 20.0) for name in "abc"]
    yield known_trial(cups=(*cups, poured(60.0, diameters=np.array([0.05]), unfit=("cut",))))


def test_trial_json_keeps_to_its_schema(tmp_path: Path, known_trial: MakeTrial, poured: MakePoured) -> None:
    schema = schema_of("trial")
    Draft202012Validator.check_schema(schema)
    for trial in trials(known_trial, poured):
        record = written(tmp_path, trial)
        assert [error.message for error in Draft202012Validator(schema).iter_errors(record)] == []


def test_the_schema_describes_every_field_and_names_its_unit() -> None:
    units = {"_px": "px", "_mm": "mm", "_psi": "psi", "_kpa": "kPa", "_cm3": "cm3", "_k": "kelvin", "_s": "in s"}
    fields = list(parts_of(schema_of("trial")))
    assert len(fields) > 90
    for name, field in fields:
        assert field.get("description"), name
        for ending, unit in units.items():
            assert not name.endswith(ending) or unit in field["description"], name


def test_the_promised_fields_stand_at_the_top(known_trial: MakeTrial) -> None:
    record = trial_record(known_trial(), version="0.1.0", graded=GRADED)
    promised = {"exponent", "exponent_low", "exponent_high", "verdict", "settings", "advice", "warnings", "version"}
    assert promised | {"atmosphere", "cautions", "cup_spread"} <= set(record)
    assert record["exponent_low"] < record["exponent"] < record["exponent_high"]


def test_settings_csv_says_what_trial_json_says(tmp_path: Path, known_trial: MakeTrial, poured: MakePoured) -> None:
    for trial in trials(known_trial, poured):
        record, table = written(tmp_path, trial), rows(tmp_path / "settings.csv")
        assert [row["setting"] for row in table] == [part["setting"] for part in record["settings"]]
        for row, part in zip(table, record["settings"], strict=True):
            for name, field in part.items():
                cells = {name: field, f"{name}_low": None} if not isinstance(field, dict) else {
                    name: field["value"], f"{name}_low": field["low"], f"{name}_high": field["high"]
                }  # fmt: skip
                for cell, value in cells.items():
                    if cell in row and isinstance(value, float):
                        assert float(row[cell]) == pytest.approx(value, rel=1e-6), cell


def test_what_was_said_of_a_cup_is_carried_on(tmp_path: Path, known_trial: MakeTrial, poured: MakePoured) -> None:
    said = {"mix": "m1", "recipe": "slow, warm", "resin": "lot 7", "cup": "=third"}
    written(tmp_path, known_trial(cups=(poured(0.0, **said), poured(60.0, **said))))
    row = rows(tmp_path / "cups.csv")[0]
    assert (row["mix"], row["recipe"], row["resin"], row["cup"]) == ("m1", "slow, warm", "lot 7", "'=third")
    assert (row["photo"], row["setting"], row["pattern"], row["voids"]) == ("0psi-a.jpg", "0 psi", "unknown", "100")


def test_lengths_are_named_after_their_unit(known_trial: MakeTrial) -> None:
    assert "median_mm" in trial_record(known_trial(), version="1", graded=GRADED)["settings"][0]
    assert "median_px" in trial_record(known_trial(unit="px"), version="1", graded=GRADED)["settings"][0]


def test_a_stop_stands_in_the_decision(known_trial: MakeTrial) -> None:
    limits = Limits(rated=GaugePressure(50.0 * PSI_KPA))
    record = trial_record(known_trial(limits=limits), version="1", graded=GRADED)
    assert record["decision"]["stopped"] is True
    assert [each["level"] for each in record["advice"]] == ["stop"]
    assert record["limits"]["rated_psi"] == pytest.approx(50.0)


def test_the_same_trial_gives_the_same_bytes(tmp_path: Path, known_trial: MakeTrial) -> None:
    for name in ("one", "other"):
        written(tmp_path / name, known_trial())
    for place in (tmp_path / "one").iterdir():
        assert place.read_bytes() == (tmp_path / "other" / place.name).read_bytes()
