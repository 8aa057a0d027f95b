"""The log on the terminal: lists of castings, one casting in full, what stands out on a chart, one factor at a time."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from bubblegrade.quality.charts import marked_by_chance
from bubblegrade.quality.factors import ALIKE, Difference, Factor
from bubblegrade.show.printable import printable
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import rounded
from bubblegrade.units import count_of

if TYPE_CHECKING:
    from bubblegrade.quality.charts import Chart, Law

OWN: Final = ("id", "date")  # fields that tell castings apart
UNPARTED: Final = ("id", "date", "word")  # columns whose cells stay on one line
DAY_LETTERS: Final = 10  # of a date: what follows is the time of day
UNKNOWN: Final = "-"  # how what is not known is shown
MOST_SIGNALS: Final = 40  # lines; of more the newest are printed
MOST_PAIRS: Final = 10  # comparisons of one factor that are all printed; of more only those that tell something
SETTLED: Final = 20  # castings that limits are taken from (common practice: 20 to 25)
BY_CHANCE: Final = "Chance alone marks up to one in five charts of 25 equal castings: look for a cause first."

Row = Mapping[str, Any]


def show_list(rows: Sequence[Row], names: Sequence[str], console: Console) -> None:
    """Print castings, one a line; a field that is alike in all of several is said once below them."""
    own, alike = told_apart(rows, names)
    print_table(list_table(rows, own, console), console)
    if alike:
        say(alike, console)


def told_apart(rows: Sequence[Row], names: Sequence[str]) -> tuple[list[str], str]:
    """Return the fields that tell castings apart, and a sentence of those that are alike in all of several."""
    alike = [] if len(rows) == 1 else [name for name in names if name not in OWN and _same(rows, name)]
    own = [name for name in names if name not in alike]
    same = ", ".join(f"{name} {_cell(rows[0][name])}" for name in alike)
    return own, f"All of them: {same}." if same else ""


def list_table(rows: Sequence[Row], names: Sequence[str], console: Console) -> Table:
    """Return castings with their days, one a line; fields that none of them has are left out."""
    known = [name for name in names if name in OWN or any(row[name] is not None for row in rows)]
    graded = any(row["verdict"] is not None or row["voids"] is not None for row in rows)
    table = _table(console, [*known, *(("voids", "clarity", "word") if graded else ())])
    for row in rows:
        result = [_estimate(row, "voids", 0), _estimate(row, "clarity", 0), _judgement(row)] if graded else []
        day = {name: str(row[name])[:DAY_LETTERS] for name in ("date",) if name in known and row[name] is not None}
        _add(table, [*(_cell({**row, **day}[name]) for name in known), *result])
    return table


def show_fields(lines: Iterable[tuple[str, str | None, str]], console: Console) -> None:
    """Print what is known of a casting, and what is not."""
    every = list(lines)
    print_table(field_table(every, console), console)
    if unknown := unknown_words(every):
        say(unknown, console)


def field_table(lines: Iterable[tuple[str, str | None, str]], console: Console) -> Table:
    """Return what is known of a casting: field, as typed, and in the log's unit."""
    table = _table(console, ["field", "as typed", "kept as"])
    for name, typed, number in lines:
        if typed is not None:
            _add(table, [name.replace("_", " "), typed, number])
    return table


def unknown_words(lines: Iterable[tuple[str, str | None, str]]) -> str:
    """Return which fields of a casting are not known, in a sentence; empty where all are."""
    unknown = [name for name, typed, _ in lines if typed is None]
    return f"Not known: {_names(unknown)}." if unknown else ""


def show_results(rows: Sequence[Row], console: Console) -> None:
    """Print the results tied to a casting."""
    print_table(result_table(rows, console), console)


def result_table(rows: Sequence[Row], console: Console) -> Table:
    """Return the results tied to a casting."""
    table = _table(console, ["kind", "photograph", "verdict", "voids", "clarity", "shrinkage b", "file", "SHA-256"])
    for row in rows:
        numbers = [_estimate(row, "voids", 0), _estimate(row, "clarity", 0), _estimate(row, "shrinkage", 3)]
        ends = [row["file"], row["file_sha256"][:12]]
        _add(table, [row["kind"], _cell(row["photo"]), _judgement(row), *numbers, *ends])
    return table


