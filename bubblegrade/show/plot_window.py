"""The picture of the resin's window: the timeline above, and below what becomes of each size of void by pressure."""

from __future__ import annotations

import math
import textwrap
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from bubblegrade.pressure.situation import psi
from bubblegrade.pressure.window import Window, WindowRow
from bubblegrade.show.plot_canvas import (
    BLUE,
    DOTS,
    FAINT,
    GREEN,
    INK,
    LABEL,
    RULE,
    RUST,
    SHADE,
    SMALL_PT,
    as_picture,
    log_ticks,
    new_figure,
    paled,
    plain,
)
from bubblegrade.show.window_tables import time_words, verdict_words

SIZES_MM: Final = (0.03, 3.0)  # shown, at least
LINE_LETTERS: Final = 112  # of the words under the heading
LABEL_SHARE: Final = 0.085  # of the time shown: marks nearer to the next one are not named
BAR: Final = 0.62  # height of a bar over the distance of two
MINUTE_S: Final = 60.0


@as_picture
def sizes_by_pressure(found: Window) -> Figure:
    """Return the picture: when the pressure stands and the resin gels, and which sizes of void are left to see."""
    rows = len(found.rows)
    figure = new_figure(
        9.0, 4.6 + 0.45 * rows, "How long the resin gives", textwrap.fill(verdict_words(found), LINE_LETTERS)
    )
    tall = 4.6 + 0.45 * rows
    _draw_timeline(plain(figure.add_axes((0.12, 1.0 - 2.15 / tall, 0.85, 0.55 / tall))), found)
    _draw_sizes(plain(figure.add_axes((0.12, 0.95 / tall, 0.85, 1.0 - 4.0 / tall))), found)
    return figure


def _draw_timeline(axes: Axes, found: Window) -> None:
    """Draw the steps as a bar over time, and gel with its 95 %."""
    steps, gel = found.question.steps, found.gel
    marks = [
        ("mixed", steps.mixing_s),
        ("poured", steps.poured_s),
        ("shut", steps.closed_s),
        ("pressure", steps.pressed_s),
    ]
    end = 1.04 * max(gel.high, steps.pressed_s)
    last, named = 0.0, math.inf
    for name, at in reversed(marks):
        if at > 0.0 and named - at > LABEL_SHARE * end:
            axes.annotate(
                name, (at / MINUTE_S, 0.42), (0.0, 4.0), textcoords="offset points", ha="right", fontsize=SMALL_PT
            )
            named = at
    for _, at in marks:
        axes.barh(
            0.0, (at - last) / MINUTE_S, left=last / MINUTE_S, height=0.8, color=SHADE, edgecolor=INK, linewidth=0.8
        )
        last = at
    axes.barh(0.0, max(gel.low - last, 0.0) / MINUTE_S, left=last / MINUTE_S, height=0.8, color=BLUE, alpha=0.35)
    axes.barh(
        0.0, (gel.high - gel.low) / MINUTE_S, left=gel.low / MINUTE_S, height=0.8, facecolor=paled(RUST, 0.25),
        edgecolor=RUST, hatch="//", linewidth=0.0, gid="gel",
    )  # fmt: skip
    axes.axvline(gel.value / MINUTE_S, ymin=0.05, ymax=0.95, color=RUST, linewidth=2.2)
    axes.annotate(
        f"gel, {time_words(gel.value)}", (gel.value / MINUTE_S, 0.42), (0.0, 4.0), textcoords="offset points",
        ha="center", fontsize=SMALL_PT, color=RUST,
    )  # fmt: skip
    axes.set_ylim(-0.5, 0.5)
    axes.set_xlim(0.0, end / MINUTE_S)
    axes.set_yticks([])
    axes.set_xlabel("minutes from the first stir; hatched: when gel may come, 95 %", fontsize=SMALL_PT)


def _draw_sizes(axes: Axes, found: Window) -> None:
    """Draw for each pressure which sizes are out of sight, left to see, or risen out."""
    low, high = _size_range(found)
    log_ticks(axes, "x", low, high)
    for place, row in enumerate(found.rows):
        _draw_row(axes, place, row, low, high)
    axes.set_yticks(range(len(found.rows)))
    axes.set_yticklabels([psi(row.gauge.psig) if row.gauge.psig > 0.0 else "open air" for row in found.rows])
    axes.set_ylim(len(found.rows) - 0.4, -0.6)
    axes.grid(visible=False, axis="y")
    axes.set_xlabel("diameter of a void in open air, mm")
    drawn = [("below sight at gel", BLUE, ""), ("left to see", RUST, "xx")]
    if found.question.flow is not None:
        drawn += [("perhaps risen out", RULE, "//"), ("risen out", GREEN, "")]
    handles = [
        Patch(facecolor=paled(colour, 0.45), hatch=hatch, edgecolor=FAINT, linewidth=0.6, label=name)
        for name, colour, hatch in drawn
    ]
    axes.legend(
        handles=handles, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4, frameon=False, fontsize=SMALL_PT
    )


def _draw_row(axes: Axes, place: int, row: WindowRow, low: float, high: float) -> None:
    """Draw one pressure as a bar in parts."""
    stays = high if math.isnan(row.out_hardly_mm) else row.out_hardly_mm
    leaves = high if math.isnan(row.out_surely_mm) else row.out_surely_mm
    sight = min(row.seen_from_mm, high)
    edges = np.clip([low, sight, max(stays, sight), max(leaves, sight), high], low, high)
    for left, right, colour, hatch, name in zip(
        edges[:-1],
        edges[1:],
        (BLUE, RUST, RULE, GREEN),
        ("", "xx", "//", ""),
        ("unseen", "seen", "perhaps", "out"),
        strict=True,
    ):
        if right > left:
            axes.barh(
                place, right - left, left=left, height=BAR, facecolor=paled(colour, 0.45), hatch=hatch,
                edgecolor=FAINT, linewidth=0.6, gid=f"{name}-{place}",
            )  # fmt: skip
    if row.seen_from_mm < high:
        axes.annotate(
            f"{row.seen_from_mm:.2g}",
            (row.seen_from_mm, place),
            ha="center",
            va="center",
            fontsize=SMALL_PT,
            bbox=LABEL,
        )
    if math.isfinite(row.out_surely_mm) and row.out_surely_mm < high:
        axes.annotate(
            f"{row.out_surely_mm:.2g}",
            (row.out_surely_mm, place),
            ha="center",
            va="center",
            fontsize=SMALL_PT,
            bbox=LABEL,
        )
    axes.axhline(place, color=FAINT, linewidth=0.4, linestyle=DOTS, zorder=0)


def _size_range(found: Window) -> tuple[float, float]:
    """Return the smallest and the largest size shown."""
    seen = [row.seen_from_mm for row in found.rows] + [row.out_surely_mm for row in found.rows]
    finite = [size for size in seen if math.isfinite(size) and size > 0.0]
    return min(SIZES_MM[0], *(size / 2.0 for size in finite)), max(SIZES_MM[1], *(size * 1.6 for size in finite))
