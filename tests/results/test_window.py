"""The resin's window on disk keeps to its schema."""

from __future__ import annotations

import json
import math

import pytest
from jsonschema import Draft202012Validator

from bubblegrade.pressure.prediction import Dissolving
from bubblegrade.pressure.resin import GelPoint
from bubblegrade.pressure.window import Flow, Steps, WindowQuestion, resin_window
from bubblegrade.results.window import COLUMNS, row_record, window_json
from bubblegrade.units import PSI_KPA, GaugePressure
from tests.schemas import schema_of

FULL = WindowQuestion(
    points=(GelPoint(298.15, 1200.0),),
    room_k=295.15,
    steps=Steps(180.0, 120.0),
    pressures=(GaugePressure(60.0 * PSI_KPA),),
    atmosphere_kpa=101.325,
    visible_mm=0.1,
    flow=Flow(0.6, 298.15, 100.0, 12.0),
    dissolving=Dissolving(1e-11, 0.02, 1.0, math.nan),
)
BARE = WindowQuestion((GelPoint(298.15, 1200.0),), 295.15, Steps(180.0), (), 101.325, 0.1)


@pytest.mark.parametrize("asked", [FULL, BARE], ids=["full", "bare"])
def test_window_json_keeps_to_its_schema(asked: WindowQuestion) -> None:
    schema = schema_of("window")
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(json.loads(window_json(resin_window(asked), version="1")))


def test_the_same_question_gives_the_same_bytes() -> None:
    assert window_json(resin_window(FULL), version="1") == window_json(resin_window(FULL), version="1")


def test_a_row_has_every_column() -> None:
    for row in resin_window(FULL).rows:
        assert tuple(row_record(row)) == COLUMNS
