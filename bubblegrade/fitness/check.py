"""Records: what a check found, where in the picture it lies, and what all checks say together."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from bubblegrade.fitness.view import View

RAISE: Final = "stand a domed or round-edged one on clear glass 30 mm off the light"  # its edge is then dark
UNMEASURED: Final = "only grading measures voids, and enough of them must tell"
Points = NDArray[np.float64]  # (N, 2) x, y in px of the photograph


class Verdict(StrEnum):
    """What a check, or all of them, say of a photograph."""

    FIT = "fit"
    CARE = "usable with care"
    UNFIT = "unfit"
    CANNOT_TELL = "cannot be told"


@dataclass(frozen=True)
class Limit:
    """From where on a value asks for care, and from where on it makes a photograph unfit; NaN where it never does."""

    care: float
    unfit: float = math.nan
    least: bool = False  # whether smaller values are the worse ones

    def verdict(self, value: float) -> Verdict:
        """Return what a value says.

        >>> Limit(4.0, 7.0).verdict(5.0).value, Limit(8.0, 5.0, least=True).verdict(4.0).value
        ('usable with care', 'unfit')
        """
        if math.isnan(value):
            return Verdict.CANNOT_TELL
        sign = -1.0 if self.least else 1.0
        if sign * value > sign * self.unfit:
            return Verdict.UNFIT
        return Verdict.CARE if sign * value > sign * self.care else Verdict.FIT


@dataclass(frozen=True, eq=False)
class Place:
    """Where in the picture a fault lies: closed regions, boxes (two corners each) or lines; none is the whole frame."""

    kind: Literal["region", "box", "line"] = "box"
    parts: tuple[Points, ...] = ()

    @property
    def bounds_px(self) -> tuple[float, float, float, float] | None:
        """Left, top, right and bottom of all of it; None for the whole frame."""
        if not self.parts:
            return None
        points = np.concatenate(self.parts)
        (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
        return float(left), float(top), float(right), float(bottom)


EVERYWHERE: Final = Place()


@dataclass(frozen=True, eq=False)
class Check:
    """What one check found."""

    name: str
    title: str  # in words
    value: float  # NaN where it cannot be told
    unit: str  # share, px, ratio or count
    limit: Limit
    verdict: Verdict
    fault: str  # what is wrong, or why it cannot be told; empty where nothing is
    effect: str  # what the fault does to the numbers
    cure: str
    place: Place = EVERYWHERE

    @property
    def line(self) -> str:
        """The fault with its cure, in one line.

        >>> facts = ("cut", "cut", 1.0, "px", Limit(0.0, 0.0), Verdict.UNFIT)
        >>> Check(*facts, "cut by the frame", "voids are missing", "show it").line
        'cut by the frame: show it'
        """
        return f"{self.fault}: {self.cure}" if self.cure else self.fault

    @property
    def costs(self) -> str:
        """The fault with what it costs and its cure, in one line."""
        return f"{self.fault}, {self.effect}: {self.cure}"


@dataclass(frozen=True, eq=False)
class Fitness:
    """What all checks say of one photograph."""

    checks: tuple[Check, ...] = field(default=())

    def of(self, verdict: Verdict) -> tuple[Check, ...]:
        """Return the checks that say this."""
        return tuple(check for check in self.checks if check.verdict is verdict)

    def value(self, name: str) -> float:
        """Return what the check of this name measured; NaN where it was not made, or could not tell."""
        return next((check.value for check in self.checks if check.name == name), math.nan)

    @property
    def verdict(self) -> Verdict:
        """The worst that any check says; what cannot be told takes nothing away."""
        worst = (Verdict.UNFIT, Verdict.CARE)
        return next((verdict for verdict in worst if self.of(verdict)), Verdict.FIT)

    @property
    def unfit(self) -> tuple[str, ...]:
        """Why the photograph is not fit to measure; empty if it is."""
        return tuple(check.line for check in self.of(Verdict.UNFIT))

    @property
    def cares(self) -> tuple[str, ...]:
        """What asks for care, and what it costs."""
        return tuple(check.costs for check in self.of(Verdict.CARE))


@dataclass(frozen=True, eq=False)
class Checked:
    """A checked photograph."""

    photo: str
    sha256: str
    shape_px: tuple[int, int]  # rows, cols
    fitness: Fitness


@dataclass(frozen=True)
class Measured:
    """A value, where the fault lies, and how it reads where it is one."""

    value: float
    fault: str = ""  # what is wrong, or why it cannot be told
    place: Place = EVERYWHERE
    unfit: float = math.nan  # the limit from which on this photograph is unfit, where its size moves that
    cure: str = ""  # where it is not the test's


@dataclass(frozen=True)
class Test:
    """One check before it is held: its words, its limit and how its value is measured."""

    name: str
    title: str
    unit: str
    limit: Limit
    effect: str
    cure: str
    measure: Callable[[View], Measured]

    def held(self, view: View) -> Check:
        """Return what the test finds in a photograph."""
        found = self.measure(view)
        limit = self.limit if math.isnan(found.unfit) else replace(self.limit, unfit=found.unfit)
        verdict = limit.verdict(found.value)
        fit = verdict is Verdict.FIT
        return Check(
            name=self.name,
            title=self.title,
            value=found.value,
            unit=self.unit,
            limit=limit,
            verdict=verdict,
            fault="" if fit else found.fault,
            effect=self.effect,
            cure=found.cure or self.cure,
            place=EVERYWHERE if fit else found.place,
        )  # fmt: skip
