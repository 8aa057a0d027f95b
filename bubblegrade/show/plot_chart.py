"""The picture of a control chart: castings in their order, centre and limits, what stands out, and causes noted."""

from __future__ import annotations

import string
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator
from numpy.typing import NDArray

from bubblegrade.quality.charts import Chart
from bubblegrade.show.plot_canvas import (
    BLUE,
    DASH_DOT,
    DASHES,
    DOTS,
    FAINT,
    GROUND,
    INK,
    LABEL,
    RUST,
    SMALL_PT,
    as_picture,
    new_figure,
    plain,
)

Places = NDArray[np.int_]

DRAWN: Final = 150  # castings that a picture of this width keeps apart; of more the newest are drawn
KEY_LINES: Final = 4  # of causes under the chart; the rest stands in the printed list
LINE_LETTERS: Final = 118  # of the words under heading and chart
LINE_IN: Final = 0.2  # from one line of words to the next
HEAD_IN: Final = 1.45  # of the heading with so many lines of words under it
HEAD_LINES: Final = 3
WORDS_SHARE: Final = 0.055  # of the axes' height that a line of words takes
BEYOND: Final = "beyond the limits"  # the rule that names a single casting
TITLES: Final = {
    "c": "Control chart of counts (c-chart)",
    "u": "Control chart of counts by what was inspected (u-chart)",
    "individuals": "Control chart of single values",
}


@dataclass(frozen=True, eq=False)
class Run:
    """A chart as it is drawn; one entry a casting, in their order."""

    chart: Chart
    numbers: tuple[int, ...]  # of the castings
    words: str  # what the values are: "voids per cm2"
    subtitle: str
    remarks: tuple[str, ...] = ()  # sentences on what was left out and what to know, under it
    causes: Mapping[int, str] = field(default_factory=dict)  # by place on the chart
    base: int | None = None  # castings that the limits come from; None: all


@as_picture
def control_chart(run: Run) -> Figure:
    """Return the chart of the newest castings, with limits of all."""
    count = len(run.numbers)
    begin = max(0, count - DRAWN)
    said = run.subtitle if not begin else f"{run.subtitle} Drawn are the last {DRAWN} of {count} castings."
    keys = dict(zip(sorted(at for at in run.causes if at >= begin), _letters(), strict=False))
    lines = _key_lines(run, keys)
    under = [line for words in (said, *run.remarks) for line in textwrap.wrap(words, LINE_LETTERS)]
    more = LINE_IN * max(0, len(under) - HEAD_LINES)
    height = 5.7 + LINE_IN * len(lines) + more
    figure = new_figure(9.0, height, TITLES[run.chart.kind], "\n".join(under))
    bottom = (0.72 + LINE_IN * len(lines)) / height
    axes = plain(figure.add_axes((0.09, bottom, 0.79, 1.0 - bottom - (HEAD_IN + more) / height)))
    places = np.arange(begin, count)
    axes.set_ylim(*_span(run, places))
    _draw_limits(axes, run, places)
    axes.plot(places, run.chart.values[begin:], color=INK, linewidth=0.9, marker="o", markersize=4, gid="castings")
    _draw_signals(axes, run, begin)
    _draw_causes(axes, keys)
    axes.set_xlim(begin - 0.7, count - 0.3)
    axes.xaxis.set_major_locator(MaxNLocator(12, integer=True))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda at, _: _number_at(run, at)))
    axes.set_xlabel("casting, by its number in the log")
    axes.set_ylabel(run.words)
    for line, words in enumerate(lines):
        place = (0.16 + LINE_IN * (len(lines) - 1 - line)) / height
        figure.text(0.09, place, words, fontsize=SMALL_PT, color=INK, va="baseline")
    return figure


def _span(run: Run, places: Places) -> tuple[float, float]:
    """Return the lowest and highest value shown, with room around limits and castings; counts begin at 0."""
    chart = run.chart
    shown = np.concatenate([chart.low[places], chart.high[places], chart.values[places]])
    room = 0.06 * max(float(np.ptp(shown)), 1e-9 + 0.01 * abs(chart.centre))
    low = float(shown.min()) - room
    return (low if chart.kind == "individuals" else max(low, -room)), float(shown.max()) + room


