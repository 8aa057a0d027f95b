"""The resin's clock: when it gels at the room's temperature, and how it thickens until then.

Gel time counts from first mixing (ASTM D2471). Without anything better it halves for every 10 K, a rule of makers; the
factor lies between 1.5 and 2.5. Two times of a data sheet, or an activation energy, give an Arrhenius law instead.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.grading.estimate import NORMAL_95, Estimate
from bubblegrade.pressure.gas import GAS_CONSTANT

HALVED_BY: Final = 2.0  # per 10 K, maker guidance
LEAST_FACTOR, MOST_FACTOR = 1.5, 2.5  # the same for other resins, maker guidance
STEP_K: Final = 10.0
# Of a gel time: batch, mass and the eye that judges it. Four times of one coating epoxy, 21 to 38 C (maker guidance),
# lie up to 16 % off the law through two of them.
TIME_ERR: Final = 0.12
SAME_K: Final = 1.0  # two temperatures closer than this say nothing of a law
THINNER_PER_K: Final = 0.9  # viscosity per K warmer, of some epoxies (maker guidance)
EARLY_SHARE: Final = 0.5  # of the time to gel, by which the pot should be full: resin thickens well before it gels
GELLED_PA_S: Final = 100.0  # at which a resin no longer lets a void rise (from memory, of gel timers)


@dataclass(frozen=True)
class GelPoint:
    """A gel time as stated, from first mixing."""

    kelvin: float
    seconds: float


@dataclass(frozen=True)
class Thickening:
    """A viscosity that grows evenly in its logarithm from the start of mixing to gel."""

    start_pa_s: float
    gelled_pa_s: float
    gel_s: float

    def fluidity_s(self, first_s: float, last_s: float) -> float:
        """Return the integral of one over the viscosity, 1/Pa, from one time to a later one, no further than gel.

        >>> round(Thickening(0.5, 0.5, 600.0).fluidity_s(0.0, 60.0), 6)
        120.0
        """
        first, last = min(first_s, self.gel_s), min(last_s, self.gel_s)
        pace = math.log(self.gelled_pa_s / self.start_pa_s) / self.gel_s
        if abs(pace) * self.gel_s < 1e-9:  # noqa: PLR2004 - it does not thicken
            return max(last - first, 0.0) / self.start_pa_s
        return max(math.exp(-pace * first) - math.exp(-pace * last), 0.0) / (pace * self.start_pa_s)


def gel_time(points: tuple[GelPoint, ...], kelvin: float, *, activation_j_mol: float | None = None) -> Estimate:
    """Return the gel time at a temperature, s, with the limits of 95 %.

    >>> found = gel_time((GelPoint(298.15, 1800.0),), 288.15)
    >>> round(found.value), round(found.low), round(found.high)
    (3600, 2483, 4979)

    Raises
    ------
    InputError
        Two points at one temperature, a time that rises with it, more than two, or two and an activation energy.
    """
    if len(points) > 2 or (len(points) == 2 and activation_j_mol is not None):  # noqa: PLR2004
        raise InputError("a gel time needs one point of the data sheet, two, or one and an activation energy")
    first = points[0]
    if len(points) == 2:  # noqa: PLR2004
        return _between(first, points[1], kelvin)
    if activation_j_mol is not None:
        factor = math.exp(activation_j_mol / GAS_CONSTANT * (1.0 / kelvin - 1.0 / first.kelvin))
        return _limits(first.seconds * factor, TIME_ERR)
    steps = (first.kelvin - kelvin) / STEP_K
    value, *others = (first.seconds * factor**steps for factor in (HALVED_BY, LEAST_FACTOR, MOST_FACTOR))
    reach = NORMAL_95 * TIME_ERR
    below, above = (math.hypot(math.log(edge / value), reach) for edge in (min(others), max(others)))
    return Estimate(value, value * math.exp(-below), value * math.exp(above))


def activation_j_mol(first: GelPoint, second: GelPoint) -> float:
    """Return the activation energy that two gel times speak of (Arrhenius).

    >>> twice = GelPoint(303.15, 900.0)
    >>> round(activation_j_mol(GelPoint(293.15, 1800.0), twice) / 1000.0, 1)
    51.2
    """
    return GAS_CONSTANT * math.log(first.seconds / second.seconds) / (1.0 / first.kelvin - 1.0 / second.kelvin)


def viscosity_at(start_pa_s: float, stated_k: float, kelvin: float) -> float:
    """Return a viscosity stated at one temperature for another.

    >>> round(viscosity_at(0.5, 298.15, 297.15), 3)
    0.556
    """
    return start_pa_s * math.exp(math.log(THINNER_PER_K) * (kelvin - stated_k))


def _between(one: GelPoint, other: GelPoint, kelvin: float) -> Estimate:
    """Return the gel time of an Arrhenius law through two points.

    Beyond them it is known less well, and between them no better than at one: the batch is off the law by itself.
    """
    cold, warm = sorted((one, other), key=lambda point: point.kelvin)
    if warm.kelvin - cold.kelvin < SAME_K:
        raise InputError("both gel times are at one temperature: give two that lie 5C or more apart, or one alone")
    if warm.seconds >= cold.seconds:
        raise InputError(
            f"the gel time rises from {cold.seconds / 60.0:.3g} to {warm.seconds / 60.0:.3g} min as it gets warmer: "
            "read the data sheet again"
        )
    energy = activation_j_mol(cold, warm)
    value = cold.seconds * math.exp(energy / GAS_CONSTANT * (1.0 / kelvin - 1.0 / cold.kelvin))
    share = (1.0 / kelvin - 1.0 / cold.kelvin) / (1.0 / warm.kelvin - 1.0 / cold.kelvin)
    return _limits(value, TIME_ERR * max(1.0, math.hypot(share, 1.0 - share)))


def _limits(value: float, err: float) -> Estimate:
    """Return a value with the limits of 95 % of a standard uncertainty in its logarithm."""
    return Estimate(value, value * math.exp(-NORMAL_95 * err), value * math.exp(NORMAL_95 * err))
