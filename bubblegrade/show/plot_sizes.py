"""Pictures of measured sizes: diameters by absolute pressure, and the distribution at each setting."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray
from scipy.special import ndtr

from bubblegrade.show.plot_canvas import (
    BLUE,
    DASHES,
    FAINT,
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
)
from bubblegrade.show.plot_records import Setting, Shrinkage
from bubblegrade.show.words import rounded
from bubblegrade.units import count_of

Floats = NDArray[np.floating[Any]]

MARKS: Final = "os^Dv<>p"  # one a cup, in turn
COLUMN: Final = 0.62  # of the room between two settings that a setting's voids take
MOST_COLUMN: Final = 0.09  # natural log of pressure
EDGE_ROOM: Final = 0.07  # of the settings' span in the logarithm, left and right of them
GOLDEN: Final = 0.618034  # steps of this part of the width spread marks evenly without drawing lots
MARGIN: Final = 1.25  # room beyond the largest and smallest diameter, as a ratio
CLASSES_PER_DECADE: Final = 12
LABEL_ROOM: Final = 0.085  # of the axes' width that the label of one setting takes
HATCH: Final = "////"


@as_picture
def sizes_by_pressure(settings: Sequence[Setting], fit: Shrinkage | None = None, *, unit: str = "mm") -> Figure:
    """Return diameters by absolute pressure on log axes, with the fit and Boyle's line.

    Parameters
    ----------
    settings
        At least one; those without voids keep their place.
    fit
        The law fitted to them; None draws the voids alone.
    unit
        Of all lengths: mm or px.
    """
    said = f"{count_of(sum(len(one.diameters) for one in settings), 'void')} at {count_of(len(settings), 'setting')}"
    figure = new_figure(9.6, 6.6, "Diameters by pressure", said)
    axes = plain(figure.add_axes((0.085, 0.17, 0.885, 0.585)))
    pressures = np.array([one.absolute_kpa for one in settings])
    half = _half_column(pressures)
    low, high = _span(settings, fit)
    log_ticks(axes, "y", low, high)
    room = max(2.2 * half, EDGE_ROOM * float(np.ptp(np.log(pressures))))
    edges = float(pressures.min()) * math.exp(-room), float(pressures.max()) * math.exp(room)
    log_ticks(axes, "x", *edges)
    _name_settings(axes, settings)
    for setting in settings:
        _draw_setting(axes, setting, half)
    _shade_uncountable(axes, settings, edges, low)
    if fit is not None:
        _draw_fit(axes, fit)
    axes.set_ylabel(f"diameter, {unit}")
    axes.set_xlabel("absolute pressure, kPa, below each setting")
    _explain(figure, fit, shaded=any(one.countable > 0.0 for one in settings))
    return figure


def _half_column(pressures: Floats) -> float:
    """Return half the width of a setting's column in the natural log of pressure."""
    gaps = np.diff(np.unique(np.log(pressures)))
    return min(MOST_COLUMN, COLUMN / 2.0 * float(gaps.min())) if len(gaps) else MOST_COLUMN


def _span(settings: Sequence[Setting], fit: Shrinkage | None) -> tuple[float, float]:
    """Return the lowest and highest diameter that must be seen, with some room."""
    seen = [one.diameters for one in settings]
    seen += [np.array([one.countable, one.median_low, one.median_high]) for one in settings]
    seen += [] if fit is None else [fit.low, fit.high, fit.boyle]
    values = np.concatenate(seen)
    values = values[np.isfinite(values) & (values > 0.0)]
    return (float(values.min()) / MARGIN, float(values.max()) * MARGIN) if len(values) else (0.1, 1.0)


def _name_settings(axes: Axes, settings: Sequence[Setting]) -> None:
    """Put each setting's words and absolute pressure below its column; names too near each other go a line lower."""
    low, high = np.log(axes.get_xlim())
    lines, reached = [], [-math.inf, -math.inf]
    for setting in settings:
        at = (math.log(setting.absolute_kpa) - low) / (high - low)
        line = next((line for line in (0, 1) if at - reached[line] >= LABEL_ROOM), 1)
        reached[line] = at
        lines.append("\n\n" * line + f"{setting.words}\n{setting.absolute_kpa:.0f}")
    axes.set_xticks([one.absolute_kpa for one in settings], lines)


