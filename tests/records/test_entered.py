"""A casting that the log was told before is known again, and no other is taken for it."""

from __future__ import annotations

from bubblegrade.records.entered import entered_before
from bubblegrade.records.log import Log, Photo

ONE, OTHER = Photo("one.jpg", "1" * 64), Photo("other.jpg", "2" * 64)
TYPED = {"date": "2026-03-01", "mould": "a"}


def test_the_same_fields_are_the_same_casting_and_one_more_or_less_is_another(log: Log) -> None:
    number = log.add(TYPED)
    castings = [({**TYPED, "resin": "Clear One"}, ()), ({"mould": "a"}, ()), ({**TYPED, "mould": " a "}, ())]
    assert entered_before(log.connection, castings) == [None, None, number]


def test_of_castings_alike_as_many_are_known_again_as_the_log_holds(log: Log) -> None:
    held = log.add_all([(TYPED, ()), (TYPED, ())])
    assert entered_before(log.connection, [(TYPED, ())] * 3) == [*held, None]


def test_a_corrected_casting_is_known_as_it_was_entered_and_as_it_is(log: Log) -> None:
    number = log.add(TYPED)
    log.correct(number, {"mould": "b"})
    log.correct(number, {"mould": "c", "resin": "Clear One"})
    as_it_is = {**TYPED, "mould": "c", "resin": "Clear One"}
    assert entered_before(log.connection, [(TYPED, ())]) == [number]
    assert entered_before(log.connection, [(as_it_is, ())]) == [number]
    assert entered_before(log.connection, [(TYPED, ()), (as_it_is, ())]) == [number, None]


def test_another_photograph_is_of_another_casting(log: Log) -> None:
    number = log.add(TYPED, photos=[ONE])
    assert entered_before(log.connection, [(TYPED, [OTHER]), (TYPED, [ONE])]) == [None, number]
    assert entered_before(log.connection, [(TYPED, ())]) == [number]
