"""What is written into the log stands in it, and what stood there is never lost."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from bubblegrade.errors import InputError
from bubblegrade.records.log import Log, Photo
from bubblegrade.records.reading import Chosen, castings_of, listed, whole
from bubblegrade.records.tied import Result

DAY_S = 1_772_323_200.0  # 2026-03-01T00:00Z, where the clock begins


def test_a_casting_keeps_text_number_writer_and_time(log: Log) -> None:
    number = log.add({"date": "2026-02-14T09:00+01:00", "gauge_gel": "58psi"})
    row = whole(log.connection, number).casting
    assert (row["date"], row["gauge_gel"], row["entered_by"]) == ("2026-02-14T09:00+01:00", "58psi", "Ines")
    assert row["gauge_gel_kpa_gauge"] == pytest.approx(399.896, abs=1e-3)  # 58 x 6.894757
    assert row["order_s"] == row["date_s"]
    assert row["entered_at"] == "2026-03-01T00:00:00+00:00"
    assert row["resin"] is None


def test_a_casting_without_a_day_stands_where_it_was_entered(log: Log) -> None:
    row = whole(log.connection, log.add({"resin": "Clear One"})).casting
    assert (row["date"], row["order_s"]) == (None, DAY_S)


def test_a_correction_keeps_what_stood_there_with_who_when_and_why(log: Log) -> None:
    number = log.add({"gauge_gel": "58psi", "resin": "Clear One", "humidity": "45%"})
    changed = log.correct(number, {"gauge_gel": "57psi", "resin": "Clear One", "humidity": ""}, why="misread")
    found = whole(log.connection, number)
    assert changed == ("gauge_gel", "humidity")
    assert [tuple(row)[2:] for row in found.history] == [
        ("2026-03-01T01:00:00+00:00", "Ines", "gauge_gel", "58psi", "57psi", "misread"),
        ("2026-03-01T02:00:00+00:00", "Ines", "humidity", "45%", None, "misread"),
    ]
    assert found.casting["gauge_gel_kpa_gauge"] == pytest.approx(393.001, abs=1e-3)
    assert (found.casting["humidity"], found.casting["humidity_share"]) == (None, None)


def test_a_corrected_day_moves_the_casting_and_an_unknown_one_moves_it_back(log: Log) -> None:
    number = log.add({"date": "2026-02-14"})
    log.correct(number, {"date": "2026-02-15"})
    assert whole(log.connection, number).casting["order_s"] == DAY_S - 14 * 86_400.0
    log.correct(number, {"date": ""})
    assert whole(log.connection, number).casting["order_s"] == DAY_S


def test_bytes_that_are_no_text_are_kept_as_escapes(log: Log) -> None:
    number = log.add({"resin": "Kl\udce4r"})
    log.note(number, "Kl\udce4r")
    found = whole(log.connection, number)
    assert (found.casting["resin"], found.notes[0]["text"]) == ("Kl\\udce4r", "Kl\\udce4r")
    assert [row["id"] for row in listed(log.connection, Chosen({"resin": "Kl\udce4r"}))] == [number]


def test_of_several_castings_all_are_entered_or_none(log: Log) -> None:
    with pytest.raises(InputError, match="gauge gel 60 has no unit"):
        log.add_all([({"resin": "a"}, []), ({"gauge_gel": "60"}, [])])
    assert log.add_all([({"resin": "a"}, []), ({"resin": "b"}, [])]) == (1, 2)


def test_an_entry_that_breaks_off_leaves_nothing(log: Log) -> None:
    number = log.add({"resin": "a"})
    broken = Result(kind="grade", file="f", file_sha256="0" * 64, text=None)  # type: ignore[arg-type]
    with pytest.raises(Exception, match="NOT NULL"):
        log.tie(number, [broken])
    assert whole(log.connection, number).results == []


def test_a_result_is_tied_once_and_brings_its_photograph(log: Log, graded: Callable[..., Result]) -> None:
    number = log.add({"resin": "a"})
    assert log.tie(number, [graded(57), graded(57)]) == 1
    assert log.tie(number, [graded(57)]) == 0
    assert log.tie(number, [graded(57, file="2" * 64)]) == 1
    found = whole(log.connection, number)
    assert [row["voids"] for row in found.results] == [57, 57]
    assert castings_of(log.connection, [found.photos[0]["sha256"]]) == [number]


def test_a_result_that_comes_back_after_another_of_its_file_counts_again(
    log: Log, graded: Callable[..., Result]
) -> None:
    number = log.add({"resin": "a"})
    as_graded, corrected = graded(57, file="1" * 64), graded(55, file="2" * 64)
    for result in (as_graded, corrected, as_graded):
        assert log.tie(number, [result]) == 1
        assert log.tie(number, [result]) == 0
        assert [row["voids"] for row in listed(log.connection, Chosen())] == [result.numbers["voids"]]
    elsewhere = replace(corrected, file="elsewhere/run.json")  # the same numbers in another place tell nothing new
    assert log.tie(number, [elsewhere]) == 0


def test_a_photograph_is_known_again_by_its_bytes(log: Log) -> None:
    one = log.add({"resin": "a"}, photos=[Photo("a.jpg", "aa")])
    other = log.add({"resin": "b"}, photos=[Photo("renamed.jpg", "aa")])
    assert castings_of(log.connection, ["aa", "bb"]) == [one, other]


def test_what_names_no_casting_or_says_nothing_is_refused(log: Log) -> None:
    with pytest.raises(InputError, match="nothing is said of the casting"):
        log.add({"resin": "  "})
    for entry in (
        lambda: log.note(7, "x"), lambda: log.correct(7, {"resin": "x"}), lambda: log.tie(7, []),
        lambda: whole(log.connection, 7),
    ):  # fmt: skip
        with pytest.raises(InputError, match="casting 7 is not in the log"):
            entry()
    with pytest.raises(InputError, match="the note is empty"):
        log.note(log.add({"resin": "a"}), " ")
