"""Charts of the log and comparisons on the terminal: nothing is told that the numbers do not tell."""

from __future__ import annotations

from rich.console import Console

from bubblegrade.grading.estimate import Estimate
from bubblegrade.quality.charts import Chart, count_chart, individuals_chart
from bubblegrade.quality.factors import Difference, Factor, Words
from bubblegrade.show.chart_tables import MOST_SIGNALS, chart_words, show_chart, show_factors
from tests.command_line import said


def test_limits_are_said_as_one_number_or_a_range() -> None:
    alike = chart_words(count_chart([16, 14, 18, 16]), "voids per casting", base=None)
    assert alike.startswith("4 castings: voids per casting, centre 16.0, lower limit 4.00, upper limit 28.0, from all")
    apart = chart_words(count_chart([16, 14], [1.0, 2.0], base=slice(0, 1)), "voids per cm2", base=1)
    assert "from the first 1." in apart
    assert "lower limit 4.00 to 7.51" in apart
    nearly = chart_words(count_chart([160, 140, 150], [10.0, 10.001, 10.002]), "voids per cm2", base=None)
    assert "lower limit 11.3, upper limit 18.7" in nearly
    wide = chart_words(count_chart([10, 60, 5, 90, 20, 70]), "voids", base=None)
    assert "They vary more than chance alone makes them" in wide
    assert wide.endswith("Of later castings that vary as these do up to 9 in 100 would stand out, not 4.")
    assert "some 5 in 100 would stand out, not 2; where they vary more than chance" in alike


def test_a_number_is_not_set_against_itself() -> None:
    nearly = chart_words(count_chart([16, 14, 18, 16] * 4), "voids per casting", base=None)
    assert "some 2 in 100 would stand out; where they vary more than chance" in nearly


def test_signals_come_with_their_rule_its_source_and_the_cause(console: Console) -> None:
    chart = individuals_chart([1.0, 1.1, 0.9, 1.0, 1.1, 9.0, 1.0, 1.1, 0.9, 1.0, 1.1, 1.0, 0.9, 1.0, 1.1, 1.0])
    show_chart(chart, tuple(range(101, 117)), {5: "damp mould", 7: "new can"}, console, said="A chart.")
    text = said(console)
    assert "beyond the limits" in text
    assert "Western Electric, Statistical Quality Control Handbook, 1956" in text
    assert "damp mould" in text
    assert "Cause noted at casting 108: new can" in text


def test_a_calm_chart_says_so_and_of_many_signals_the_newest_are_printed(console: Console) -> None:
    show_chart(count_chart([16, 14, 18, 16]), (1, 2, 3, 4), {}, console, said="")
    assert "Nothing stands out more than chance makes." in said(console)
    wild: Chart = count_chart([*[16, 17] * 200, *[60] * 60], base=slice(0, 400))
    assert len(wild.signals) > MOST_SIGNALS
    show_chart(wild, tuple(range(460)), {}, console, said="")
    assert f"{len(wild.signals) - MOST_SIGNALS} earlier signals not printed" in said(console)


def difference(one: str, word: Words) -> Difference:
    return Difference(one, "b", (5, 6), Estimate(2.0, 1.5, 2.7), word, one)


def test_comparisons_have_intervals_and_what_cannot_be_told_apart_is_named(console: Console) -> None:
    told = Factor(
        "mould_material", (("a", 5), ("b", 6)), (difference("a", "more"),), ("operator",), ("lot",), too_few=False
    )
    few = Factor("resin", (("a", 11),), (), (), (), too_few=True)
    unknown = Factor("recipe", (), (), (), (), too_few=True)
    show_factors([told, few, unknown], console, rates=True)
    text = " ".join(said(console).split())
    assert "mould material: a against b 5 and 6 2.00 1.50 to 2.70 more" in text
    assert "Mould material was changed together with operator: the log cannot tell them apart." in text
    assert "Mould material was often changed together with lot: the difference may be theirs." in text
    assert "Mould material a was cast before b: whatever else changed in that time" in text
    assert "two kinds with two castings each are needed; there is a (11)." in text
    assert "needed; it is unknown of every casting." in text


def test_of_many_comparisons_those_that_tell_something_are_printed(console: Console) -> None:
    many = (difference("a", "less"), *(difference(f"x{n}", "not distinguishable") for n in range(20)))
    show_factors(
        [Factor("mould", tuple((f"m{n}", 2) for n in range(7)), many, (), (), too_few=False)], console, rates=False
    )
    text = said(console)
    assert "a against b" in text
    assert "x3 against b" not in text
    assert "Mould: 20 further comparisons of 7 kinds, not distinguishable." in text