def _draw_setting(axes: Axes, setting: Setting, half: float) -> None:
    """Draw a setting's voids, a mark a cup, and its fitted median."""
    wide = 2.0 * half / max(len(setting.cups), 1)
    for number, cup in enumerate(setting.cups):
        spread = (np.arange(1, len(cup.diameters) + 1) * GOLDEN) % 1.0
        off = -half + wide * (number + 0.1 + 0.8 * spread)
        axes.plot(
            setting.absolute_kpa * np.exp(off), cup.diameters, MARKS[number % len(MARKS)],
            markersize=4.2, markerfacecolor="none", markeredgecolor=FAINT, markeredgewidth=0.7, alpha=0.55, zorder=2,
        )  # fmt: skip
    if math.isfinite(setting.median):
        reach = [[setting.median - setting.median_low], [setting.median_high - setting.median]]
        axes.errorbar(
            setting.absolute_kpa, setting.median, yerr=np.nan_to_num(reach), fmt="D", color=INK, markersize=8.5,
            markeredgecolor=GROUND, markeredgewidth=1.2, elinewidth=1.8, capsize=6.0, capthick=1.8, zorder=6,
        )  # fmt: skip
        axes.annotate(
            rounded(setting.median), (setting.absolute_kpa, setting.median), (9.0, 7.0), textcoords="offset points",
            fontsize=SMALL_PT, fontweight="bold", bbox=LABEL, zorder=7,
        )  # fmt: skip


def _shade_uncountable(axes: Axes, settings: Sequence[Setting], edges: tuple[float, float], low: float) -> None:
    """Hatch below each setting's countable limit, from halfway to the setting before to halfway to the next."""
    ordered = sorted(settings, key=lambda one: one.absolute_kpa)
    halves = [math.sqrt(one.absolute_kpa * other.absolute_kpa) for one, other in pairwise(ordered)]
    bounds = [edges[0], *halves, edges[1]]
    for setting, left, right in zip(ordered, bounds[:-1], bounds[1:], strict=True):
        if setting.countable > low:
            axes.fill_between(
                [left, right], low, setting.countable,
                facecolor=SHADE, edgecolor="#a9a59a", hatch=HATCH, linewidth=0.0, alpha=0.8, zorder=1,
                gid=f"too-small-{setting.words}".replace(" ", "-"),
            )  # fmt: skip
            axes.plot([left, right], [setting.countable] * 2, color=FAINT, linewidth=1.0, zorder=1.5)


def _draw_fit(axes: Axes, fit: Shrinkage) -> None:
    """Draw the fitted line with its band, and Boyle's."""
    axes.fill_between(fit.absolute_kpa, fit.low, fit.high, color=BLUE, alpha=0.2, linewidth=0.0, zorder=3, gid="band")
    axes.plot(fit.absolute_kpa, fit.median, color=BLUE, linewidth=2.2, zorder=4, gid="fit")
    axes.plot(fit.absolute_kpa, fit.boyle, color=RUST, linewidth=2.2, linestyle=DASHES, zorder=5, gid="boyle")


def _explain(figure: Figure, fit: Shrinkage | None, *, shaded: bool) -> None:
    """Put the key above the axes."""
    void = Line2D([], [], linestyle="none", marker="o", markerfacecolor="none", markeredgecolor=FAINT)
    median = Line2D([], [], linestyle="none", marker="D", color=INK, markersize=7.5)
    items: list[tuple[Any, str]] = [(void, "one void, another mark for each cup"), (median, "fitted median, 95 %")]
    if fit is not None:
        between = f"{rounded(fit.exponent_low)} to {rounded(fit.exponent_high)}"
        line = Line2D([], [], color=BLUE, linewidth=2.2)
        items.append(((Patch(color=BLUE, alpha=0.2), line), f"fit: exponent {rounded(fit.exponent)} ({between})"))
        items.append((Line2D([], [], color=RUST, linewidth=2.2, linestyle=DASHES), "Boyle: exponent 1/3"))
    if shaded:
        patch = Patch(facecolor=SHADE, edgecolor="#a9a59a", hatch=HATCH, linewidth=0.0)
        items.append((patch, "too small to count"))
    figure.legend(
        [item[0] for item in items], [item[1] for item in items],
        loc="upper left", bbox_to_anchor=(0.022, 0.885), ncols=3, frameon=False, fontsize=SMALL_PT, handlelength=2.6,
        columnspacing=2.2, labelspacing=0.5, alignment="left",
    )  # fmt: skip


