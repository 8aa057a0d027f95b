"""Inspected pieces and a piece that came back, on disk."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from bubblegrade.grading.regrowth import compare
from bubblegrade.grading_run import Casting, Request
from bubblegrade.inspection.batch import Piece, Side, decide
from bubblegrade.inspection.inspected import Inspected
from bubblegrade.inspection.judging import judge
from bubblegrade.inspection.mould import MouldMark
from bubblegrade.inspection.seen import Seen
from bubblegrade.quality.sampling import sampling_plan
from bubblegrade.results import regrowth
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.inspect import COLUMNS, Inspection, inspect_json, write_inspection
from bubblegrade.results.run import NotGraded
from bubblegrade.runs.limits_file import read_limits
from bubblegrade.settings import Settings
from tests.schemas import parts_of, schema_of

LIMITS = """
name = "test"
[zones.face]
shape = "box"
along = [0.0, 0.3]
across = [0.0, 1.0]
largest = "0.6mm"
cluster_within = "1mm"
[zones.rest]
shape = "all"
count = 9
"""


@pytest.fixture(name="found")
def _found(known_casting: Callable[..., Casting]) -> Inspection:
    casting = known_casting()
    inside = np.zeros((200, 300), bool)
    inside[20:181, 20:281] = True
    seen = Seen(1, inside, inside, inside & False)
    limits = read_limits(LIMITS, name="test")
    nothing = casting.voids[:0]
    clean = known_casting(photo="b.jpg", voids=nothing, set_aside=nothing)
    photographs = [
        Inspected(casting, "jig", "left", judge(casting, seen, limits)),
        Inspected(clean, "b", "", judge(clean, seen, limits)),
    ]
    pieces = tuple(
        Piece(one.piece, (Side(one.casting.photo, one.side, one.judgement.verdict, ()),)) for one in photographs
    )
    return Inspection(
        version="0.1.0",
        request=Request(width_mm=44.0),
        settings=Settings(index=1.56),
        blank_sha256="a" * 64,
        limits=limits,
        inspected=tuple(photographs),
        pieces=pieces,
        mould_marks=(MouldMark("", 0.3, 0.4, 0.02, ("a", "b", "c"), 4, 1e-4),),
        batch=decide(sampling_plan(120, 1.0), pieces),
        not_graded=(NotGraded("c.jpg", "c.jpg is empty (0 bytes): copy it again"),),
    )


def test_inspect_json_keeps_to_its_schema_which_describes_every_field(found: Inspection) -> None:
    schema = schema_of("inspect")
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(json.loads(inspect_json(found)))
    assert [name for name, field in parts_of(schema) if not field.get("description")] == []


def test_inspect_json_says_how_it_was_graded_as_run_json_does(found: Inspection) -> None:
    record = json.loads(inspect_json(found))
    assert record["settings"]["index"] == 1.56
    assert (record["request"]["width_mm"], record["request"]["blank_sha256"]) == (44.0, "a" * 64)


@pytest.mark.parametrize("other", ["inspect", "regrowth"])
def test_what_was_asked_is_described_alike_in_every_record(other: str) -> None:
    one, same = schema_of("run"), schema_of(other)
    for part in ("request", "settings"):
        assert one["properties"][part] == same["properties"][part]
        assert part in same["required"]


def test_inspect_json_says_what_is_wrong_and_where(found: Inspection) -> None:
    record = json.loads(inspect_json(found, files=["b", "a", "a"]))
    first = record["photographs"][0]
    assert first["verdict"] == record["pieces"][0]["verdict"] == "look again"  # a rectangle tells no head
    assert first["lie"]["ways_tried"] == 4
    assert [zone["zone"] for zone in first["zones"]] == ["face", "rest"]
    assert first["faults"][0]["rule"] == "frame"
    assert first["faults"][1]["diameter_mm"] == [1.5]
    assert record["files"] == ["a", "b"]
    assert record["batch"]["draw"] == 13


def test_the_table_has_a_row_a_fault_and_one_for_what_has_none(found: Inspection, tmp_path: Path) -> None:
    with ResultFolder.prepare(tmp_path, replace=False, record="inspect.json") as folder:
        text = write_inspection(folder, found)
    assert (tmp_path / "inspect.json").read_text("utf-8") == text
    rows = list(csv.DictReader(io.StringIO((tmp_path / "inspect.csv").read_text("utf-8"))))
    assert tuple(rows[0]) == COLUMNS
    assert [row["piece"] for row in rows] == ["jig", "jig", "b"]
    assert (rows[1]["rule"], rows[1]["x_px"], rows[1]["diameter_mm"]) == ("largest", "230", "1.5")
    assert (rows[2]["photo_verdict"], rows[2]["rule"]) == ("pass", "")


@pytest.mark.parametrize("same", [True, False])
def test_regrowth_json_keeps_to_its_schema(
    known_casting: Callable[..., Casting], tmp_path: Path, *, same: bool
) -> None:
    earlier, later = (
        known_casting(),
        known_casting(photo="later.jpg", voids=known_casting().voids[: None if same else 0]),
    )
    found = regrowth.CameBack(
        "0.1.0", Request(), Settings(index=1.56), None, earlier, later, compare(earlier, later), ("a.jpg counts.",),
        ("regrowth.jpg",),
    )  # fmt: skip
    with ResultFolder.prepare(tmp_path, replace=False, record=regrowth.RECORD_FILE) as folder:
        record = json.loads(regrowth.write_regrowth(folder, found))
    schema = schema_of("regrowth")
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(record)
    assert [name for name, field in parts_of(schema) if not field.get("description")] == []
    assert record["verdict"] == "cannot be told"  # three voids are too few
    assert record["files"] == ["regrowth.jpg", "regrowth.json"]
