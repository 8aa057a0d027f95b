"""Charts over the log hold the handbook's examples, and leave out what does not compare."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from bubblegrade.errors import InputError
from bubblegrade.records.log import Log, open_log
from bubblegrade.records.reading import Chosen
from bubblegrade.records.tied import Result
from bubblegrade.runs.log_charts import charted, factors, measured, table_columns

# NIST/SEMATECH e-Handbook of Statistical Methods 6.3.3.1: defects on 25 wafers (rows from memory; sum 400, centre 16).
WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]
# The same, 6.3.2.2: flow rates (from memory), centre 50.81, mean moving range 1.8778, limits 45.82 and 55.80.
FLOWS = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Log]:
    with open_log(tmp_path / "castings.sqlite", create=True, clock=lambda: 0.0) as opened:
        yield opened


def enter(
    log: Log, typed: dict[str, str], *, kind: str = "grade", file: str = "", unfit: bool = False, **held: float
) -> int:
    number = log.add({"resin": "Clear One", **typed})
    usual = {"judged_area_cm2": 10.0, "smallest_mm": 0.25, "smallest_px": 5.0} if kind == "grade" else {}
    log.tie(number, [Result(kind, "f", file or str(number), "{}", unfit=unfit, numbers={**usual, **held})])
    return number


def test_the_wafers_of_the_handbook_on_a_chart_per_casting(log: Log) -> None:
    for wafer in WAFERS:
        enter(log, {}, voids=wafer)
    log.note(24, "new operator", cause=True)
    found = charted(log.connection, "voids", Chosen(), per="casting")
    assert (found.chart.kind, found.chart.centre, found.chart.low[0], found.chart.high[0]) == ("c", 16.0, 4.0, 28.0)
    assert [found.numbers[each.at] for each in found.chart.signals if each.rule == "beyond the limits"] == [24]
    assert found.causes == {23: "new operator"}
    columns = table_columns(found)
    assert np.isnan(columns.pop("counted_in")).all()
    assert {name: column[23] for name, column in columns.items()} == {
        "casting": 24, "value": 31.0, "counted": 31.0, "centre": 16.0, "low": 4.0, "high": 28.0,
        "signals": "beyond the limits (Western Electric, Statistical Quality Control Handbook, 1956)",
        "cause": "new operator",
    }  # fmt: skip


def test_the_flow_rates_of_the_handbook_as_single_values(log: Log) -> None:
    for flow in FLOWS:
        enter(log, {}, kind="shrink", shrinkage=flow)
    found = charted(log.connection, "shrinkage", Chosen())
    assert found.chart.centre == pytest.approx(50.81)
    assert [found.chart.low[0], found.chart.high[0]] == pytest.approx([45.82, 55.80], abs=0.01)


def test_castings_are_charted_in_the_order_they_were_cast(log: Log) -> None:
    for day, clarity in (("2026-02-03", 3.0), ("2026-02-01", 36.0), ("2026-02-02", 50.0)):
        enter(log, {"date": day}, clarity=clarity, voids=1)
    found = charted(log.connection, "clarity", Chosen(), base=2)
    assert found.numbers == (2, 3, 1)
    # 36 and 50 lose 64 / 3628 and 1 / 100; the mean of the roots is 0.1164, and of its square the score 42.4
    assert found.chart.centre == pytest.approx(42.38, abs=0.01)
    with pytest.raises(InputError, match="--base 4 is out of range: give 2 to 3"):
        charted(log.connection, "clarity", Chosen(), base=4)


def test_clarity_of_castings_without_voids_is_left_to_their_counts(log: Log) -> None:
    for turn in range(8):
        enter(log, {}, clarity=100.0 if turn % 2 else 90.0 - turn, voids=1 - turn % 2)
    with pytest.raises(InputError, match=r"4 of 8 castings have no void: .* chart the voids instead"):
        charted(log.connection, "clarity", Chosen())
    assert charted(log.connection, "voids", Chosen(), per="casting").chart.signals == ()


def test_voids_are_counted_per_area_unless_said_otherwise(log: Log) -> None:
    enter(log, {}, voids=40, judged_volume_cm3=20.0)
    enter(log, {}, voids=60, judged_area_cm2=20.0, judged_volume_cm3=20.0)
    assert charted(log.connection, "voids", Chosen()).chart.centre == pytest.approx(100 / 30)
    assert charted(log.connection, "voids", Chosen(), per="cm3").chart.centre == pytest.approx(2.5)
    with pytest.raises(
        InputError,
        match=r"0 of 2 castings .* without the judged area left out: .*, graded with a scale, or give --per casting",
    ):
        charted(log.connection, "voids", Chosen(), per="px")


def test_what_is_unfit_or_unknown_is_left_out_and_said(log: Log) -> None:
    enter(log, {}, clarity=50.0, voids=3)
    enter(log, {}, clarity=5.0, voids=300, unfit=True)
    enter(log, {}, voids=4)
    enter(log, {}, clarity=51.0, voids=4)
    found = measured(log.connection, "clarity", Chosen())
    assert found.values.tolist() == [50.0, 51.0]
    assert found.remarks == ("1 casting without clarity left out", "1 casting with an unfit photograph left out")


def test_counts_from_different_sizes_on_are_said_not_to_compare(log: Log) -> None:
    enter(log, {}, voids=3)
    enter(log, {}, voids=4, smallest_mm=0.4)
    assert measured(log.connection, "voids", Chosen()).remarks == (
        "voids were counted from 0.25 to 0.4 mm on: where that changes, so does the count",
    )


def test_clarity_of_voids_from_different_sizes_on_is_said_to_change_a_little(log: Log) -> None:
    for smallest_px in (5.0, 8.0):
        enter(log, {}, voids=3, clarity=50.0, smallest_px=smallest_px, smallest_mm=smallest_px / 20)
    (remark,) = measured(log.connection, "clarity", Chosen()).remarks
    assert remark == "voids were counted from 0.25 to 0.4 mm on: where that changes, clarity does a little too"


def test_sizes_known_in_pixels_only_are_said(log: Log) -> None:
    for _ in range(2):
        number = log.add({"resin": "a"})
        held = {"voids": 3, "judged_area_px": 1e5, "smallest_px": 5.0}
        log.tie(number, [Result("grade", "f", str(number), "{}", numbers=held)])
    (remark,) = measured(log.connection, "voids", Chosen(), per="px").remarks
    assert "a nearer camera counts smaller voids" in remark
    number = log.add({"resin": "a"})
    log.tie(number, [Result("grade", "f", "", "{}", numbers={**held, "smallest_px": 8.0})])
    (remark,) = measured(log.connection, "voids", Chosen(), per="px").remarks
    assert remark == "voids were counted from 5 to 8 px on: where that changes, so does the count"


def test_one_trial_tied_to_all_its_cups_is_one_point(log: Log) -> None:
    for _ in range(3):
        enter(log, {}, kind="shrink", file="one", shrinkage=0.30)
    enter(log, {}, kind="shrink", file="other", shrinkage=0.34)
    found = charted(log.connection, "shrinkage", Chosen())
    assert found.numbers == (3, 4)
    assert found.chart.centre == pytest.approx(0.32)


def test_a_factor_that_doubles_the_voids_is_told_and_what_changed_with_it_is_named(log: Log) -> None:
    for turn in range(20):
        new = turn % 2 == 1
        typed = {"mould": "Lure 3" if new else "lure  4", "operator": "Ines" if new else "Per"}
        enter(
            log,
            {**typed, "humidity": "60%" if turn % 4 < 2 else "40%"},
            voids=100 + turn % 5 if not new else 200 + turn % 7,
        )
    _, found = factors(log.connection, "voids", Chosen(), ("mould", "humidity", "operator", "recipe"), "cm2")
    mould, humidity, _, recipe = found
    (difference,) = mould.differences
    assert (difference.one, difference.other, difference.word) == ("Lure 3", "lure 4", "more")
    # ln ratio +- t sqrt(1 / 2031 + 1 / 1020), t at 0.025 / 3 with 18 degrees of freedom 2.64 (tables of Student's t)
    assert [difference.effect.low, difference.effect.high] == pytest.approx([1.80, 2.20], abs=0.01)
    assert mould.together_with == ("operator",)
    assert [group for group, _ in humidity.groups] == ["over 50 % RH", "up to 50 % RH"]
    assert humidity.differences[0].word == "not distinguishable"
    assert recipe.too_few
    _, (clear,) = factors(log.connection, "voids", Chosen(), ("mould",), "casting")
    assert clear.differences[0].word == "more"


def test_one_pressure_in_three_units_is_one_level(log: Log) -> None:
    for turn in range(9):
        enter(log, {"gauge_gel": ("60 psi", "60psig", "413.7 kPa gauge")[turn % 3]}, voids=turn)
    enter(log, {}, voids=3)
    _, (gauge,) = factors(log.connection, "voids", Chosen(), ("gauge gel",), "cm2")
    assert gauge.groups == (("60 psi", 9),)


def test_sizes_counted_from_that_changed_along_are_named(log: Log) -> None:
    for turn in range(12):
        enter(log, {"mould": f"m{turn % 2}"}, voids=10 + 40 * (turn % 2), smallest_mm=0.4 - 0.2 * (turn % 2))
    _, (mould,) = factors(log.connection, "voids", Chosen(), ("mould",), "cm2")
    assert mould.differences[0].word == "less"
    assert mould.together_with == ("smallest size counted",)


def test_values_are_compared_by_their_difference(log: Log) -> None:
    for turn in range(10):
        enter(log, {"mould": f"m{turn % 2}"}, clarity=50.0 + 10.0 * (turn % 2) + 0.1 * turn, voids=1)
    _, (mould,) = factors(log.connection, "clarity", Chosen(), ("mould",), "cm2")
    assert mould.differences[0].effect.value == pytest.approx(-10.1)
    with pytest.raises(InputError, match="moon is no field of the log"):
        factors(log.connection, "clarity", Chosen(), ("moon",), "cm2")


@pytest.mark.parametrize("name", ["hold", "Hold test", "hold-test"])
def test_castings_are_compared_by_what_their_hold_tests_said(log: Log, name: str) -> None:
    for turn in range(12):
        number = enter(log, {"mould": f"m{turn % 2}"}, voids=10 + 40 * (turn % 2))
        log.tie(number, [Result("hold", "h", str(turn), "{}", verdict="leaks" if turn % 2 else "holds")])
    _, (hold, _) = factors(log.connection, "voids", Chosen(), (name, "mould"), "cm2")
    assert (hold.name, hold.together_with) == ("hold test", ("mould",))
    assert [(each.one, each.other, each.word) for each in hold.differences] == [("holds", "leaks", "less")]