@as_picture
def sizes_at_each_setting(settings: Sequence[Setting], *, unit: str = "mm") -> Figure:
    """Return the size distribution at each setting, one below the other, with the fitted population.

    Voids too small to count are drawn hollow on hatched ground; the fitted population goes on there, dashed. A setting
    without voids keeps its row. Parameters as for `sizes_by_pressure`.
    """
    row_in, head_in, foot_in = 1.5, 0.75, 0.62
    high_in = head_in + row_in * len(settings) + foot_in
    figure = new_figure(9.0, high_in, "Sizes at each setting", "voids in classes of equal ratio, and the fitted sizes")
    low, high = _span(settings, None)
    for number, setting in enumerate(settings):
        bottom = foot_in + row_in * (len(settings) - 1 - number)
        axes = plain(figure.add_axes((0.235, bottom / high_in, 0.735, (row_in - 0.28) / high_in)))
        log_ticks(axes, "x", low, high)
        _draw_distribution(axes, setting, low, high)
        said = [setting.words, f"{setting.absolute_kpa:.0f} kPa absolute", count_of(len(setting.cups), "cup")]
        said.append(count_of(len(setting.diameters), "void"))
        axes.text(-0.278, 0.98, said[0], transform=axes.transAxes, fontweight="bold", va="top")
        axes.text(-0.278, 0.76, "\n".join(said[1:]), transform=axes.transAxes, fontsize=SMALL_PT, va="top")
        if number < len(settings) - 1:
            axes.tick_params(labelbottom=False)
        else:
            axes.set_xlabel(f"diameter, {unit}")
    return figure


def _draw_distribution(axes: Axes, setting: Setting, low: float, high: float) -> None:
    """Draw one setting's histogram, fitted population and countable limit."""
    step = math.log(10.0) / CLASSES_PER_DECADE
    anchor = setting.countable or low  # no class lies on both sides of the limit
    first = math.floor(math.log(low / anchor) / step)
    edges = anchor * np.exp(step * np.arange(first, math.ceil(math.log(high / anchor) / step) + 1))
    count, _ = np.histogram(setting.diameters, edges)
    counted = edges[:-1] >= anchor * (1.0 - 1e-9) if setting.countable else np.ones(len(count), bool)
    wide = np.diff(edges)
    axes.bar(edges[:-1], np.where(counted, count, 0), wide, align="edge", color="#9db8c9", edgecolor=INK, linewidth=0.8)
    axes.bar(edges[:-1], np.where(counted, 0, count), wide, align="edge", color="none", edgecolor=FAINT, linewidth=0.8)
    top = 1.35 * max(int(count.max()) if len(count) else 0, 2)
    if setting.countable > low:
        axes.axvspan(
            low, setting.countable, facecolor=SHADE, edgecolor="#a9a59a", hatch=HATCH, linewidth=0.0, alpha=0.8,
            zorder=0, gid=f"too-small-{setting.words}".replace(" ", "-"),
        )  # fmt: skip
        axes.axvline(setting.countable, color=FAINT, linewidth=1.0)
        axes.text(
            setting.countable,
            top,
            " countable from " + rounded(setting.countable),
            fontsize=SMALL_PT,
            va="top",
            bbox=LABEL,
        )
    if not counted.any() or not count[counted].any():
        axes.text(0.6, 0.5, "no countable void", transform=axes.transAxes, color=FAINT, ha="center", va="center")
    elif setting.log_sd > 0.0:
        _draw_population(axes, setting, int(count[counted].sum()), step, top)
    axes.set_ylim(0.0, top)
    axes.set_ylabel("voids", fontsize=SMALL_PT)
    axes.yaxis.set_major_locator(MaxNLocator(nbins=3, integer=True))


def _draw_population(axes: Axes, setting: Setting, counted: int, step: float, top: float) -> None:
    """Draw how many voids the fitted population puts into a class about each size, and mark its median."""
    low, high = axes.get_xlim()
    sizes = np.geomspace(low, high, 240)
    off = np.log(sizes / setting.median) / setting.log_sd
    half = step / 2.0 / setting.log_sd
    limit = math.log(setting.countable / setting.median) / setting.log_sd if setting.countable else -math.inf
    whole = counted / max(1.0 - float(ndtr(limit)), 1e-9)
    expected = whole * (ndtr(off + half) - ndtr(off - half))
    above = sizes >= setting.countable
    axes.plot(sizes[above], expected[above], color=BLUE, linewidth=2.0, zorder=4, gid="population")
    axes.plot(sizes[~above], expected[~above], color=BLUE, linewidth=2.0, linestyle=DASHES, zorder=4)
    axes.plot([setting.median], [0.0], marker="^", color=INK, markersize=9, clip_on=False, zorder=6)
    axes.text(
        0.99, 0.96, f"median {rounded(setting.median)}", transform=axes.transAxes, fontweight="bold", ha="right",
        va="top", fontsize=SMALL_PT, bbox=LABEL,
    )  # fmt: skip
    axes.set_ylim(0.0, top)