def _draw_limits(axes: Axes, run: Run, places: Places) -> None:
    """Draw centre and limits, as steps where they differ from casting to casting, and name them at the right."""
    chart = run.chart
    edges = np.concatenate([places - 0.5, places[-1:] + 0.5])
    low, high = (np.append(limit[places], limit[places[-1]]) for limit in (chart.low, chart.high))
    axes.fill_between(edges, low, high, step="post", color=BLUE, alpha=0.08, linewidth=0, gid="within")
    for limit in (low, high):
        axes.step(edges, limit, where="post", color=BLUE, linewidth=1.1)
    axes.axhline(chart.centre, color=BLUE, linewidth=1.5, linestyle=DASHES)
    if run.base is not None and places[0] < run.base < len(run.numbers):
        axes.axvline(run.base - 0.5, color=FAINT, linewidth=1.2, linestyle=DASH_DOT)
        axes.annotate(
            "limits from these", (run.base - 0.5, 1.0), (-4.0, -2.0), axes.get_xaxis_transform(),
            textcoords="offset points", fontsize=SMALL_PT, ha="right", va="top", color=FAINT, bbox=LABEL,
        )  # fmt: skip
    _name_levels(axes, float(low[-1]), chart.centre, float(high[-1]))


def _name_levels(axes: Axes, low: float, centre: float, high: float) -> None:
    """Name centre and limits at the right, a line of words apart where they lie closer."""
    bottom, top = axes.get_ylim()
    lower, middle, upper = ((level - bottom) / (top - bottom) for level in (low, centre, high))
    places = {
        "centre": middle,
        "lower limit": min(lower, middle - WORDS_SHARE),
        "upper limit": max(upper, middle + WORDS_SHARE),
    }
    for words, at in places.items():
        axes.annotate(
            words, (1.0, at), (6.0, 0.0), "axes fraction", textcoords="offset points", fontsize=SMALL_PT,
            va="center", color=BLUE, annotation_clip=False,
        )  # fmt: skip


def _draw_signals(axes: Axes, run: Run, begin: int) -> None:
    """Draw what stands out: filled squares beyond the limits, open diamonds where a run ends."""
    beyond = sorted({signal.at for signal in run.chart.signals if signal.rule == BEYOND and signal.at >= begin})
    runs = sorted({signal.at for signal in run.chart.signals if signal.rule != BEYOND and signal.at >= begin})
    values = run.chart.values
    if beyond:
        axes.plot(beyond, values[beyond], "s", color=RUST, markersize=8, zorder=4, gid="beyond", label=BEYOND)
    if runs:
        axes.plot(
            runs, values[runs], "D", markerfacecolor="none", markeredgecolor=RUST, markeredgewidth=1.8, markersize=11,
            zorder=5, gid="runs", label="a run ends here",
        )  # fmt: skip
    if beyond or runs:
        axes.legend(
            loc="lower right", bbox_to_anchor=(1.0, 1.05), ncols=2, fontsize=SMALL_PT, facecolor=GROUND,
            edgecolor="none", borderaxespad=0.0,
        )  # fmt: skip


def _draw_causes(axes: Axes, keys: Mapping[int, str]) -> None:
    """Draw a letter above each casting with a cause."""
    for at, letter in keys.items():
        axes.axvline(at, color=FAINT, linewidth=1.0, linestyle=DOTS, zorder=1)
        axes.annotate(
            letter, (at, 1.0), (0.0, 3.0), axes.get_xaxis_transform(), textcoords="offset points", ha="center",
            va="bottom", fontsize=SMALL_PT, fontweight="bold", bbox=LABEL, annotation_clip=False,
        )  # fmt: skip


def _key_lines(run: Run, keys: Mapping[int, str]) -> list[str]:
    """Return what the letters mean, a line each; of more than there is room for, those where something stands out."""
    signals = {signal.at for signal in run.chart.signals}
    room = len(keys) if len(keys) <= KEY_LINES else KEY_LINES - 1
    told = sorted(sorted(keys, key=lambda at: (at not in signals, -at))[:room])
    lines = [
        textwrap.shorten(f"{keys[at]}  casting {run.numbers[at]}: {run.causes[at]}", LINE_LETTERS, placeholder=" ...")
        for at in told
    ]
    left = len(keys) - room
    return [*lines, f"and {left} more causes, in the list of signals"] if left else lines


def _number_at(run: Run, at: float) -> str:
    """Return the number of the casting at a tick."""
    place = round(at)
    return str(run.numbers[place]) if 0 <= place < len(run.numbers) else ""


def _letters() -> list[str]:
    """Return names for causes: a to z, aa to zz."""
    single = list(string.ascii_lowercase)
    return [*single, *(one + other for one in single for other in single)]
