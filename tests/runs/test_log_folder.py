"""Results on disk find the castings they belong to."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.records.log import Log, Photo, open_log
from bubblegrade.runs.log_folder import Ties, photo_of, results_of, ties_by_photograph, ties_to

A, B = "a" * 64, "b" * 64


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with the records of a trial of two cups, and their gradings."""
    castings = [{"photo": "a.jpg", "sha256": A}, {"photo": "b.jpg", "sha256": B}]
    (tmp_path / "run.json").write_text(json.dumps({"castings": castings}), "utf-8")
    trial = {"verdict": "as Boyle", "exponent": 0.33, "cups": [{"sha256": A}, {"sha256": B}]}
    (tmp_path / "trial.json").write_text(json.dumps(trial), "utf-8")
    return tmp_path


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with open_log(tmp_path / "castings.sqlite", create=True, clock=lambda: 0.0) as opened:
        opened.add({"resin": "a"}, photos=[Photo("a.jpg", A)])
        opened.add({"resin": "b"})
        yield opened


def pairs(ties: Ties) -> list[tuple[int, str, str | None]]:
    return [(number, result.kind, result.photo) for number, result in ties.tied]


def test_photographs_find_their_castings_by_their_bytes(log: Log, folder: Path) -> None:
    ties = ties_by_photograph(log.connection, results_of(folder))
    assert pairs(ties) == [(1, "grade", "a.jpg"), (1, "shrink", None)]
    assert [result.photo for result in ties.left] == ["b.jpg"]


def test_a_casting_that_is_named_takes_its_own_photographs_or_those_named(log: Log, folder: Path) -> None:
    found = results_of(folder)
    assert pairs(ties_to(log.connection, 1, found, [])) == [(1, "grade", "a.jpg"), (1, "shrink", None)]
    assert pairs(ties_to(log.connection, 2, found, ["b.jpg"])) == [(2, "grade", "b.jpg"), (2, "shrink", None)]
    assert pairs(ties_to(log.connection, 2, found[:1], [])) == [(2, "grade", "a.jpg")]
    with pytest.raises(InputError, match="has 2 photographs: say with --photo which is of casting 2"):
        ties_to(log.connection, 2, found, [])
    with pytest.raises(InputError, match=r"--photo c\.jpg is not in the result: use one of a\.jpg, b\.jpg"):
        ties_to(log.connection, 2, found, ["c.jpg"])
    with pytest.raises(InputError, match="casting 9 is not in the log"):
        ties_to(log.connection, 9, found, [])


def test_another_photograph_of_the_same_name_is_not_taken_for_the_castings_own(log: Log, tmp_path: Path) -> None:
    for digest in (A, B):
        (tmp_path / digest).mkdir()
        record = {"castings": [{"photo": "a.jpg", "sha256": digest}]}
        (tmp_path / digest / "run.json").write_text(json.dumps(record), "utf-8")
    found = [result for digest in (A, B) for result in results_of(tmp_path / digest)]
    assert [result.photo_sha256 for _, result in ties_to(log.connection, 1, found, []).tied] == [A]


@pytest.mark.parametrize("number", [None, 1])
def test_the_other_side_of_a_piece_is_of_its_casting_too(log: Log, tmp_path: Path, number: int | None) -> None:
    sides = [("a.jpg", A, "jig 1", "pass"), ("back.jpg", "c" * 64, "jig 1", "fail"), ("b.jpg", B, "jig 2", "pass")]
    shown = [dict(zip(("photo", "sha256", "piece", "verdict"), side, strict=True)) for side in sides]
    (tmp_path / "inspect.json").write_text(json.dumps({"photographs": shown}), "utf-8")
    found = results_of(tmp_path / "inspect.json")
    ties = ties_by_photograph(log.connection, found) if number is None else ties_to(log.connection, number, found, [])
    assert pairs(ties) == [(1, "inspect", "a.jpg"), (1, "inspect", "back.jpg")]


def test_a_record_may_be_named_itself_and_what_is_none_is_said(folder: Path) -> None:
    assert [result.kind for result in results_of(folder / "trial.json")] == ["shrink"]
    with pytest.raises(InputError, match=r"holds no result: name a folder with one of run\.json"):
        results_of(folder / "voids.csv")


def test_a_photograph_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(b"abc")
    # SHA-256 of "abc", FIPS 180-2 appendix B.1
    assert photo_of(tmp_path / "a.jpg").sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    with pytest.raises(InputError, match="cannot be read"):
        photo_of(tmp_path / "none.jpg")
