"""Checked photographs on disk."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator

from bubblegrade.drawn import spoiled
from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.fitness.check import Checked
from bubblegrade.fitness.checks import TESTS, Said, check_photo
from bubblegrade.grading_run import Casting
from bubblegrade.photo.reading import Photo
from bubblegrade.results.casting_row import casting_row
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.photocheck import COLUMNS, NotRead, PhotoCheck, photocheck_json, write_photocheck
from tests.schemas import parts_of, schema_of


@pytest.fixture(name="found", scope="module")
def _found() -> PhotoCheck:
    """Return a fit photograph, an unfit one and one that could not be read."""
    said = Said(mm_per_px=0.05, smallest_mm=0.5)
    fit = draw(Scene(width_px=400, height_px=400, casting_px=150.0)).picture
    checked = [
        Checked(name, "0" * 64, (400, 400), check_photo(Photo(name, picture, "0" * 64), said))
        for name, picture in (("a.png", fit), ("b.png", spoiled.exposed(fit, 2.0)))
    ]
    return PhotoCheck("0.1.0", said, tuple(checked), (NotRead("c.jpg", "c.jpg is empty (0 bytes): copy it again"),))


def test_photocheck_json_keeps_to_its_schema(found: PhotoCheck) -> None:
    schema = schema_of("photocheck")
    Draft202012Validator.check_schema(schema)
    record = json.loads(photocheck_json(found))
    assert [error.message for error in Draft202012Validator(schema).iter_errors(record)] == []
    assert [photo["verdict"] for photo in record["photographs"]] == ["fit", "unfit"]


def test_the_schema_describes_every_field() -> None:
    fields = list(parts_of(schema_of("photocheck")))
    assert len(fields) > 30
    assert [name for name, field in fields if not field.get("description")] == []


def test_the_table_has_a_row_a_check(found: PhotoCheck, tmp_path: Path) -> None:
    with ResultFolder.prepare(tmp_path, replace=False, record="photocheck.json") as folder:
        write_photocheck(folder, found)
    rows = list(csv.DictReader(io.StringIO((tmp_path / "photocheck.csv").read_text("utf-8"))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == 2 * len(TESTS)
    clipped = next(row for row in rows if (row["photo"], row["check"]) == ("b.png", "clipped_casting"))
    assert (clipped["verdict"], clipped["unfit_limit"], clipped["place"]) == ("unfit", "0.1", "region")
    assert float(clipped["right_px"]) > float(clipped["left_px"])


def test_a_casting_says_the_value_of_every_check_at_the_end_of_its_row(
    known_casting: Callable[..., Casting], found: PhotoCheck
) -> None:
    row = casting_row(known_casting(fitness=found.checked[0].fitness))
    names = [name for name in row if name.startswith("check_")]
    assert [*row][-len(names) - 1 :] == ["fitness", *names]
    assert len(names) == len(TESTS)
    assert row["fitness"] == "fit"
    assert row["check_pixels_px"] == pytest.approx(10.0)
    assert math.isnan(row["check_perspective_share"])  # type: ignore[arg-type]


def test_the_same_photographs_give_the_same_bytes(found: PhotoCheck) -> None:
    assert photocheck_json(found) == photocheck_json(found)
    assert np.all([len(one.fitness.checks) == len(TESTS) for one in found.checked])
