"""The picture of a hold test: what the dial showed, the fall with its 95 % band, what is allowed."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

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
from bubblegrade.show.plot_records import Limit

Floats = NDArray[np.floating[Any]]

HOUR_S: Final = 3600.0
SHORT_S: Final = 2.0 * HOUR_S  # a test up to this is drawn in minutes
LINE_LETTERS: Final = 112  # of the words under the heading
WORDS_PT: Final = 15.0  # from one line of words to the next
NEAR_SHARE: Final = 0.35  # of the height shown: limits further above are left out
ERRS: Final = 1.96  # standard uncertainties that a reading's bar reaches


@dataclass(frozen=True)
class Moment:
    """A time that matters."""

    words: str  # "gel, 20 min"
    at_s: float


@dataclass(frozen=True, eq=False)
class Decay:
    """A hold test as it is drawn; readings of shape (n,), the fall of shape (m,)."""

    verdict: str
    read_s: Floats
    read_psig: Floats  # as the dial showed it
    levelled_psig: Floats  # brought to the temperature of the first
    levelled_err_psi: Floats
    at_s: Floats  # rising, as the next
    psig: Floats
    low_psig: Floats  # limits of 95 %
    high_psig: Floats
    allowed_psig: float  # the lowest that is allowed
    moments: tuple[Moment, ...] = ()
    corrected: bool = True  # whether temperatures were read and differ
    limits: tuple[Limit, ...] = ()


@as_picture
def decay_by_time(decay: Decay) -> Figure:
    """Return the pressure by time: readings with their doubt, the fall with its band, the allowed drop."""
    figure = new_figure(9.0, 6.0, "Does the pot hold?", textwrap.fill(decay.verdict, LINE_LETTERS))
    axes = plain(figure.add_axes((0.09, 0.115, 0.875, 0.665)))
    unit, name = (60.0, "min") if float(decay.at_s[-1]) <= SHORT_S else (HOUR_S, "h")
    low, high = _psig_range(decay)
    axes.axhspan(low, decay.allowed_psig, facecolor=RUST, alpha=0.08, linewidth=0, gid="past-allowed")
    axes.axhline(decay.allowed_psig, color=RUST, linewidth=1.6, linestyle=DASHES, gid="allowed")
    above = float(decay.psig[-1]) < decay.allowed_psig
    axes.annotate(
        "lowest that is allowed", (1.0, decay.allowed_psig), (-36.0, 5.0 if above else -5.0), ("axes fraction", "data"),
        textcoords="offset points", fontsize=SMALL_PT, ha="right", va="bottom" if above else "top", color=RUST,
    )  # fmt: skip
    hours = decay.at_s / unit
    axes.fill_between(hours, decay.low_psig, decay.high_psig, color=BLUE, alpha=0.2, linewidth=0, gid="band")
    axes.plot(hours, decay.psig, color=BLUE, linewidth=2.2, gid="fall", label="even fall, with its 95 % band")
    _draw_readings(axes, decay, unit)
    axes.set_ylim(low, high)
    axes.set_xlim(-0.02 * float(hours[-1]), 1.03 * float(hours[-1]))
    _draw_moments(axes, decay, unit)
    _draw_limits(axes, decay, high)
    axes.set_xlabel(f"time after the first reading, {name}")
    axes.set_ylabel("gauge pressure, psi")
    axes.legend(loc="lower left", fontsize=SMALL_PT, frameon=True, facecolor=GROUND, edgecolor="none", framealpha=0.9)
    return figure


def _psig_range(decay: Decay) -> tuple[float, float]:
    """Return the lowest and highest pressure shown; a band that runs far off is cut."""
    reach = 3.0 * max(float(decay.read_psig[0]) - decay.allowed_psig, 0.5)
    seen = np.concatenate([decay.low_psig, decay.high_psig, decay.levelled_psig, decay.read_psig])
    middle = float(decay.levelled_psig[0])
    must = [float(decay.read_psig.min()), float(decay.levelled_psig.min()), float(decay.psig.min())]
    low = min(max(float(seen.min()), middle - reach), *must, decay.allowed_psig)
    high = max(min(float(seen.max()), middle + reach), float(decay.read_psig.max()), float(decay.levelled_psig.max()))
    room = 0.12 * (high - low)
    return low - 2.0 * room, high + room


def _draw_readings(axes: Axes, decay: Decay, unit: float) -> None:
    """Draw the readings: as the dial showed them, and brought to one temperature where that was read."""
    if decay.corrected:
        axes.plot(
            decay.read_s / unit, decay.read_psig, "x", color=FAINT, markersize=8, markeredgewidth=1.8, gid="read",
            label="as the dial showed it",
        )  # fmt: skip
    axes.errorbar(
        decay.read_s / unit, decay.levelled_psig, ERRS * decay.levelled_err_psi, fmt="o", color=INK, markersize=7,
        markeredgecolor=GROUND, capsize=4, linewidth=1.2, zorder=4,
        label="reading, at the first one's temperature" if decay.corrected else "reading",
    )  # fmt: skip


def _draw_moments(axes: Axes, decay: Decay, unit: float) -> None:
    """Draw gel and release as upright lines, their words above the axes."""
    for line, moment in enumerate(decay.moments):
        axes.axvline(moment.at_s / unit, color=INK, linewidth=1.2, linestyle=DOTS)
        late = moment.at_s > float(decay.at_s[-1]) / 2.0
        axes.annotate(
            moment.words, (moment.at_s / unit, 1.0), (0.0, 4.0 + WORDS_PT * line),
            axes.get_xaxis_transform(), textcoords="offset points", ha="right" if late else "left", va="bottom",
            fontsize=SMALL_PT, annotation_clip=False,
        )  # fmt: skip


def _draw_limits(axes: Axes, decay: Decay, high: float) -> None:
    """Draw the limits of the pot that lie near what is shown."""
    low = axes.get_ylim()[0]
    near = [limit for limit in decay.limits if limit.psig <= high + NEAR_SHARE * (high - low)]
    for limit in near:
        axes.axhline(limit.psig, color=RUST, linewidth=1.6, linestyle=DASH_DOT)
        axes.annotate(
            f"{limit.words}: {limit.psig:.4g} psi", (1.0, limit.psig), (-4.0, 4.0), ("axes fraction", "data"),
            textcoords="offset points", fontsize=SMALL_PT, ha="right", va="bottom", color=RUST, bbox=LABEL,
        )  # fmt: skip
    if near:
        axes.set_ylim(low, max(high, max(limit.psig for limit in near) + 0.1 * (high - low)))
