"""Density by immersion, void content against a void-free reference, and what a piece's mass tells beside a master's.

Specific gravity after ASTM D792, method A: a / (a + w - b), with the mass a in air, b immersed with what holds or sinks
the piece, and w that holder or sinker immersed alone. The air lifts the piece too: its density is taken off the water's
and added to the piece's. Void content after ASTM D2734: 100 (T - M) / T, T the density
without voids. Weighing sees all voids together and none by itself: a void of 1 mm is half a milligram of resin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.grading.estimate import Estimate, from_error

COLDEST_C, WARMEST_C = 5.0, 40.0  # of water that anybody weighs in
# Density of water, M. Tanaka et al., Metrologia 38 (2001) 301 (coefficients from memory; checked against IAPWS-95).
TANAKA: Final = (-3.983035, 301.797, 522528.9, 69.34881, 999.974950)
USUAL_C: Final = 23.0  # of water whose temperature is not stated, as ASTM D792 has it
WATER_ERR_C: Final = 0.5  # of a stated water temperature
UNSTATED_ERR_C: Final = 3.0  # of one that is not: rooms and taps have some 17 to 28 C (common practice)
AIR_KG_M3: Final = 1.2  # density of the air in a room; a tenth more or less is 0.02 kg/m3 of a piece's
READINGS: Final = 2.0  # each mass is a reading less that of the empty scale
# Of a reading, each half a digit to either side: it is rounded, and comes back to the same mass no better (what scales
# of this kind are allowed: OIML R 76-1, from memory).
DOUBTS: Final = 2.0
SAME: Final = 3.0  # standard uncertainties: a piece denser than its reference by less may have no voids at all
MOST_VOID: Final = 0.5  # of a piece: more is foam, or a slip
VOID_MM: Final = 1.0  # diameter of the void that a weighing is compared with


@dataclass(frozen=True)
class Weighing:
    """A piece on the scale, in air and in water; masses in g."""

    in_air_g: float
    in_water_g: float  # with holder or sinker
    holder_g: float = 0.0  # holder or sinker alone, immersed; 0 where the scale was set to 0 with it
    resolution_g: float = 0.01


@dataclass(frozen=True)
class Water:
    """The water it hangs in; without a temperature, what is usual."""

    celsius: float = USUAL_C
    err_c: float = UNSTATED_ERR_C

    @classmethod
    def of(cls, celsius: float) -> Water:
        """Return water of a stated temperature."""
        return cls(celsius, WATER_ERR_C)

    @property
    def stated(self) -> bool:
        """Whether anybody has taken its temperature."""
        return self.err_c < UNSTATED_ERR_C

    @property
    def density_kg_m3(self) -> float:
        """Density of clean water free of air at this temperature."""
        return water_density_kg_m3(self.celsius)

    @property
    def density_err_kg_m3(self) -> float:
        """Its standard uncertainty from the temperature."""
        step = 0.5
        slope = water_density_kg_m3(self.celsius + step) - water_density_kg_m3(self.celsius - step)
        return abs(slope) * self.err_c


@dataclass(frozen=True)
class Density:
    """A density and its standard uncertainties: of the weighing alone, and of the water."""

    kg_m3: float
    weighing_err: float
    water_err: float = 0.0

    @property
    def estimate(self) -> Estimate:
        """The density with its 95 %."""
        return from_error(self.kg_m3, math.hypot(self.weighing_err, self.water_err))


@dataclass(frozen=True)
class VoidContent:
    """How much of a piece is void."""

    share: Estimate
    volume_mm3: Estimate  # of all its voids together
    least_mm3: float  # the smallest volume that this weighing tells from none
    least_voids: float  # so many voids of 1 mm


@dataclass(frozen=True)
class MassDifference:
    """A piece's mass less a master's."""

    difference_g: Estimate
    as_void_mm3: Estimate  # resin that is missing, as a volume; below 0 there is more of it
    as_ballast_g: Estimate  # ballast that is missing where resin took its place; NaN without a ballast's density


def water_density_kg_m3(celsius: float) -> float:
    """Return the density of clean water at 101.325 kPa.

    >>> round(water_density_kg_m3(23.0), 3)
    997.541

    Raises
    ------
    InputError
        The water is frozen, hot, or its temperature was given in kelvin.
    """
    if not COLDEST_C <= celsius <= WARMEST_C:
        raise InputError(
            f"water at {celsius:g} C is not what a piece is weighed in: give {COLDEST_C:g} to {WARMEST_C:g} C, "
            "such as 23C"
        )
    a1, a2, a3, a4, a5 = TANAKA
    return a5 * (1.0 - (celsius + a1) ** 2 * (celsius + a2) / (a3 * (celsius + a4)))


def density(weighed: Weighing, water: Water) -> Density:
    """Return the density of a piece.

    >>> found = density(Weighing(25.0, 3.26, resolution_g=0.001), Water.of(23.0))
    >>> round(found.kg_m3, 1)
    1146.9

    Raises
    ------
    InputError
        The masses contradict each other.
    """
    a, b, w = weighed.in_air_g, weighed.in_water_g, weighed.holder_g
    lifted = a + w - b
    if lifted <= 0.0:
        raise InputError(
            f"{b:g}g in water and {a:g}g in air: water lifts every piece, so it weighs less in water; read both again, "
            "and give the holder's or sinker's own weight in water with --holder"
        )
    if lifted > 10.0 * a:
        raise InputError(f"{a:g}g in air and {b:g}g in water make a piece lighter than cork: read both again")
    ratio = a / lifted
    each = reading_err_g(weighed.resolution_g)
    held = each if w else 0.0
    ratio_err = math.hypot((w - b) / lifted**2 * each, a / lifted**2 * each, a / lifted**2 * held)
    rho = water.density_kg_m3 - AIR_KG_M3
    return Density(ratio * rho + AIR_KG_M3, ratio_err * rho, ratio * water.density_err_kg_m3)


def reading_err_g(resolution_g: float) -> float:
    """Return the standard uncertainty of a mass: rounding and repeating, of its reading and of the empty scale's.

    >>> round(reading_err_g(0.01), 5)
    0.00577
    """
    return resolution_g / math.sqrt(12.0) * math.sqrt(READINGS * DOUBTS)


def void_content(piece: Density, reference: Density, *, in_air_g: float, same_water: bool) -> VoidContent:
    """Return the void content of a piece against a void-free sample of the same resin and cure.

    >>> found = void_content(Density(1127.0, 0.1), Density(1150.0, 0.1), in_air_g=20.0, same_water=False)
    >>> round(100 * found.share.value, 4)
    2.0

    Parameters
    ----------
    piece, reference
        Their densities.
    in_air_g
        The piece's mass.
    same_water
        Whether both hung in the same water, whose density then falls out.

    Raises
    ------
    InputError
        The piece is denser than the reference by more than both are uncertain, or less than half as dense.
    """
    share = 1.0 - piece.kg_m3 / reference.kg_m3
    parts = [piece.weighing_err / reference.kg_m3, piece.kg_m3 * reference.weighing_err / reference.kg_m3**2]
    if not same_water:
        parts += [piece.water_err / reference.kg_m3, piece.kg_m3 * reference.water_err / reference.kg_m3**2]
    err = math.hypot(*parts)
    if share < -SAME * err:
        raise InputError(
            f"the piece has {piece.kg_m3:.1f} kg/m3, more than the {reference.kg_m3:.1f} kg/m3 of the reference, by "
            "more than weighing explains: the reference holds voids itself, is of another resin or cure, or clinging "
            "air was weighed with it"
        )
    if share > MOST_VOID:
        raise InputError(
            f"the piece has {piece.kg_m3:.1f} kg/m3, less than half of the {reference.kg_m3:.1f} kg/m3 of the "
            "reference: read the masses and the reference's unit again"
        )
    volume = in_air_g / piece.kg_m3 * 1e6
    found = from_error(share, err)
    least = from_error(0.0, err).high * volume
    one = math.pi / 6.0 * VOID_MM**3
    return VoidContent(found, found.scaled(volume), least, least / one)


def mass_difference(
    piece_g: float, master_g: float, *, resolution_g: float, resin_kg_m3: float, ballast_kg_m3: float = math.nan
) -> MassDifference:
    """Return what a piece's mass tells beside a master's of the same shape; where it is missing cannot be told.

    Raises
    ------
    InputError
        The ballast is no heavier than the resin.

    >>> found = mass_difference(24.0, 24.8, resolution_g=0.01, resin_kg_m3=1100.0, ballast_kg_m3=11340.0)
    >>> round(found.difference_g.value, 2), round(found.as_void_mm3.value), round(found.as_ballast_g.value, 3)
    (-0.8, 727, 0.886)
    """
    difference = from_error(piece_g - master_g, math.sqrt(2.0) * reading_err_g(resolution_g))
    missing = Estimate(-difference.value, -difference.high, -difference.low)
    if math.isfinite(ballast_kg_m3) and ballast_kg_m3 <= resin_kg_m3:
        raise InputError(f"ballast of {ballast_kg_m3:g} kg/m3 is no heavier than the resin: check its unit")
    factor = ballast_kg_m3 / (ballast_kg_m3 - resin_kg_m3)
    ballast = missing.scaled(factor) if math.isfinite(factor) else Estimate(math.nan, math.nan, math.nan)
    return MassDifference(difference, missing.scaled(1e6 / resin_kg_m3), ballast)
