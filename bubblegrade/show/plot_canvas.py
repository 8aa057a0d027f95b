"""The canvas that plots are drawn on: one look, legible without colour, and the same bytes for the same numbers."""

from __future__ import annotations

import functools
import io
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final, ParamSpec

from matplotlib import style
from matplotlib.axes import Axes
from matplotlib.colors import to_hex, to_rgb
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

Drawn = ParamSpec("Drawn")

ROUNDS: Final = 60  # of moving labels apart
TEXT_PT: Final = 11.0
SMALL_PT: Final = 10.0
GROUND: Final = "#fbfaf6"
INK: Final = "#1e1e1e"
FAINT: Final = "#6f6f6a"
RULE: Final = "#dcdad2"
SHADE: Final = "#e6e3d8"
# Colours that keep apart under the common colour blindnesses (after Okabe and Ito, 2008, and Tol, 2021), each with a
# line and a mark of its own.
BLUE: Final = "#0072b2"
RUST: Final = "#c04f00"
GREEN: Final = "#008460"
DASHES: Final = (0, (6, 3))
DOTS: Final = (0, (1.2, 2.2))
DASH_DOT: Final = (0, (7, 2.5, 1.2, 2.5))
ROUND_STEPS: Final = (1.0, 2.0, 5.0)
LABEL: Final = {"boxstyle": "round,pad=0.15", "facecolor": GROUND, "edgecolor": "none", "alpha": 0.85}
STYLE: Final[dict[str, Any]] = {
    "font.family": ["sans-serif"],
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Arial"],
    "font.size": TEXT_PT,
    "figure.dpi": 150,
    "savefig.facecolor": GROUND,
    "text.color": INK,
    "axes.labelcolor": INK,
    "hatch.linewidth": 0.7,
    "hatch.color": "#a9a59a",
    "svg.fonttype": "none",
    "svg.hashsalt": "bubblegrade",
    "text.usetex": False,
}


@dataclass(frozen=True)
class Picture:
    """A finished picture, as text and as pixels."""

    svg: str
    png: bytes


def paled(colour: str, share: float) -> str:
    """Return a colour laid over the ground by a share, opaque: a clear one would fade its hatch to nothing in SVG.

    >>> paled("#000000", 0.0) == GROUND
    True
    """
    red, green, blue = (
        share * over + (1.0 - share) * ground for over, ground in zip(to_rgb(colour), to_rgb(GROUND), strict=True)
    )
    return to_hex((red, green, blue))


def new_figure(width_in: float, height_in: float, title: str, subtitle: str) -> Figure:
    """Return an empty figure, lengths in inches, with its heading at the top left."""
    figure = Figure(figsize=(width_in, height_in), facecolor=GROUND)
    left, top = 0.28 / width_in, 1.0 - 0.2 / height_in
    figure.text(left, top, title, fontsize=14, fontweight="bold", color=INK, va="top")
    figure.text(left, top - 0.31 / height_in, subtitle, fontsize=SMALL_PT, color=FAINT, va="top")
    return figure


def as_picture(draw: Callable[Drawn, Figure]) -> Callable[Drawn, Picture]:
    """Return a function that makes a picture of the figure that `draw` returns, whatever style the machine has set."""

    @functools.wraps(draw)
    def make(*args: Drawn.args, **kwargs: Drawn.kwargs) -> Picture:
        with style.context(["default", STYLE]):
            figure, text, pixels = draw(*args, **kwargs), io.StringIO(), io.BytesIO()
            figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
            figure.savefig(pixels, format="png", metadata={"Software": None})
        return Picture(text.getvalue(), pixels.getvalue())

    return make


def plain(axes: Axes) -> Axes:
    """Return axes in the look of the house: two spines, a faint rule behind each tick of the upright axis."""
    axes.set_facecolor("none")
    axes.spines[["top", "right"]].set_visible(False)
    axes.spines[["left", "bottom"]].set_color(FAINT)
    axes.tick_params(colors=INK, labelsize=SMALL_PT, length=4, color=FAINT)
    axes.grid(axis="y", color=RULE, linewidth=0.8)
    axes.set_axisbelow(True)
    return axes


def log_ticks(axes: Axes, which: str, low: float, high: float) -> None:
    """Give one axis, "x" or "y", a log scale from `low` to `high`, both above 0, with plain numbers."""
    getattr(axes, f"set_{which}scale")("log")
    getattr(axes, f"set_{which}lim")(low, high)
    axis = getattr(axes, f"{which}axis")
    axis.set_major_locator(FixedLocator(round_numbers(low, high)))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_locator(FixedLocator([]))
    axis.set_minor_formatter(NullFormatter())


def round_numbers(low: float, high: float) -> list[float]:
    """Return the numbers 1, 2 and 5 times a power of ten from `low` to `high`, both above 0.

    >>> round_numbers(0.04, 1.2)
    [0.05, 0.1, 0.2, 0.5, 1.0]
    """
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    numbers = [float(f"{step * 10.0**power:.6g}") for power in powers for step in ROUND_STEPS]
    return [number for number in numbers if low <= number <= high]


def spread_out(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return heights near those `wanted`, in the same order, about `gap` apart and between `low` and `high`.

    >>> [round(height, 2) for height in spread_out([0.5, 0.5, 0.0], 0.1, 0.0, 1.0)]
    [0.45, 0.55, 0.0]
    """
    order = sorted(range(len(wanted)), key=lambda number: wanted[number])
    level = [wanted[number] for number in order]
    for _ in range(ROUNDS):
        for lower, upper in pairwise(range(len(level))):
            short = gap - (level[upper] - level[lower])
            if short > 0.0:
                level[lower], level[upper] = level[lower] - short / 2.0, level[upper] + short / 2.0
        level = [min(max(height, low), high) for height in level]
    return [level[order.index(number)] for number in range(len(wanted))]
