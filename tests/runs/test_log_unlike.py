"""Castings that were graded unlike one another are said to be, where the measure hangs on it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bubblegrade.quality.factors import Factor, rate_differences
from bubblegrade.records.dump import tables_in, tables_out
from bubblegrade.records.log import Log, open_log
from bubblegrade.records.reading import Chosen, whole
from bubblegrade.records.tied import results_in
from bubblegrade.runs.log_charts import factors, measured
from bubblegrade.runs.log_unlike import unlike_gradings, unlike_results

USUAL: dict[str, Any] = {"index": 1.5, "accept": 0.5, "version": "0.1.0", "whole": False, "mm_per_px": 0.04}


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with open_log(tmp_path / "castings.sqlite", create=True, clock=lambda: 0.0) as opened:
        yield opened


def cast(log: Log, *, resin: str | None = "Clear One", mould: str = "m", kind: str = "grade", **said: Any) -> int:
    """Enter a casting with a record that was graded like this."""
    how = {**USUAL, **said}
    number = log.add({"mould": mould, **({"resin": resin} if resin else {})})
    casting = {
        "photo": "a.jpg", "sha256": f"{number:064x}", "judged": {"area_cm2": {"value": 15.0}}, "verdict": "pass",
        "counts": {"voids": {"value": how.get("voids", 50 + number % 2)}}, "smallest_countable_mm": 0.25,
        "clarity": {"score": how.get("clarity", 31.0)},
    }  # fmt: skip
    request = {name: how.get(name) for name in ("mm_per_px", "width_mm", "card", "disc", "span", "whole")}
    settings = {name: how[name] for name in ("index", "accept")}
    part = "castings" if kind == "grade" else "photographs"
    record = {"version": how["version"], "request": request, "settings": settings, part: [casting]}
    log.tie(number, results_in(kind, json.dumps(record).encode(), file="run.json"))
    return number


def trial(log: Log, **said: Any) -> None:
    """Enter a casting with a trial whose cups were graded like this."""
    how = {**USUAL, **said}
    number = log.add({"mould": "m"})
    request = {name: how.get(name) for name in ("mm_per_px", "width_mm", "whole")}
    graded = {"request": request, "settings": {name: how[name] for name in ("index", "accept")}}
    record = {"version": how["version"], "graded": graded, "settings": [], "exponent": 0.33, "cups": [], "n": number}
    log.tie(number, results_in("shrink", json.dumps(record).encode(), file="trial.json"))


def remarks(log: Log, measure: str = "voids", per: str = "cm2") -> tuple[str, ...]:
    return measured(log.connection, measure, Chosen(), per=per).remarks


def test_castings_that_were_graded_alike_need_no_word(log: Log) -> None:
    for _ in range(3):
        cast(log)
    assert remarks(log) == remarks(log, "clarity") == ()


@pytest.mark.parametrize("measure", ["voids", "clarity"])
@pytest.mark.parametrize(
    ("unlike", "said"),
    [
        (
            {"index": 1.56},
            "graded with a refractive index of 1.56, the others with a refractive index of 1.5: castings",
        ),
        ({"whole": True}, "graded with the whole lit frame, the others with an outline: a frame takes in what is"),
        ({"accept": 0.9}, "graded with accept = 0.9 in the settings, the others with accept = 0.5 in the settings"),
        ({"version": "0.2.0"}, "graded with bubblegrade 0.2, the others with bubblegrade 0.1: versions may"),
    ],
)
def test_what_counts_and_clarity_hang_on_is_said(log: Log, measure: str, unlike: dict[str, Any], said: str) -> None:
    for how in ({}, unlike, {}, {}, unlike):
        cast(log, **how)
    (remark,) = remarks(log, measure)
    assert remark.startswith(f"castings 2, 5 were {said}")
    assert remark.endswith("grade them alike and tie them again")


def test_kinds_of_scale_matter_to_counts_by_area_and_volume_alone(log: Log) -> None:
    for how in ({}, {"mm_per_px": None, "width_mm": 44.0}, {}):
        cast(log, **how)
    (remark,) = remarks(log)
    assert remark.startswith("casting 2 was graded with a scale from the widest span, the others with a stated scale: ")
    assert remarks(log, per="casting") == remarks(log, "clarity") == ()


def test_each_resin_may_have_its_own_refractive_index(log: Log) -> None:
    for resin, index in (("One", 1.5), ("Two", 1.56), ("one ", 1.5), ("Two", 1.56)):
        cast(log, resin=resin, index=index)
    assert remarks(log) == ()
    cast(log, resin="Two", index=1.5)
    (remark,) = remarks(log)
    assert remark.startswith(
        "casting 5 was graded with a refractive index of 1.5, castings 2, 4 were graded with a refractive index of 1.56"
    )


def test_a_casting_whose_resin_is_unknown_may_be_of_any(log: Log) -> None:
    cast(log, resin="One", index=1.5)
    cast(log, resin=None, index=1.56)
    (remark,) = remarks(log)
    assert "was graded with a refractive index of" in remark


def test_what_was_changed_along_with_the_way_of_grading_cannot_be_told_apart(log: Log) -> None:
    for turn in range(6):
        cast(log, mould=f"m{turn % 2}", whole=bool(turn % 2))
    _, (mould,) = factors(log.connection, "voids", Chosen(), ["mould"], "cm2")
    assert mould.together_with == ("whole frame judged",)


def moulds_by_scale(log: Log, *voids: int, **other: Any) -> Factor:
    """Return what two moulds did to voids of this many in each of three castings, of which one has another scale."""
    for turn in range(6):
        scale = {"mm_per_px": None, "width_mm": 44.0, **other} if turn % 2 else {}
        cast(log, mould=f"m{turn % 2}", voids=voids[turn % 2] + turn, **scale)
    return factors(log.connection, "voids", Chosen(), ["mould"], "cm2")[1][0]


@pytest.mark.parametrize(
    ("voids", "word"),
    # 1200 voids against 1410 or 1440 stand out by themselves, and a scale that is 10 % off makes 23 % of it
    [
        ((400, 470), "not distinguishable"),
        ((480, 400), "not distinguishable"),
        ((400, 800), "less"),
        ((800, 400), "more"),
    ],
)
def test_a_difference_is_told_beyond_what_kinds_of_scale_can_make(log: Log, voids: tuple[int, int], word: str) -> None:
    mould = moulds_by_scale(log, *voids)
    assert [each.word for each in mould.differences] == [word]
    assert ("kind of scale" in mould.together_with) == (word == "not distinguishable")
    assert any("with a scale from the widest span" in said for said in remarks(log))


def test_the_interval_holds_what_kinds_of_scale_can_make(log: Log) -> None:
    (told,) = moulds_by_scale(log, 400, 800).differences
    (alone,) = rate_differences([400, 402, 404, 801, 803, 805], [15.0] * 6, {"mould": [*3 * ["m0"], *3 * ["m1"]]})
    (own,) = alone.differences
    assert told.effect.value == pytest.approx(own.effect.value)
    # a length 10 % short makes an area 19 % small, and counts in it 1 / 0.81 times as many
    assert (told.effect.low, told.effect.high) == pytest.approx((0.81 * own.effect.low, own.effect.high / 0.81))


@pytest.mark.parametrize("clarity", [(31.0, 61.0), (61.0, 31.0)])
def test_no_clarity_is_told_apart_where_versions_were_changed_along(log: Log, clarity: tuple[float, float]) -> None:
    for turn in range(6):
        other = turn % 2
        cast(log, mould=f"m{other}", clarity=clarity[other] + turn / 10, version=f"0.{other}.0")
    _, (mould,) = factors(log.connection, "clarity", Chosen(), ["mould"], "cm2")
    assert [each.word for each in mould.differences] == ["not distinguishable"]
    assert mould.together_with == ("version of bubblegrade",)


def test_another_version_along_with_another_scale_may_make_any_difference(log: Log) -> None:
    mould = moulds_by_scale(log, 400, 4000, version="0.2.0")
    assert [each.word for each in mould.differences] == ["not distinguishable"]


def test_versions_that_measure_alike_are_one(log: Log) -> None:
    for turn in range(6):
        cast(log, mould=f"m{turn % 2}", voids=40 if turn % 2 else 80, version=f"0.1.{turn % 2}")
    assert remarks(log) == remarks(log, "clarity") == ()
    _, (mould,) = factors(log.connection, "voids", Chosen(), ["mould"], "cm2")
    assert (mould.together_with, [each.word for each in mould.differences]) == ((), ["more"])


@pytest.mark.parametrize("unlike", [{"whole": True}, {"accept": 0.9}, {"version": "0.2.0"}])
def test_trials_that_were_graded_unlike_are_said_to_be(log: Log, unlike: dict[str, Any]) -> None:
    for how in ({}, unlike, {"index": 1.56, "mm_per_px": None, "width_mm": 44.0}):
        trial(log, **how)
    (remark,) = remarks(log, "shrinkage")
    assert remark.startswith("casting 2 was graded with ")


def test_a_hold_test_by_another_version_makes_no_grading_unlike(log: Log) -> None:
    number = cast(log, version="0.1.0")
    log.tie(number, results_in("hold", json.dumps({"version": "0.2.0", "verdict": "holds"}).encode(), file="hold.json"))
    assert unlike_results(whole(log.connection, number).results) == []


def test_of_many_castings_some_are_named(log: Log) -> None:
    for turn in range(20):
        cast(log, whole=turn % 2 == 0, version="0.1.0")
    cast(log)
    (remark,) = remarks(log)
    assert remark.startswith("castings 1, 3, 5, 7 and 6 more were graded with the whole lit frame")


def how_graded(connection: sqlite3.Connection) -> list[tuple[Any, ...]]:
    query = "SELECT kind, version, resin_index, accept_share, whole, scale_from FROM result ORDER BY id"
    return [tuple(row) for row in connection.execute(query)]


@pytest.mark.parametrize("kind", ["grade", "inspect"])
def test_a_grading_and_an_inspection_are_known_by_how_they_were_made(log: Log, kind: str) -> None:
    cast(log, kind=kind, index=1.56, whole=True, mm_per_px=None, card={"printed_mm": None})
    assert how_graded(log.connection) == [(kind, "0.1.0", 1.56, 0.5, 1, "card")]


def test_results_of_one_casting_that_were_made_unlike_are_said_to_be(log: Log) -> None:
    number = cast(log, index=1.5)
    other = cast(log, kind="inspect", index=1.56)
    assert unlike_results(whole(log.connection, number).results) == []
    log.connection.execute("UPDATE result SET casting_id = ? WHERE casting_id = ?", (number, other))
    (said,) = unlike_results(whole(log.connection, number).results)
    assert said.startswith(
        "Its results were made unlike, grade with a refractive index of 1.5, inspect with a refractive index of 1.56: "
    )


def test_an_export_from_before_tells_how_castings_were_graded_by_their_records(log: Log, tmp_path: Path) -> None:
    cast(log, index=1.56)
    new = ("version", "resin_index", "accept_share", "whole", "scale_from")
    tables = {}
    for name, (columns, rows) in tables_out(log.connection):
        kept = [at for at, column in enumerate(columns) if column not in new or name != "result"]
        tables[name] = ([columns[at] for at in kept], [tuple(row[at] for at in kept) for row in rows])
    with open_log(tmp_path / "new.sqlite", create=True) as read:
        assert tables_in(read.connection, tables) == 1
        assert how_graded(read.connection) == how_graded(log.connection)


def test_a_hundred_thousand_castings_are_each_looked_at_once() -> None:
    """Each looked at against all others would take the better part of an hour."""
    many = 100_000
    columns = {name: [value] * many for name, value in (("version", "0.1.0"), ("whole", 0), ("scale_from", "width"))}
    columns |= {"number": range(many), "accept_share": [0.5] * many, "resin": ["Clear One", "Slow Two"] * (many // 2)}
    alike = {**columns, "resin_index": [1.5, 1.55] * (many // 2)}
    assert unlike_gradings(alike, "voids", per="cm2") == []
    (said,) = unlike_gradings({**alike, "resin_index": [1.5, 1.55] * (many // 2 - 1) + [1.5, 1.5]}, "voids", per="cm2")
    assert said.startswith("casting 99999 was graded with a refractive index of 1.5, castings 1, 3, 5, 7 and")
