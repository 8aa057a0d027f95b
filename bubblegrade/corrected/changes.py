"""Changes: what a person puts right in a graded casting, each refused in one line where it cannot be."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final

from bubblegrade.errors import InputError, PartError
from bubblegrade.photo.scale import Span, scale_from_span
from bubblegrade.units import count_of
from bubblegrade.voids.table import KINDS

LEAST_ACROSS_PX: Final = 1.0  # of a void: less is no mark on a screen
MOST_CORNERS: Final = 500  # of an area drawn by hand
LONGEST_NAME: Final = 40  # characters of a zone's name or of who changes
HALF_PX: Final = 0.5  # from a pixel's centre to its edge
LONGEST_MM: Final = 5000.0  # of a known length in a photograph

Corners = tuple[tuple[float, float], ...]  # x and y in px, a closed line


@dataclass(frozen=True)
class Added:
    """A void, or another find, that grading has missed."""

    x_px: float
    y_px: float
    diameter_px: float
    kind: str = "void"


@dataclass(frozen=True)
class Removed:
    """A find that is nothing."""

    find: str


@dataclass(frozen=True)
class Resized:
    """A find of another diameter."""

    find: str
    diameter_px: float


@dataclass(frozen=True)
class Renamed:
    """A find of another kind."""

    find: str
    kind: str


@dataclass(frozen=True)
class LeftOut:
    """An area that is not to be judged."""

    corners: Corners


@dataclass(frozen=True)
class Zone:
    """A named area whose voids are counted by themselves."""

    name: str
    corners: Corners


@dataclass(frozen=True)
class Scaled:
    """Two points and the length between them."""

    span: Span


Change = Added | Removed | Resized | Renamed | LeftOut | Zone | Scaled


@dataclass(frozen=True)
class Undone:
    """An earlier step does not hold."""

    of: int


@dataclass(frozen=True)
class Redone:
    """A step that was undone holds again."""

    of: int


@dataclass(frozen=True)
class Step:
    """What somebody did, numbered from 1."""

    number: int
    who: str
    did: Change | Undone | Redone


def check_change(change: Change, finds: Collection[str], shape_px: tuple[int, int]) -> None:
    """Refuse a change that cannot be made; `finds` are the names of what can be changed.

    Raises
    ------
    InputError
        It names a find that is not there.
    PartError
        Its place, size, kind, name or length cannot be.
    """
    if isinstance(change, Removed | Resized | Renamed) and change.find not in finds:
        raise InputError(f"find {change.find[:LONGEST_NAME]!r} is not in this casting: load the page again")
    if isinstance(change, Added):
        with _about("x_px", "y_px"):
            _check_points(((change.x_px, change.y_px),), shape_px)
    if isinstance(change, Added | Resized):
        _check_across(change.diameter_px, shape_px)
    if isinstance(change, Added | Renamed) and change.kind not in KINDS:
        raise PartError(f"kind {change.kind[:LONGEST_NAME]!r} is not known: use one of {', '.join(KINDS)}", "kind")
    if isinstance(change, LeftOut | Zone):
        with _about("corners"):
            _check_corners(change.corners, shape_px)
    if isinstance(change, Zone):
        with _about("name"):
            check_name(change.name, "a zone's name")
    if isinstance(change, Scaled):
        _check_span(change.span, shape_px)


@contextmanager
def _about(*names: str) -> Iterator[None]:
    """Say of an error inside which parts of a change it is about."""
    try:
        yield
    except InputError as error:
        raise PartError(str(error), *names) from error


def check_name(name: str, what: str) -> None:
    """Refuse a name without a letter to see, over LONGEST_NAME, or with signs that cannot be shown.

    Raises
    ------
    InputError
        The name cannot be used; `what` it is for is said.
    """
    if not name.strip() or len(name) > LONGEST_NAME or not name.isprintable():
        raise InputError(f"{what} {name[:LONGEST_NAME]!r} cannot be used: write 1 to {LONGEST_NAME} plain characters")


def _check_across(diameter_px: float, shape_px: tuple[int, int]) -> None:
    most = float(min(shape_px))
    if not LEAST_ACROSS_PX <= diameter_px <= most:
        line = f"a diameter of {diameter_px:g} px cannot be: give {LEAST_ACROSS_PX:g} to {most:g} px"
        raise PartError(line, "diameter_px")


def _check_points(points: Corners, shape_px: tuple[int, int]) -> None:
    rows, cols = shape_px
    for x, y in points:
        if not (
            math.isfinite(x)
            and math.isfinite(y)
            and -HALF_PX <= x <= cols - HALF_PX
            and -HALF_PX <= y <= rows - HALF_PX
        ):
            raise InputError(f"{x:g},{y:g} lies outside the photograph of {cols} x {rows} px: point inside it")


def _check_corners(corners: Corners, shape_px: tuple[int, int]) -> None:
    if not 3 <= len(corners) <= MOST_CORNERS:  # noqa: PLR2004 - a triangle
        raise InputError(f"an area of {count_of(len(corners), 'corner')} cannot be: set 3 to {MOST_CORNERS}")
    _check_points(corners, shape_px)


def _check_span(span: Span, shape_px: tuple[int, int]) -> None:
    with _about("span"):
        _check_points(((span.x_px, span.y_px), (span.other_x_px, span.other_y_px)), shape_px)
    if not 0.0 < span.long_mm <= LONGEST_MM:
        raise PartError(f"a length of {span.long_mm:g} mm cannot be: give up to {LONGEST_MM:g} mm", "long_mm")
    with _about("span", "long_mm"):
        scale_from_span(span)
