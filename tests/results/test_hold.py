"""The record of a hold test and its schema."""

from __future__ import annotations

import csv
import datetime
import io
import json

import pytest
from jsonschema import Draft202012Validator

from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.pressure.hold import Held, hold
from bubblegrade.pressure.hold_readings import Hold, Reading
from bubblegrade.pressure.pot import Dial, Pot
from bubblegrade.pressure.situation import Limits
from bubblegrade.results.hold import COLUMNS, hold_json, log_rows
from bubblegrade.results.tables import csv_text
from bubblegrade.units import PSI_KPA
from tests.conftest import psi
from tests.schemas import parts_of, schema_of


def found(*, whole: bool) -> Held:
    """Return a test with everything that can be told, or with nothing of it."""
    if not whole:
        return hold(Hold((Reading(0.0, psi(60.0)), Reading(3600.0, psi(59.0))), SEA_LEVEL))
    day = datetime.date(2026, 3, 1)
    readings = tuple(
        Reading(at_s, psi(psig), 24.0, 101.0, 1.0, turn, 0.2, day, "a.jpg", "=1+1")
        for at_s, psig, turn in ((0.0, 60.0, 0.0), (7200.0, 59.0, -2.7))
    )
    limits = Limits(psi(70.0), psi(68.0), psi(65.0))
    pot = Pot("blue", limits, Dial(psi(0.0), psi(100.0), "B"), 7500.0, datetime.date(2024, 5, 6))
    return hold(Hold(readings, SEA_LEVEL, pot, PSI_KPA, 0.5, 1200.0, 1800.0, 43200.0, 2.0 * PSI_KPA))


@pytest.mark.parametrize("whole", [True, False])
def test_the_record_keeps_to_its_schema(whole: bool) -> None:  # noqa: FBT001
    schema = schema_of("hold")
    Draft202012Validator.check_schema(schema)
    record = json.loads(hold_json(found(whole=whole), version="0.1.0"))
    assert [error.message for error in Draft202012Validator(schema).iter_errors(record)] == []
    assert all(tuple(row) == COLUMNS for row in record["readings"])


def test_a_field_that_the_schema_does_not_know_is_refused() -> None:
    record = json.loads(hold_json(found(whole=True), version="0.1.0"))
    record["when"] = "today"
    assert not Draft202012Validator(schema_of("hold")).is_valid(record)


def test_the_schema_describes_every_field_with_its_unit() -> None:
    units = {"_kpa": "kPa", "_psig": "psi", "_psi": "psi", "_psi_h": "psi an hour", "_c": "Celsius", "_k": "in K"}
    fields = list(parts_of(schema_of("hold")))
    assert len(fields) > 60
    for name, field in fields:
        assert field["description"], name
        for ending, word in units.items():
            if name.endswith(ending):
                assert word in field["description"], name


def test_the_same_readings_give_the_same_bytes() -> None:
    assert hold_json(found(whole=True), version="1") == hold_json(found(whole=True), version="1")


def test_the_log_is_a_table_that_no_spreadsheet_runs() -> None:
    rows = list(csv.DictReader(io.StringIO(csv_text(COLUMNS, log_rows(found(whole=True))))))
    assert [row["gauge_psig"] for row in rows] == ["60", "59"]
    assert rows[1]["needle_deg"] == "-2.7"
    assert rows[0]["remark"] == "'=1+1"
    assert float(rows[0]["at_first_temperature_psig"]) == pytest.approx(60.0 + (101.0 - 101.325) / PSI_KPA, abs=1e-3)