def show_rows(rows: Sequence[Row], names: Sequence[str], console: Console) -> None:
    """Print rows of the log."""
    print_table(row_table(rows, names, console), console)


def row_table(rows: Sequence[Row], names: Sequence[str], console: Console) -> Table:
    """Return rows of the log, such as notes, in these columns."""
    table = _table(console, names)
    for row in rows:
        _add(table, [_cell(row[name]) for name in names])
    return table


def chart_words(chart: Chart, words: str, *, base: int | None) -> str:
    """Return centre and limits of a chart in a sentence or two."""
    low, high = (
        " to ".join(dict.fromkeys((rounded(float(limit.min())), rounded(float(limit.max())))))
        for limit in (chart.low, chart.high)
    )
    source = "all of them" if base is None else f"the first {base}"
    said = (
        f"{count_of(len(chart.values), 'casting')}: {words}, centre {rounded(chart.centre)}, "
        f"lower limit {low}, upper limit {high}, from {source}."
    )
    if chart.widened > 1.0:
        said += (
            f" They vary more than chance alone makes them, by a factor of {chart.widened:.2g}: "
            "limits and runs go by the spread between neighbours."
        )
    if (used := base or len(chart.values)) < SETTLED:
        said += f" Limits from {used} are rough: {SETTLED} or more settle them."
        said += f" {_marked_words(chart, used)}"
    return said


def _marked_words(chart: Chart, used: int) -> str:
    """Return how many later castings a chart with limits from few marks though nothing has changed, in a sentence."""

    def share(law: Law) -> str:
        often, seldom = (f"{100.0 * marked_by_chance(law, castings):.0f}" for castings in (used, SETTLED))
        return f"{often} in 100 would stand out" + (f", not {seldom}" if seldom != often else "")

    if chart.kind == "individuals":
        return f"Of later castings that are all alike some {share('single')}."
    if chart.widened > 1.0:
        return f"Of later castings that vary as these do up to {share('varying')}."
    return (
        f"Of later castings that are all alike some {share('equal')}; where they vary more than chance alone makes "
        "them, which so few may not show, several times as many."
    )


def show_chart(chart: Chart, numbers: Sequence[int], causes: Mapping[int, str], console: Console, *, said: str) -> None:
    """Print what stands out on a chart, each with its rule and the rule's source; then the causes of other castings."""
    say(said, console)
    if not chart.signals:
        say("Nothing stands out more than chance makes.", console)
    else:
        say("", console)
        print_table(signal_table(chart, numbers, causes, console), console)
        say(rule_words(chart), console)
        say(BY_CHANCE, console)
        left = len(chart.signals) - MOST_SIGNALS
        if left > 0:
            say(f"{count_of(left, 'earlier signal')} not printed; chart.csv has all with --out.", console)
    others = sorted(set(causes).difference(signal.at for signal in chart.signals))
    for at in others[-MOST_SIGNALS:]:
        say(f"Cause noted at casting {numbers[at]}: {causes[at]}", console)


def signal_table(chart: Chart, numbers: Sequence[int], causes: Mapping[int, str], console: Console) -> Table:
    """Return the newest of what stands out on a chart, each with its rule."""
    table = _table(console, ["casting", "value", "what stands out", "cause noted"])
    for signal in chart.signals[-MOST_SIGNALS:]:
        value = rounded(float(chart.values[signal.at]))
        cells = [str(numbers[signal.at]), value, signal.rule, causes.get(signal.at, UNKNOWN)]
        _add(table, cells)
    return table


def rule_words(chart: Chart) -> str:
    """Return where the rules come from that a chart's signals broke."""
    rules: dict[str, list[str]] = {}
    for signal in chart.signals[-MOST_SIGNALS:]:
        kinds = rules.setdefault(signal.source, [])
        if signal.rule not in kinds:
            kinds.append(signal.rule)
    return " ".join(f"After {source}: {'; '.join(kinds)}." for source, kinds in rules.items())


