"""Cups of one form in a trial: the view through their curved surface is one, whatever each photograph tells of it.

How far voids look drawn out across a body is told by its larger voids, which pressure makes small: told of one cup and
not of another, or told otherwise, it would pass for shrinkage. So cups of one form take the mean of what all say.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from bubblegrade.casting.curved import Magnified
from bubblegrade.casting.edge import across_and_along
from bubblegrade.pressure.poured import Poured

ONE_FORM: Final = 0.1  # of ln(length over width): castings of one mould lie and are cut out as unlike (judgement)
TOLD_APART: Final = 0.005  # of ln(diameter): less is nothing to tell of


@dataclass(frozen=True)
class Body:
    """A cup's form, and by how much its own photograph says that voids look larger."""

    slender: float  # ln(length over width); NaN where it has no outline
    curve: Magnified


def body_of(record: dict[str, Any]) -> Body:
    """Return what run.json's `record` of a casting tells of its form."""
    edge = np.column_stack([record["outline"]["x_px"], record["outline"]["y_px"]])
    across, along = across_and_along(edge) if len(edge) else (math.nan, math.nan)
    return Body(math.log(along / across), Magnified(**record["magnified"]))


def through_one_surface(cups: Sequence[Poured], bodies: Mapping[str, Body]) -> tuple[list[Poured], tuple[str, ...]]:
    """Return cups with their lengths in mm as cups of one form have them, and what to say of that.

    `bodies` are by the cups' photographs. Lengths in px are as they look, in all cups alike.
    """
    scaled = [bodies[cup.photo] for cup in cups if math.isfinite(cup.mm_per_px)]
    off = [
        math.log(bodies[cup.photo].curve.factor / _shared(bodies[cup.photo], scaled))
        if math.isfinite(cup.mm_per_px)
        else 0.0
        for cup in cups
    ]
    again = [
        replace(cup, diameters=cup.diameters * math.exp(by), smallest=cup.smallest * math.exp(by))
        for cup, by in zip(cups, off, strict=True)
    ]
    moved = [cup.photo for cup, by in zip(cups, off, strict=True) if abs(by) > TOLD_APART]
    if not moved:
        return again, ()
    own = [bodies[photo].curve.factor for photo in moved]
    return again, (
        f"By their photographs, surfaces of cups of one form enlarge voids {min(own):.2f} to {max(own):.2f} times: "
        "here lengths in mm are divided by the mean over each form, or the difference would pass for shrinkage.",
    )


def _shared(body: Body, bodies: Sequence[Body]) -> float:
    """Return what the bodies of its form say together: those whose voids' forms tell it, else the others."""
    alike = [other.curve for other in bodies if abs(other.slender - body.slender) <= ONE_FORM]
    told = [curve for curve in alike if curve.by_form] or [curve for curve in alike if curve.err > 0.0]
    if not told:
        return body.curve.factor
    logs, weights = [math.log(curve.factor) for curve in told], [(curve.factor / curve.err) ** 2 for curve in told]
    return math.exp(float(np.average(logs, weights=weights)))
