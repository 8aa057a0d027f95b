"""Shapes of zones: in fractions of the piece's length and width, around its hardware, or all of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from bubblegrade.inspection.limits import Length

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Span = tuple[float, float]

OVAL_POINTS = 72


@dataclass(frozen=True)
class Box:
    """A rectangle along the piece: fractions of the length from the head and of the width from the back."""

    word: ClassVar = "box"
    along: Span
    across: Span

    def border(self) -> Floats:
        """Return the corners, (4, 2) along and across."""
        (head, tail), (back, belly) = self.along, self.across
        return np.array([[head, back], [tail, back], [tail, belly], [head, belly]])

    def holds(self, places: Floats) -> Mask:
        """Say for (N, 2) places along and across whether each lies in it.

        >>> Box((0.0, 0.3), (0.0, 1.0)).holds(np.array([[0.1, 0.5], [0.4, 0.5]])).tolist()
        [True, False]
        """
        along, across = places.T
        return np.asarray(
            (along >= self.along[0])
            & (along <= self.along[1])
            & (across >= self.across[0])
            & (across <= self.across[1])
        )


@dataclass(frozen=True)
class Oval:
    """An ellipse around a place: its half axes are fractions of the length and of the width."""

    word: ClassVar = "oval"
    middle: Span
    half: Span

    def border(self) -> Floats:
        """Return points of it, (N, 2) along and across."""
        turn = np.linspace(0, 2 * np.pi, OVAL_POINTS, endpoint=False)
        return np.asarray(self.middle + np.array(self.half) * np.stack([np.cos(turn), np.sin(turn)], axis=1))

    def holds(self, places: Floats) -> Mask:
        """Say for (N, 2) places along and across whether each lies in it."""
        return np.asarray((((places - self.middle) / self.half) ** 2).sum(axis=1) <= 1.0)


@dataclass(frozen=True)
class Polygon:
    """A closed line through corners along and across; with `on_reference` they are px of the reference photograph."""

    word: ClassVar = "polygon"
    corners: tuple[Span, ...]
    on_reference: bool = False

    def border(self) -> Floats:
        """Return the corners, (N, 2) along and across."""
        return np.array(self.corners)

    def holds(self, places: Floats) -> Mask:
        """Say for (N, 2) places along and across whether each lies in it."""
        return inside(places, self.border())


@dataclass(frozen=True)
class AroundHardware:
    """All within a margin of hardware that was found."""

    word: ClassVar = "hardware"
    margin: Length


@dataclass(frozen=True)
class Everywhere:
    """The whole piece."""

    word: ClassVar = "all"


Placed = Box | Oval | Polygon  # whose place follows the piece's length and width
Shape = Placed | AroundHardware | Everywhere


def needs_length(shape: Shape) -> bool:
    """Say whether a shape can be placed only on a piece that has a length; a circle around the middle fits any.

    >>> needs_length(Oval((0.5, 0.5), (0.3, 0.3))), needs_length(Oval((0.5, 0.5), (0.3, 0.4)))
    (False, True)
    """
    if isinstance(shape, Oval):
        return shape.middle != (0.5, 0.5) or shape.half[0] != shape.half[1]
    return isinstance(shape, Placed)


def inside(places: Floats, polygon: Floats) -> Mask:
    """Say for (N, 2) places whether each lies in a closed line of (M, 2) points: crossings of a ray, even or odd.

    >>> inside(np.array([[0.5, 0.5], [1.5, 0.5]]), np.array([[0, 0], [1, 0], [1, 1], [0, 1.0]])).tolist()
    [True, False]
    """
    x, y = np.asarray(places, np.float64).T
    within = np.zeros(len(places), bool)
    for (x0, y0), (x1, y1) in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        if y0 != y1:
            within ^= ((y0 > y) != (y1 > y)) & (x < (x1 - x0) * (y - y0) / (y1 - y0) + x0)
    return within


def crosses_itself(corners: Floats) -> bool:
    """Say whether a closed line of (M, 2) corners crosses itself, so that what lies in it is not plain.

    >>> crosses_itself(np.array([[0, 0], [1, 1], [1, 0], [0, 1.0]]))
    True
    """
    start, end = corners, np.roll(corners, -1, axis=0)

    def side(points: Floats) -> Floats:
        """Return on which side of each line each of the points lies, (lines, points)."""
        along, off = (end - start)[:, None], points[None] - start[:, None]
        return np.sign(along[..., 0] * off[..., 1] - along[..., 1] * off[..., 0])

    apart = side(start) * side(end) < 0
    return bool((apart & apart.T).any())
