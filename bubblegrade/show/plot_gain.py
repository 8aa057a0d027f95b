"""Pictures to plan by: the gain of each further 5 psi, and what pressure leaves of a void."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from bubblegrade.show.plot_canvas import (
    BLUE,
    DASH_DOT,
    DASHES,
    DOTS,
    FAINT,
    GREEN,
    GROUND,
    INK,
    LABEL,
    RUST,
    SHADE,
    SMALL_PT,
    as_picture,
    log_ticks,
    new_figure,
    plain,
    spread_out,
)
from bubblegrade.show.plot_records import Gain, Left
from bubblegrade.show.words import percent, rounded

FEWEST: Final = 0.05  # voids: below, the upright axis of a count ends
ROOM: Final = 1.5  # above the largest count, as a ratio
LIMIT_STYLES: Final = (DASH_DOT, DOTS, DASHES)
LIMIT_FIRST: Final = "Never above the rated working pressure on the pot's plate."
LIFT: Final = 1.35  # how far above the band the chosen setting's words stand, as a ratio
WORDS_PT: Final = 17.0  # from one line of words to the next
EARLY: Final = 0.35  # of the axes' width: there a limit's words stand at the right of its line
MOST_WORDS: Final = 4  # settings asked for that have room for words
TICKS: Final = 8  # most of the numbers along the top
MOST_FIGURES: Final = 68  # of all the numbers above bars, that these stand clear of each other
BAR_SHARE: Final = 0.62  # of a step that its bar takes


@as_picture
def gain_by_pressure(gain: Gain) -> Figure:
    """Return how many visible voids are expected by gauge pressure, and what each further 5 psi takes away.

    The target, the chosen setting and every limit are lines with words; above the lowest limit the ground is hatched.
    """
    said = f"expected number of voids that can be seen, {rounded(gain.visible_mm)} mm and larger"
    figure = new_figure(9.6, 7.6, "What more pressure brings", said)
    above = plain(figure.add_axes((0.085, 0.385, 0.885, 0.445)))
    below = plain(figure.add_axes((0.085, 0.095, 0.885, 0.205)))
    _draw_counts(above, gain)
    _draw_steps(below, gain)
    ends = _psig_range(gain)
    for axes in (above, below):
        axes.set_xlim(*ends)
        _draw_limits(axes, gain)
    _name_limits(above, gain)
    below.set_xlabel("gauge pressure, psi")
    return figure


def _psig_range(gain: Gain) -> tuple[float, float]:
    """Return the lowest and highest pressure shown."""
    highest = max([float(gain.psig[-1]), *(limit.psig for limit in gain.limits)])
    room = 0.03 * (highest - float(gain.psig[0]))
    return float(gain.psig[0]) - room, highest + 2.0 * room


def _draw_counts(axes: Axes, gain: Gain) -> None:
    """Draw the expected number with its band, the target and the chosen setting."""
    seen = np.concatenate([gain.expected, gain.low, gain.high, [gain.target]])
    seen = seen[np.isfinite(seen)]
    low = max(float(seen.min()) / ROOM, FEWEST)
    log_ticks(axes, "y", low, max(float(seen.max()), 10.0 * low) * ROOM)
    axes.fill_between(gain.psig, np.maximum(gain.low, low), gain.high, color=BLUE, alpha=0.2, linewidth=0, gid="band")
    axes.plot(gain.psig, gain.expected, "o-", color=BLUE, linewidth=2.2, markersize=5.5, gid="expected")
    axes.axhline(gain.target, color=INK, linewidth=1.4, linestyle=DASHES)
    axes.annotate(
        f"target: at most {gain.target:g}", (0.0, gain.target), (6.0, -5.0), ("axes fraction", "data"),
        textcoords="offset points", fontsize=SMALL_PT, va="top", bbox=LABEL,
    )  # fmt: skip
    axes.set_ylabel("voids, expected and 90 %")
    axes.tick_params(labelbottom=False)
    if math.isfinite(gain.chosen_psig):
        number = float(np.interp(gain.chosen_psig, gain.psig, gain.expected))
        axes.plot(
            gain.chosen_psig, number, "D", color=INK, markersize=11, markeredgecolor=GROUND, zorder=6, gid="chosen"
        )
        top = float(np.interp(gain.chosen_psig, gain.psig, gain.high))
        late = gain.chosen_psig > (gain.psig[0] + gain.psig[-1]) / 2.0
        axes.annotate(
            f"chosen: {gain.chosen_psig:g} psi, {rounded(number)} voids", (gain.chosen_psig, number),
            (gain.chosen_psig, LIFT * top), ha="right" if late else "left", fontweight="bold", bbox=LABEL, zorder=7,
            arrowprops={"arrowstyle": "-", "color": INK, "linewidth": 1.0, "relpos": (1.0 if late else 0.0, 0.0)},
        )  # fmt: skip


def _draw_steps(axes: Axes, gain: Gain) -> None:
    """Draw how many voids fewer each step leaves to be seen, the number above each bar that has room for it."""
    fewer = -np.diff(gain.expected)
    wide = np.diff(gain.psig)
    middles = gain.psig[:-1] + wide / 2.0
    axes.bar(middles, fewer, wide * BAR_SHARE, color="#9db8c9", edgecolor=INK, linewidth=0.8)
    numbers = [rounded(less, 2) for less in fewer]
    each = max(math.ceil(len(numbers) * max(map(len, numbers), default=1) / MOST_FIGURES), 1)
    for middle, less, number in zip(middles[::each], fewer[::each], numbers[::each], strict=True):
        axes.annotate(
            number, (middle, max(less, 0.0)), (0.0, 3.0), textcoords="offset points", ha="center",
            fontsize=SMALL_PT,
        )  # fmt: skip
    most = float(np.max(fewer, initial=0.0))
    axes.set_ylim(min(float(np.min(fewer, initial=0.0)), 0.0), 1.3 * most if most > 0.0 else 1.0)
    axes.set_ylabel("fewer voids")
    step = f"{wide[0]:g}" if len(wide) else "5"
    axes.set_title(f"through each further {step} psi", loc="left", fontsize=SMALL_PT, color=FAINT)


def _draw_limits(axes: Axes, gain: Gain) -> None:
    """Draw a line for each limit and hatch everything above the lowest."""
    if not gain.limits:
        return
    lowest = min(limit.psig for limit in gain.limits)
    axes.axvspan(
        lowest, axes.get_xlim()[1], facecolor=SHADE, edgecolor="#a9a59a", hatch="\\\\\\\\", linewidth=0.0, alpha=0.8,
        zorder=0, gid="above-limits",
    )  # fmt: skip
    for number, limit in enumerate(gain.limits):
        axes.axvline(limit.psig, color=RUST, linewidth=1.8, linestyle=LIMIT_STYLES[number % len(LIMIT_STYLES)])


def _name_limits(axes: Axes, gain: Gain) -> None:
    """Lengthen each limit's line above the axes and write its words beside it, the lowest limit's nearest."""
    points = axes.get_window_extent().height * 72.0 / axes.figure.dpi
    low, high = axes.get_xlim()
    for line, limit in enumerate(sorted(gain.limits, key=lambda one: one.psig)):
        height = 1.0 + WORDS_PT * (line + 1) / points
        axes.plot(
            [limit.psig] * 2, [1.0, height], color=RUST, linewidth=1.2, clip_on=False,
            transform=axes.get_xaxis_transform(),
        )  # fmt: skip
        early = (limit.psig - low) / (high - low) < EARLY
        axes.annotate(
            f"{limit.words}: {limit.psig:g} psi", (limit.psig, height), (5.0 if early else -5.0, 0.0),
            axes.get_xaxis_transform(), textcoords="offset points", ha="left" if early else "right", va="top",
            fontsize=SMALL_PT, color=RUST, bbox=LABEL, annotation_clip=False,
        )  # fmt: skip


@as_picture
def left_by_pressure(left: Left) -> Figure:
    """Return what pressure leaves of a void: its diameter, projected area and volume."""
    steps = np.diff(left.psig)
    even = len(steps) > 0 and np.allclose(steps, steps[0])
    said = f"share of what it was at {left.since}" + (f"; a mark every {steps[0]:g} psi" if even else "")
    figure = new_figure(9.0, 6.2, "What pressure leaves of a void", said)
    axes = plain(figure.add_axes((0.09, 0.125, 0.735, 0.69)))
    lines = (
        ("diameter", left.diameter_share, BLUE, "solid", "o"),
        ("projected area", left.area_share, GREEN, DASHES, "s"),
        ("volume", left.volume_share, RUST, DASH_DOT, "^"),
    )
    for words, share, colour, dashes, mark in lines:
        axes.plot(
            left.psig, 100.0 * share, color=colour, linestyle=dashes, linewidth=2.2, marker=mark, markersize=6.5,
            markeredgecolor=GROUND, clip_on=False, zorder=3, gid=words.replace(" ", "-"),
        )  # fmt: skip
    top = max(104.0, 104.0 * max(float(share.max()) for _, share, *_ in lines))
    axes.set_ylim(0.0, top)
    axes.set_xlim(float(left.psig[0]), float(left.psig[-1]))
    _draw_asked(axes, left)
    ends = [100.0 * float(share[-1]) for _, share, *_ in lines]
    for (words, share, colour, *_), end, height in zip(
        lines, ends, spread_out(ends, 0.096 * top, 0.03 * top, 0.97 * top), strict=True
    ):
        axes.annotate(
            f"{words}\n{percent(float(share[-1]))} left", (float(left.psig[-1]), end), (1.035, height),
            textcoords=("axes fraction", "data"), va="center", color=colour, fontweight="bold", fontsize=SMALL_PT,
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 0.8}, annotation_clip=False,
        )  # fmt: skip
    axes.set_ylabel("left, %")
    axes.set_xlabel("gauge pressure, psi")
    _add_absolute(axes, left)
    figure.text(0.98, 0.016, LIMIT_FIRST, fontsize=SMALL_PT, color=FAINT, ha="right")
    return figure


def _draw_asked(axes: Axes, left: Left) -> None:
    """Point out the settings asked for; a few of them with the diameter that each leaves, a line of words each."""
    few = len(left.asked_psig) <= MOST_WORDS
    for line, psig in enumerate(reversed(left.asked_psig)):
        share = float(np.interp(psig, left.psig, left.diameter_share))
        axes.axvline(psig, color=INK, linewidth=1.2, linestyle=DOTS, clip_on=False, zorder=2, gid=f"asked-{psig:g}")
        if not few:
            continue
        late = psig > float(left.psig[0] + left.psig[-1]) / 2.0
        axes.annotate(
            f"{psig:.4g} psi: {100.0 * share:.1f} % of the diameter", (psig, 0.0),
            (-5.0 if late else 5.0, 6.0 + WORDS_PT * line),
            axes.get_xaxis_transform(), textcoords="offset points", ha="right" if late else "left",
            fontsize=SMALL_PT, bbox=LABEL, zorder=5,
        )  # fmt: skip


def _add_absolute(axes: Axes, left: Left) -> None:
    """Put the absolute pressure along the top."""
    upper = axes.secondary_xaxis("top")
    shown = np.arange(0, len(left.psig), math.ceil(len(left.psig) / TICKS))
    upper.set_xticks(left.psig[shown], [f"{left.absolute_kpa[number]:.0f}" for number in shown])
    upper.tick_params(labelsize=SMALL_PT, color=FAINT, labelcolor=FAINT)
    upper.spines["top"].set_color(FAINT)
    upper.set_xlabel("absolute pressure, kPa", color=FAINT, fontsize=SMALL_PT)
