"""What the casting log says, as answers: its list, one casting in full, and a chart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from bubblegrade.bench.forms import FieldError, about
from bubblegrade.pressure.cautions import PRESSURE
from bubblegrade.records.reading import CHOSEN_BY, LISTED, Chosen, Row, Whole
from bubblegrade.runs.log_casting import entered, field_lines, parts, was_pressed
from bubblegrade.runs.log_charts import Charted
from bubblegrade.runs.log_unlike import unlike_results
from bubblegrade.show.chart_tables import BY_CHANCE, MOST_SIGNALS, chart_words, rule_words, signal_table
from bubblegrade.show.log_tables import (
    field_table,
    list_table,
    result_table,
    row_table,
    told_apart,
    unknown_words,
)
from bubblegrade.show.plot_chart import Run, control_chart
from bubblegrade.show.report.page import Block, Page, Plot, Rows, Section, Words
from bubblegrade.show.report.verdicts import PAPER, rows_of
from bubblegrade.units import count_of

LONGEST_DIGITS: Final = 10  # of a number of castings


def chosen_by(words: Mapping[str, str], *, usual: int | None = None) -> Chosen:
    """Return which castings the fields of a form choose; `usual` is how many where that is not said.

    Raises
    ------
    FieldError
        The number of castings is none, a day cannot be read, or the last day lies before the first.
    """
    last = words.get("last", "")
    chosen = Chosen(
        {name: words[name] for name in CHOSEN_BY if words.get(name)},
        since=words.get("since") or None,
        until=words.get("until") or None,
        last=whole_number("last", last, "the newest") if last else usual,
    )
    for field, part in (("since", replace(chosen, until=None)), ("until", chosen)):
        with about(field):
            part.where()
    return chosen


def whole_number(field: str, text: str, what: str) -> int:
    """Return how many castings are meant in a field; `what` they are stands in an error.

    Raises
    ------
    FieldError
        It is no number from 1 on, or more than any log holds.
    """
    if not (text.isascii() and text.isdigit() and int(text[:LONGEST_DIGITS]) > 0 and len(text) < LONGEST_DIGITS):
        raise FieldError(f"{what} {text[:20]!r} is no number of castings: write one, such as 20", field)
    return int(text)


def listed_rows(rows: list[Row]) -> tuple[Rows, str]:
    """Return a list of castings, and in a sentence what all of them have alike."""
    cells = [dict(row) for row in rows]
    own, alike = told_apart(cells, LISTED) if cells else (LISTED, "")
    return rows_of(list_table(cells, own, PAPER), "Castings"), alike


def casting_page(found: Whole, version: str) -> Page:
    """Return one casting in full."""
    lines = field_lines(found.casting)
    blocks: list[Block] = [rows_of(field_table(lines, PAPER), "What is known")]
    if unknown := unknown_words(lines):
        blocks.append(Words(unknown, "note"))
    blocks += [rows_of(row_table(rows, columns, PAPER), heading) for heading, columns, rows in parts(found)]
    if found.results:
        blocks.append(rows_of(result_table([dict(row) for row in found.results], PAPER), "Results"))
        blocks += [Words(sentence, "note") for sentence in unlike_results(found.results)]
    cautions = tuple(each.text for each in PRESSURE) if was_pressed(found.casting) else ()
    return Page("", entered(found.casting), (Section("In full", tuple(blocks)),), cautions, version)


def chart_page(found: Charted, version: str, *, base: int | None) -> Page:
    """Return a chart with what stands out on it."""
    chart = found.chart
    said = chart_words(chart, found.measured.words, base=base)
    sentences = found.measured.sentences
    picture = control_chart(Run(chart, found.numbers, found.measured.words, said, sentences, found.causes, base))
    blocks: list[Block] = [Plot(picture.svg, said), *_signals(found)]
    blocks += [Words(sentence, "note") for sentence in sentences]
    return Page("", said, (Section("Chart", tuple(blocks)),), (), version)


def _signals(found: Charted) -> list[Block]:
    chart = found.chart
    if not chart.signals:
        blocks: list[Block] = [Words("Nothing stands out more than chance makes.")]
    else:
        blocks = [rows_of(signal_table(chart, found.numbers, found.causes, PAPER), "What stands out")]
        blocks += [Words(words, "note") for words in (rule_words(chart), BY_CHANCE)]
    left = len(chart.signals) - MOST_SIGNALS
    if left > 0:
        blocks.append(Words(f"{count_of(left, 'earlier signal')} not shown.", "note"))
    others = sorted(set(found.causes) - {signal.at for signal in chart.signals})
    blocks += [
        Words(f"Cause noted at casting {found.numbers[at]}: {found.causes[at]}") for at in others[-MOST_SIGNALS:]
    ]
    return blocks
