"""The log on the terminal: what stands out on a chart, and one factor at a time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from rich.console import Console
from rich.table import Table

from bubblegrade.quality.charts import Chart, Law, marked_by_chance
from bubblegrade.quality.factors import ALIKE, Difference, Factor
from bubblegrade.show.log_tables import UNKNOWN, add_row, names_in_words, new_table
from bubblegrade.show.sentences import say
from bubblegrade.show.tables import print_table
from bubblegrade.show.words import rounded
from bubblegrade.units import count_of

MOST_SIGNALS: Final = 40  # lines; of more the newest are printed
MOST_PAIRS: Final = 10  # comparisons of one factor that are all printed; of more only those that tell something
SETTLED: Final = 20  # castings that limits are taken from (common practice: 20 to 25)
BY_CHANCE: Final = "Chance alone marks up to one in five charts of 25 equal castings: look for a cause first."


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
    table = new_table(console, ["casting", "value", "what stands out", "cause noted"])
    for signal in chart.signals[-MOST_SIGNALS:]:
        value = rounded(float(chart.values[signal.at]))
        cells = [str(numbers[signal.at]), value, signal.rule, causes.get(signal.at, UNKNOWN)]
        add_row(table, cells)
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
        table = new_table(console, ["factor", "castings", effect, "95 % from ... to", "so"])
        for factor, difference in compared:
            add_row(table, _comparison(factor, difference))
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
        others = names_in_words(factor.together_with)
        lines.append(f"{name.capitalize()} was changed together with {others}: the log cannot tell them apart.")
    told = [each for each in factor.differences if each.word != ALIKE]
    if told and factor.partly_with:
        others = names_in_words(factor.partly_with)
        lines.append(f"{name.capitalize()} was often changed together with {others}: the difference may be theirs.")
    lines += [
        f"{name.capitalize()} {each.first} was cast before {each.other if each.first == each.one else each.one}: "
        "whatever else changed in that time may have made the difference."
        for each in told
        if each.first is not None
    ]
    return lines
