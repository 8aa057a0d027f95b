"""What the scale says of a piece, all of it together: conducts the steps of `weight.py`."""

from __future__ import annotations

from dataclasses import dataclass

from bubblegrade.pressure.weight import (
    Density,
    MassDifference,
    VoidContent,
    Water,
    Weighing,
    density,
    mass_difference,
    void_content,
)


@dataclass(frozen=True)
class WeighQuestion:
    """What was weighed and what is known; None where it is not."""

    piece: Weighing | None  # in air and in water
    water: Water
    in_air_g: float
    resolution_g: float
    reference: Density | None = None  # as stated
    reference_weighed: tuple[Weighing, Water] | None = None  # a void-free sample on the scale
    master_g: float | None = None
    ballast_kg_m3: float | None = None
    resin_kg_m3: float | None = None  # of the resin, for the mass against a master's


@dataclass(frozen=True)
class Weighed:
    """What came of it; None where too little was weighed."""

    question: WeighQuestion
    density: Density | None
    reference: Density | None
    voids: VoidContent | None
    against_master: MassDifference | None


def weigh(question: WeighQuestion) -> Weighed:
    """Return density, void content and the difference to the master, as far as what was weighed tells.

    Raises
    ------
    InputError
        What was weighed contradicts itself.
    """
    own = None if question.piece is None else density(question.piece, question.water)
    reference, same_water = question.reference, False
    if question.reference_weighed is not None:
        sample, water = question.reference_weighed
        reference, same_water = density(sample, water), water == question.water
    voids = None
    if own is not None and reference is not None:
        voids = void_content(own, reference, in_air_g=question.in_air_g, same_water=same_water)
    master = None
    resin = question.resin_kg_m3 or (reference.kg_m3 if reference else own.kg_m3 if own else None)
    if question.master_g is not None and resin is not None:
        master = mass_difference(
            question.in_air_g,
            question.master_g,
            resolution_g=question.resolution_g,
            resin_kg_m3=resin,
            ballast_kg_m3=float("nan") if question.ballast_kg_m3 is None else question.ballast_kg_m3,
        )
    return Weighed(question, own, reference, voids, master)
