"""The record of a prediction and its schema."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from bubblegrade.pressure.atmosphere import SEA_LEVEL
from bubblegrade.pressure.expectation import Expectation, Question, expect
from bubblegrade.pressure.prediction import Dissolving, Premises
from bubblegrade.pressure.situation import Limits
from bubblegrade.pressure.trial_plan import Assumed
from bubblegrade.results.expect import COLUMNS, expectation_json
from tests.conftest import psi
from tests.schemas import parts_of, schema_of


def found(*, whole: bool, rated: float = 70.0) -> Expectation:
    """Return what is expected of 40 and 60 psi, with everything that can be asked or with nothing of it."""
    dissolving = Dissolving(1e-10, 0.1, 1.0, 1200.0) if whole else None
    premises = Premises(SEA_LEVEL.kpa, psi(0.0), size_mm=0.2 if whole else float("nan"), dissolving=dissolving)
    limits = Limits(psi(rated), psi(rated), psi(80.0)) if whole else Limits()
    return expect(Question((psi(40.0), psi(60.0)), premises, SEA_LEVEL, limits, Assumed() if whole else None))


@pytest.mark.parametrize(("whole", "rated"), [(True, 70.0), (True, 50.0), (False, 70.0)])
def test_the_record_keeps_to_its_schema(whole: bool, rated: float) -> None:  # noqa: FBT001
    schema = schema_of("expect")
    Draft202012Validator.check_schema(schema)
    record = json.loads(expectation_json(found(whole=whole, rated=rated), version="0.1.0"))
    assert [error.message for error in Draft202012Validator(schema).iter_errors(record)] == []
    assert all(tuple(row) == COLUMNS for row in record["rows"])


def test_a_field_that_the_schema_does_not_know_is_refused() -> None:
    record = json.loads(expectation_json(found(whole=True), version="0.1.0"))
    record["plan"]["when"] = "today"
    assert not Draft202012Validator(schema_of("expect")).is_valid(record)


def test_the_schema_describes_every_field_with_its_unit() -> None:
    units = {"_mm": "mm", "_kpa": "kPa", "_psig": "psi", "_c": "Celsius", "_n_per_m": "N/m", "_m2_s": "m2/s"}
    fields = list(parts_of(schema_of("expect")))
    assert len(fields) > 50
    for name, field in fields:
        assert field["description"], name
        for ending, word in units.items():
            if name.endswith(ending) and name != "median_mm":
                assert word in field["description"] or "null with" in field["description"], name
