"""An estimate: a number with the limits of its 95 % interval."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

NORMAL_95: Final = 1.959964  # standard deviations on each side that hold 95 % of a normal distribution


@dataclass(frozen=True)
class Estimate:
    """A number and the limits of its 95 % interval; NaN where they cannot be told."""

    value: float
    low: float
    high: float

    @property
    def known(self) -> bool:
        """Whether there is a value at all."""
        return math.isfinite(self.value)

    def scaled(self, factor: float, *, factor_err: float = 0.0) -> Estimate:
        """Return the estimate in another unit: times `factor`, above 0, with the factor's own standard uncertainty.

        The two uncertainties are taken as independent and added in quadrature, each side for itself.

        >>> Estimate(10.0, 8.0, 13.0).scaled(0.5)
        Estimate(value=5.0, low=4.0, high=6.5)
        """
        value, spread = self.value * factor, NORMAL_95 * abs(self.value) * factor_err
        if spread == 0.0:
            return Estimate(value, self.low * factor, self.high * factor)
        below = math.hypot((self.value - self.low) * factor, spread)
        above = math.hypot((self.high - self.value) * factor, spread)
        return Estimate(value, value - below, value + above)


UNKNOWN: Final = Estimate(math.nan, math.nan, math.nan)


def from_error(value: float, err: float) -> Estimate:
    """Return the estimate of a value with the standard uncertainty `err`, normal; NaN limits where err is NaN.

    >>> from_error(2.0, 0.0)
    Estimate(value=2.0, low=2.0, high=2.0)
    """
    return Estimate(value, value - NORMAL_95 * err, value + NORMAL_95 * err)
