"""Pictures of voids under pressure, each as SVG text and PNG bytes, from plain numbers.

Marks, dashes, hatches and words tell apart what colours do, and the same numbers give the same bytes.

    settings, fit ──> sizes_by_pressure        diameters on log axes, the fit beside Boyle's line
    settings ──────> sizes_at_each_setting     the distribution at each setting, the countable limit shaded
    gain ──────────> gain_by_pressure          expected visible voids, target, chosen setting, limits
    left ──────────> left_by_pressure          the prediction alone: diameter, area and volume left
"""

from __future__ import annotations

from bubblegrade.show.plot_canvas import Picture
from bubblegrade.show.plot_gain import gain_by_pressure, left_by_pressure
from bubblegrade.show.plot_records import Cup, Gain, Left, Limit, Setting, Shrinkage
from bubblegrade.show.plot_sizes import sizes_at_each_setting, sizes_by_pressure

__all__ = [
    "Cup",
    "Gain",
    "Left",
    "Limit",
    "Picture",
    "Setting",
    "Shrinkage",
    "gain_by_pressure",
    "left_by_pressure",
    "sizes_at_each_setting",
    "sizes_by_pressure",
]
