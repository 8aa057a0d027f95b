"""Records of every kind give the numbers that lists and charts need, and what they lack is unknown."""

from __future__ import annotations

import hashlib
import json

import pytest

from bubblegrade.errors import InputError
from bubblegrade.records.tied import KINDS, results_in

CASTING = {
    "photo": "cups/a.jpg",
    "sha256": "a" * 64,
    "unfit": [],
    "judged": {"area_px": 6.0e5, "area_cm2": {"value": 14.8, "low": 13.7, "high": 16.0}, "volume_cm3": {"value": None}},
    "counts": {"voids": {"value": 57, "low": 43.2, "high": 73.9}},
    "smallest_countable_px": 5.0,
    "smallest_countable_mm": None,
    "clarity": {"score": 31.1, "low": 19.8, "high": 47.7, "word": "bubbly"},
}


def text(record: object) -> bytes:
    return json.dumps(record).encode()


def test_a_grading_gives_a_result_for_each_photograph() -> None:
    other = {**CASTING, "photo": "b.jpg", "sha256": "b" * 64, "unfit": ["too bright"], "clarity": {"word": ""}}
    record = text({"format": 1, "version": "0.1.0", "castings": [CASTING, other], "files": []})
    first, second = results_in("grade", record, file="run.json")
    assert (first.photo, first.photo_sha256, first.verdict, first.unfit) == ("cups/a.jpg", "a" * 64, "bubbly", False)
    assert first.numbers == {
        "voids": 57, "voids_low": 43.2, "voids_high": 73.9, "judged_area_px": 6.0e5, "judged_area_cm2": 14.8,
        "judged_volume_cm3": None, "smallest_px": 5.0, "smallest_mm": None, "clarity": 31.1, "clarity_low": 19.8,
        "clarity_high": 47.7,
    }  # fmt: skip
    assert first.file_sha256 == second.file_sha256 == hashlib.sha256(record).hexdigest()
    assert json.loads(first.text) == {"format": 1, "version": "0.1.0", "casting": CASTING}
    assert (second.verdict, second.unfit, second.numbers["clarity"]) == (None, True, None)


def test_a_trial_is_one_result_that_rests_on_all_its_cups() -> None:
    cups = [{"sha256": "a" * 64}, {"sha256": "b" * 64}]
    record = {"verdict": "as Boyle", "exponent": 0.33, "exponent_low": 0.3, "exponent_high": 0.36, "cups": cups}
    (found,) = results_in("shrink", text(record), file="trial.json")
    assert found.numbers == {"shrinkage": 0.33, "shrinkage_low": 0.3, "shrinkage_high": 0.36}
    assert (found.verdict, found.photo, found.photographs) == ("as Boyle", None, ("a" * 64, "b" * 64))
    assert json.loads(found.text) == record


def test_a_comparison_of_two_photographs_rests_on_both() -> None:
    record = {"verdict": "grew", "earlier": {"sha256": "a" * 64}, "later": {"sha256": "b" * 64}}
    (found,) = results_in("regrowth", text(record), file="regrowth.json")
    assert (found.verdict, found.photographs) == ("grew", ("a" * 64, "b" * 64))


@pytest.mark.parametrize("kind", ["hold", "inspect"])
def test_any_other_record_gives_its_verdict(kind: str) -> None:
    (found,) = results_in(kind, text({"verdict": "holds"}), file=KINDS[kind].record)
    assert (found.kind, found.verdict, found.photographs) == (kind, "holds", ())


def test_an_inspection_of_several_photographs_gives_a_verdict_for_each() -> None:
    listed = [{"photo": "a.jpg", "sha256": "a" * 64, "verdict": "fail"}, {"photo": "b.jpg", "sha256": "b" * 64}]
    found = results_in("inspect", text({"verdict": "look again", "castings": listed}), file="inspect.json")
    assert [(each.photo, each.verdict) for each in found] == [("a.jpg", "fail"), ("b.jpg", "look again")]


@pytest.mark.parametrize(
    ("kind", "record", "said"),
    [
        ("grade", b"{", "is no JSON"),
        ("grade", b"[]", "is no record of a result"),
        ("grade", b'{"castings": []}', "holds no result"),
        ("grade", b'{"castings": 3}', "holds no result"),
    ],
)
def test_what_is_no_record_is_refused(kind: str, record: bytes, said: str) -> None:
    with pytest.raises(InputError, match=said):
        results_in(kind, record, file="run.json")
