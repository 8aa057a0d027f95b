"""What plots are drawn from: plain numbers, each array of shape (m,) unless said otherwise.

Lengths of one picture are all in one unit. What is not known is NaN.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating[Any]]


@dataclass(frozen=True, eq=False)
class Cup:
    """One cup's voids."""

    diameters: Floats
    countable: float  # smallest diameter at which every void is counted; NaN or 0: no limit is shown


@dataclass(frozen=True, eq=False)
class Setting:
    """All cups of one pressure, and what was fitted to them."""

    words: str  # as the user wrote it: "40 psi"
    absolute_kpa: float
    cups: tuple[Cup, ...]
    median: float = math.nan  # of the fitted population, those too small to count included
    median_low: float = math.nan  # limits of 95 %
    median_high: float = math.nan
    log_sd: float = math.nan  # standard deviation of ln diameter of the fitted population

    @property
    def diameters(self) -> Floats:
        """Diameters of all cups together."""
        return np.concatenate([np.empty(0), *(np.asarray(cup.diameters, np.float64) for cup in self.cups)])

    @property
    def countable(self) -> float:
        """The size from which on the voids of every cup are counted; 0 where no limit is known."""
        return max((cup.countable for cup in self.cups if cup.countable > 0.0), default=0.0)


@dataclass(frozen=True, eq=False)
class Shrinkage:
    """The law fitted to all settings, beside Boyle's."""

    exponent: float  # b: a diameter goes with the absolute pressure to the power -b; Boyle 1/3
    exponent_low: float  # limits of 95 %
    exponent_high: float
    absolute_kpa: Floats  # rising
    median: Floats
    low: Floats  # limits of 95 %
    high: Floats
    boyle: Floats  # the same line with Boyle's exponent


@dataclass(frozen=True)
class Limit:
    """A pressure that must not be passed."""

    words: str  # "relief valve opens"
    psig: float


@dataclass(frozen=True, eq=False)
class Gain:
    """How many visible voids a casting is expected to hold, by pressure."""

    psig: Floats  # rising, in steps of 5 psi
    expected: Floats  # voids
    low: Floats  # limits of 90 %
    high: Floats
    target: float  # voids that are acceptable
    visible_mm: float  # a void of this diameter can be seen
    chosen_psig: float = math.nan  # the lowest setting that meets the target; NaN where none does
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True, eq=False)
class Left:
    """What is left of a void, by pressure: shares of what it was."""

    psig: Floats  # rising, in steps of 5 psi, with the settings asked for between them
    absolute_kpa: Floats
    diameter_share: Floats
    area_share: Floats
    volume_share: Floats
    since: str = "open air"  # what the shares are of: "open air", "20 psi"
    asked_psig: tuple[float, ...] = ()  # settings to point out
