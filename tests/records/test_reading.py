"""Castings are found by what is known of them, in the order they were cast, and by the indexes."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bubblegrade.errors import InputError
from bubblegrade.records.log import Log
from bubblegrade.records.reading import (
    CHOSEN_BY,
    Chosen,
    causes,
    count,
    graded_unlike,
    list_query,
    listed,
    series,
    series_query,
)
from bubblegrade.records.tied import Result


@pytest.fixture
def three(log: Log) -> Log:
    """Return a log of three castings, entered in another order than cast."""
    log.add({"date": "2026-02-03", "mould": "Lure 3", "operator": "Ines"})
    log.add({"date": "2026-02-01", "mould": "lure 3", "operator": "Per"})
    log.add({"date": "2026-02-02 10:00", "mould": "Scale 1"})
    return log


def numbers(log: Log, chosen: Chosen) -> list[int]:
    return [row["id"] for row in listed(log.connection, chosen)]


def test_castings_stand_in_the_order_they_were_cast(three: Log) -> None:
    assert numbers(three, Chosen()) == [2, 3, 1]
    assert numbers(three, Chosen(last=2)) == [3, 1]


def test_they_are_chosen_by_field_and_day_large_letters_or_small(three: Log) -> None:
    assert numbers(three, Chosen({"mould": "LURE 3"})) == [2, 1]
    assert numbers(three, Chosen({"mould": "lure 3", "operator": "per"})) == [2]
    assert numbers(three, Chosen(since="2026-02-02", until="2026-02-02")) == [3]
    assert numbers(three, Chosen(until="2026-02-02 09:59")) == [2]
    assert count(three.connection, Chosen({"mould": "lure 3"}, last=1)) == 2


def test_a_casting_is_of_the_day_that_it_was_where_it_was_cast(log: Log) -> None:
    days = [
        "2026-03-01T20:00-08:00",
        "2026-03-02T05:00+09:00",
        "2026-03-01 23:59",
        "2026-03-02T00:10Z",
        "20260302T01+1400",
    ]
    for day in days:
        log.add({"date": day})
    assert sorted(numbers(log, Chosen(since="2026-03-02"))) == [2, 4, 5]
    assert sorted(numbers(log, Chosen(until="2026-03-01"))) == [1, 3]
    assert numbers(log, Chosen(since="2026-03-01 20:00", until="2026-03-01 20:00")) == [1]
    assert numbers(log, Chosen(since="2026-03-01 21:00", until="2026-03-01")) == [3]
    assert sorted(numbers(log, Chosen(since="2026-03-02T00:00Z"))) == [1, 4]


def test_a_moment_of_one_zone_and_a_day_of_every_clock_make_a_range(log: Log) -> None:
    log.add({"date": "2026-03-01T21:00-08:00"})  # 05:00 in UTC, the next day
    log.add({"date": "2026-03-02T01:00+14:00"})  # 11:00 in UTC, the day before
    assert numbers(log, Chosen(since="2026-03-01T20:00-08:00", until="2026-03-01")) == [1]
    assert numbers(log, Chosen(since="2026-03-02", until="2026-03-01T15:00Z")) == [2]
    with pytest.raises(InputError, match="--until 2026-03-01 lies before --since 2026-03-02T16:00Z"):
        numbers(log, Chosen(since="2026-03-02T16:00Z", until="2026-03-01"))


def test_a_moment_that_is_midnight_somewhere_is_no_whole_day(log: Log) -> None:
    log.add({"date": "2026-03-01T19:00-05:00"})
    log.add({"date": "2026-03-01T20:00-05:00"})
    assert numbers(log, Chosen(until="2026-03-01T19:00-05:00")) == [1]


def test_a_field_without_an_index_and_a_wrong_day_are_refused(three: Log) -> None:
    with pytest.raises(InputError, match="remarks is no field that castings are listed by: use one of batch"):
        listed(three.connection, Chosen({"remarks": "x"}))
    with pytest.raises(InputError, match="--until 2026-03-04 lies before --since 2026-03-05"):
        listed(three.connection, Chosen(since="2026-03-05", until="2026-03-04"))
    with pytest.raises(InputError, match="--until 2026-03-01 lies before --since 2026-03-05"):
        numbers(three, Chosen(since="2026-03-05", until="2026-03-01"))
    with pytest.raises(InputError, match="--since soon is no day"):
        listed(three.connection, Chosen(since="soon"))


def test_the_newest_grading_counts(three: Log, graded: Callable[..., Result]) -> None:
    three.tie(1, [graded(57), graded(40, file="2" * 64)])
    assert [row["voids"] for row in listed(three.connection, Chosen())] == [None, None, 40]
    found = series(three.connection, "grade", ["voids"], Chosen())
    assert (found["number"], found["voids"]) == ((1,), (40,))
    found = series(three.connection, "grade", ["clarity"], Chosen({"mould": "lure 3"}), ["operator"])
    assert (found["operator"], found["clarity"]) == (("Ines",), (None,))
    assert series(three.connection, "shrink", ["shrinkage"], Chosen())["shrinkage"] == ()


def test_ways_of_grading_are_unlike_where_two_are_known(three: Log, graded: Callable[..., Result]) -> None:
    assert graded_unlike(three.connection, "grade") == ()
    for number in (1, 2, 3):
        three.tie(number, [graded(voids=number)])
    three.connection.execute("UPDATE result SET version = '0.1.0', resin_index = NULL WHERE casting_id = 1")
    three.connection.execute("UPDATE result SET version = '0.2.0', resin_index = 1.5 WHERE casting_id > 1")
    assert graded_unlike(three.connection, "grade") == ("version",)
    assert graded_unlike(three.connection, "shrink") == ()


def test_of_several_causes_the_newest_counts_and_a_mere_note_is_none(three: Log) -> None:
    three.note(1, "seen", cause=False)
    three.note(2, "damp", cause=True)
    three.note(2, "very damp", cause=True)
    assert causes(three.connection) == {2: "very damp"}


@pytest.mark.parametrize("name", CHOSEN_BY)
def test_lists_and_charts_by_any_field_use_its_index_and_sort_nothing(log: Log, name: str) -> None:
    chosen = Chosen({name: "x"}, since="2026-01-01", last=30)
    for query, values in (list_query(chosen), series_query("grade", ["voids"], chosen, [])):
        plan = [row["detail"] for row in log.connection.execute(f"EXPLAIN QUERY PLAN {query}", values)]
        assert any(f"INDEX casting_by_{name} " in step for step in plan), plan
        assert not any(step.startswith("SCAN") or "TEMP B-TREE" in step for step in plan), plan


def test_the_newest_of_all_and_whole_charts_go_by_indexes_too(log: Log) -> None:
    for query, values in (
        list_query(Chosen(last=30)),
        list_query(Chosen(since="2026-01-01")),
        series_query("grade", ["voids", "judged_area_cm2"], Chosen(), []),
    ):
        plan = [row["detail"] for row in log.connection.execute(f"EXPLAIN QUERY PLAN {query}", values)]
        assert any("INDEX casting_in_order" in step for step in plan), plan
        assert not any("TEMP B-TREE" in step for step in plan), plan
    assert any("newest USING COVERING INDEX result_of" in step for step in plan), plan