def show_factors(factors: Sequence[Factor], console: Console, *, rates: bool) -> None:
    """Print every comparison with its interval, and what was changed along with each factor."""
    effect = "times as many" if rates else "difference"
    compared = [(factor, difference) for factor in factors for difference in _printed(factor)]
    if compared:
        table = _table(console, ["factor", "castings", effect, "95 % from ... to", "so"])
        for factor, difference in compared:
            _add(table, _comparison(factor, difference))
        print_table(table, console)
        say("The intervals of all comparisons hold at once in 95 of 100 such logs.", console)
    for factor in factors:
        for line in _doubts(factor):
            say(line, console)


def _printed(factor: Factor) -> list[Difference]:
    """Return the comparisons of a factor that are printed."""
    every = len(factor.differences) <= MOST_PAIRS
    return [each for each in factor.differences if every or each.word != ALIKE]


def _comparison(factor: Factor, difference: Difference) -> list[str]:
    effect = difference.effect
    pair = f"{factor.name.replace('_', ' ')}: {difference.one} against {difference.other}"
    limits = f"{rounded(effect.low)} to {rounded(effect.high)}"
    return [pair, "{} and {}".format(*difference.castings), rounded(effect.value), limits, difference.word]


def _doubts(factor: Factor) -> list[str]:
    """Return why a factor cannot be told, or not apart from another."""
    name = factor.name.replace("_", " ")
    lines = []
    left = len(factor.differences) - len(_printed(factor))
    if left:
        lines.append(
            f"{name.capitalize()}: {count_of(left, 'further comparison')} of {len(factor.groups)} kinds, {ALIKE}."
        )
    if factor.too_few:
        held = ", ".join(f"{level} ({count})" for level, count in factor.groups)
        there = f"there is {held}" if held else "it is unknown of every casting"
        lines.append(f"{name.capitalize()} cannot be told: two kinds with two castings each are needed; {there}.")
    if factor.together_with and not factor.too_few:
        others = _names(factor.together_with)
        lines.append(f"{name.capitalize()} was changed together with {others}: the log cannot tell them apart.")
    told = [each for each in factor.differences if each.word != ALIKE]
    if told and factor.partly_with:
        others = _names(factor.partly_with)
        lines.append(f"{name.capitalize()} was often changed together with {others}: the difference may be theirs.")
    lines += [
        f"{name.capitalize()} {each.first} was cast before {each.other if each.first == each.one else each.one}: "
        "whatever else changed in that time may have made the difference."
        for each in told
        if each.first is not None
    ]
    return lines


def _same(rows: Sequence[Row], name: str) -> bool:
    """Say whether a field is known and alike in all rows."""
    return rows[0][name] is not None and all(row[name] == rows[0][name] for row in rows)


def _names(factors: Sequence[str]) -> str:
    return ", ".join(factor.replace("_", " ") for factor in factors)


def _table(console: Console, names: Sequence[str]) -> Table:
    table = Table(box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False)
    for name in names:
        table.add_column(name.replace("_", " "), overflow="fold", no_wrap=name in UNPARTED)
    return table


def _add(table: Table, cells: Sequence[str]) -> None:
    """Add a row of what users wrote: remarks may have several lines, and a terminal acts on nothing else in them."""
    lines = (cell.replace("\r\n", "\n").split("\n") for cell in cells)
    table.add_row(*(Text("\n".join(map(printable, each))) for each in lines))


def _cell(value: object) -> str:
    """Return a value in one line."""
    return UNKNOWN if value is None else printable(" ".join(str(value).split()))


def _judgement(row: Row) -> str:
    """Return a result's own word; an unfit photograph is said so."""
    return f"{_cell(row['verdict'])} (UNFIT)" if row["unfit"] else _cell(row["verdict"])


def _estimate(row: Row, name: str, decimals: int) -> str:
    """Return a number with its limits."""
    value, low, high = (row[f"{name}{end}"] for end in ("", "_low", "_high"))
    if value is None:
        return UNKNOWN
    if low is None or high is None:
        return f"{value:.{decimals}f}"
    return f"{value:.{decimals}f} ({low:.{decimals}f} to {high:.{decimals}f})"
