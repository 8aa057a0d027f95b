"""The picture of a casting's sizes: how many voids each class of diameters holds, with their exact limits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray

from bubblegrade.show.plot_canvas import DASHES, INK, RUST, SMALL_PT, as_picture, log_ticks, new_figure, plain

Floats = NDArray[np.floating[Any]]
WIDE_IN: Final = 4.8  # legible without moving it on a telephone


@dataclass(frozen=True, eq=False)
class Distribution:
    """Classes of diameters, (n,) each, in one unit."""

    lower: Floats
    upper: Floats
    count: Floats
    low: Floats  # exact 95 % limits of the mean behind the count
    high: Floats
    smallest: float  # countable
    unit: str


@as_picture
def sizes_in_classes(sizes: Distribution) -> Figure:
    """Return the picture; where nothing was counted it says so."""
    figure = new_figure(WIDE_IN, 3.6, "Sizes", "voids by diameter, and the 95 % limits of their number")
    axes = plain(figure.add_axes((0.14, 0.17, 0.82, 0.58)))
    if not len(sizes.count):
        axes.set_axis_off()
        axes.text(0.5, 0.5, "no void was counted", ha="center", va="center", transform=axes.transAxes)
        return figure
    log_ticks(axes, "x", min(float(sizes.lower[0]), sizes.smallest) / 1.1, float(sizes.upper[-1]) * 1.1)
    middle = np.sqrt(sizes.lower * sizes.upper)
    axes.bar(
        sizes.lower, sizes.count, sizes.upper - sizes.lower, align="edge", color="#9db8c9", edgecolor=INK, linewidth=0.8
    )
    axes.vlines(middle, sizes.low, sizes.high, color=INK, linewidth=1.2)
    axes.axvline(sizes.smallest, color=RUST, linewidth=1.4, linestyle=DASHES)
    axes.annotate(
        "smallest countable", (sizes.smallest, 1.0), (4.0, -2.0), ("data", "axes fraction"), textcoords="offset points",
        fontsize=SMALL_PT, color=RUST, va="top",
    )  # fmt: skip
    top = float(np.max(sizes.high[np.isfinite(sizes.high)], initial=1.0))
    axes.set_ylim(0.0, math.ceil(1.05 * top))
    axes.set_xlabel(f"diameter, {sizes.unit}")
    axes.set_ylabel("voids")
    return figure
