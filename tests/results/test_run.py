"""A whole run on disk."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from bubblegrade.grading_run import Casting, Request
from bubblegrade.results.entry import entry_of
from bubblegrade.results.folder import ResultFolder
from bubblegrade.results.run import NotGraded, Run, write_run
from bubblegrade.settings import Settings
from tests.schemas import parts_of, schema_of

MakeCasting = Callable[..., Casting]


def run_of(*castings: Casting, **changes: Any) -> Run:
    """Return a run of `castings`."""
    facts: dict[str, Any] = {
        "version": "0.1.0",
        "request": Request(mm_per_px=0.05, thickness_mm=10.0),
        "settings": Settings(),
        "blank_sha256": None,
        "entries": tuple(entry_of(casting) for casting in castings),
        "not_graded": (NotGraded("b.jpg", "b.jpg is empty (0 bytes): copy the photograph again"),),
        "pictures": ("cup-marked.jpg",),
    }
    return Run(**{**facts, **changes})


def written(folder: Path, run: Run) -> dict[str, Any]:
    """Write a run and return what its run.json holds."""
    with ResultFolder.prepare(folder, replace=True) as out:
        write_run(out, run)
    record: dict[str, Any] = json.loads((folder / "run.json").read_text("utf-8"))
    return record


def test_run_json_keeps_to_its_schema(known_casting: MakeCasting, empty_casting: MakeCasting, tmp_path: Path) -> None:
    schema = schema_of("run")
    Draft202012Validator.check_schema(schema)
    spanned = known_casting(span_px=((20.0, 100.0), (280.0, 100.0)), unfit=("cut",))
    record = written(tmp_path, run_of(known_casting(), empty_casting(), spanned, blank_sha256="a" * 64))
    assert [error.message for error in Draft202012Validator(schema).iter_errors(record)] == []


def test_the_schema_describes_every_field() -> None:
    fields = list(parts_of(schema_of("run")))
    assert len(fields) > 100
    assert [name for name, field in fields if not field.get("description")] == []


def test_the_schema_names_the_unit_that_a_name_ends_in() -> None:
    # an estimate's description stands beside its reference
    units = {
        "_px": ("px", "pixel"),
        "_mm": ("mm", "same in mm"),
        "_cm2": ("cm2",),
        "_cm3": ("cm3",),
        "_rad": ("radians",),
    }
    for name, field in parts_of(schema_of("run")):
        for ending, words in units.items():
            if name.endswith(ending):
                assert any(word in field["description"] for word in words), name


def test_a_field_that_the_schema_does_not_know_is_refused(known_casting: MakeCasting, tmp_path: Path) -> None:
    record = written(tmp_path, run_of(known_casting()))
    record["castings"][0]["when"] = "today"
    assert not Draft202012Validator(schema_of("run")).is_valid(record)


def test_files_lists_everything_written(known_casting: MakeCasting, tmp_path: Path) -> None:
    record = written(tmp_path, run_of(known_casting(), pictures=()))
    assert record["files"] == ["castings.csv", "run.json", "set-aside.csv", "voids.csv"]
    assert sorted(place.name for place in tmp_path.iterdir()) == record["files"]


def test_the_same_run_gives_the_same_bytes(known_casting: MakeCasting, tmp_path: Path) -> None:
    for name in ("one", "other"):
        written(tmp_path / name, run_of(known_casting()))
    for place in (tmp_path / "one").iterdir():
        assert place.read_bytes() == (tmp_path / "other" / place.name).read_bytes()


def test_tables_and_run_json_agree(known_casting: MakeCasting, tmp_path: Path) -> None:
    casting = written(tmp_path, run_of(known_casting()))["castings"][0]
    with (tmp_path / "voids.csv").open(encoding="utf-8", newline="") as file:
        voids = list(csv.DictReader(file))
    with (tmp_path / "castings.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert [float(void["diameter_mm"]) for void in voids] == casting["voids"]["diameter_mm"]
    assert float(row["clarity_low"]) == casting["clarity"]["low"]
    assert float(row["count_per_cm3_high"]) == casting["counts"]["per_cm3"]["high"]
    assert float(row["d_4_3_mm"]) == casting["sizes_mm"]["d_4_3"]["value"]


def stopped(folder: ResultFolder) -> None:
    """Write one picture into a folder, then stop as Ctrl-C does."""
    with folder as out:
        out.write_text("cups/a-marked.jpg", "")
        raise KeyboardInterrupt


def test_a_failed_run_takes_back_what_it_wrote(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    with pytest.raises(KeyboardInterrupt):
        stopped(ResultFolder.prepare(folder, replace=False))
    assert not folder.exists()


def test_a_failed_run_leaves_other_files_in_its_folder(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(KeyboardInterrupt):
        stopped(ResultFolder.prepare(tmp_path, replace=False))
    assert [place.name for place in tmp_path.iterdir()] == ["notes.txt"]


def test_a_resumed_run_keeps_what_it_wrote(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt):
        stopped(ResultFolder.prepare(tmp_path, replace=False, resume=True))
    assert (tmp_path / "cups" / "a-marked.jpg").exists()
