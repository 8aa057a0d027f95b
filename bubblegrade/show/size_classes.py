"""Size classes of outlined voids: each has a colour and a line of its own, so that either tells them apart.

The colours keep apart under the common colour blindnesses (after Okabe and Ito, 2008, and Tol, 2021).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.grading_run import Casting

Colour = tuple[int, int, int]  # red, green, blue

LIMITS_MM: Final = (0.2, 0.5, 1.0)  # twice what the eye sees unaided, then steps of about two
LIMITS_PX: Final = (10.0, 20.0, 40.0)


@dataclass(frozen=True)
class Style:
    """How the outline of a void looks."""

    colour: Colour
    heavy: bool = False  # drawn twice as wide
    double: bool = False  # a second line around the first
    ticks: bool = False  # four short strokes outwards


STYLES: Final = (
    Style((0, 114, 178)),
    Style((0, 132, 96), heavy=True),
    Style((213, 94, 0), double=True),
    Style((170, 51, 119), heavy=True, ticks=True),
)


@dataclass(frozen=True)
class SizeClass:
    """One class: its style, its limits in words, and which voids are in it."""

    style: Style
    label: str
    members: NDArray[np.bool_]


def size_classes(casting: Casting) -> tuple[SizeClass, ...]:
    """Return the classes of a casting's voids, smallest first; in px where there is no scale."""
    scale = casting.void_scale
    unit, limits, factor = ("mm", LIMITS_MM, scale.mm_per_px) if scale else ("px", LIMITS_PX, 1.0)
    number = np.searchsorted(np.array(limits), casting.voids.diameter_px * factor, side="right")
    return tuple(
        SizeClass(style, label, np.asarray(number == i))
        for i, (style, label) in enumerate(zip(STYLES, _labels(limits, unit), strict=True))
    )


def _labels(limits: tuple[float, ...], unit: str) -> list[str]:
    """Return each class's limits in words."""
    between = [f"{low:g} to {high:g} {unit}" for low, high in pairwise(limits)]
    return [f"under {limits[0]:g} {unit}", *between, f"{limits[-1]:g} {unit} and more"]
