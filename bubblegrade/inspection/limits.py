"""A maker's own limits: zones of a piece and what each may hold. They are the maker's, no standard's."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final, Literal

from bubblegrade.inspection.shapes import Shape

Unit = Literal["mm", "px"]
Unsure = Literal["ignore", "look again", "count"]

DIRECTIONS: Final = ("left", "right", "up", "down")
HEAD_RULES: Final = ("eye", "thick end", "thin end", *DIRECTIONS)
BELLY_RULES: Final = ("round side", "flat side", *DIRECTIONS)
UNSURE: Final[tuple[Unsure, ...]] = ("ignore", "look again", "count")
LEAST_CLUSTER: Final = 3
USUAL_UNJUDGED: Final = 0.25  # of a zone that may stay unjudged where nothing is said: its border and its rim


@dataclass(frozen=True)
class Length:
    """A length as the maker states it."""

    value: float
    unit: Unit

    def __str__(self) -> str:
        """Return the length with its unit."""
        return f"{self.value:g} {self.unit}"

    def px(self, mm_per_px: float) -> float:
        """Return the length in px; NaN for millimetres without a scale.

        >>> Length(0.5, "mm").px(0.05)
        10.0
        """
        return self.value if self.unit == "px" else self.value / mm_per_px


@dataclass(frozen=True)
class Allowed:
    """What a zone may hold; None where nothing is asked."""

    largest: Length | None = None  # diameter
    count: int | None = None  # of voids over `count_over`
    count_over: Length | None = None
    cover: float | None = None  # share of the zone's judged area
    from_hardware: Length | None = None  # least gap between a void and hardware
    from_surface: Length | None = None  # least gap between a void and the outline
    cluster: int = LEAST_CLUSTER  # voids that make a cluster
    cluster_within: Length | None = None  # of one of them lie the others
    cluster_over: Length | None = None  # diameter from which voids make one; None: all that can be counted
    clarity: float | None = None  # least, 0 to 100
    unjudged: float = USUAL_UNJUDGED  # share of the zone that may stay unjudged
    unseen: Length | None = None  # diameter of the largest void that may lie where nothing is judged

    @property
    def lengths(self) -> tuple[Length, ...]:
        """Every length that is asked for."""
        return tuple(held for each in fields(self) if isinstance(held := getattr(self, each.name), Length))


@dataclass(frozen=True)
class Zone:
    """A part of the piece and what it may hold."""

    name: str
    shape: Shape
    allowed: Allowed


@dataclass(frozen=True)
class Limits:
    """A maker's acceptance limits."""

    name: str
    zones: tuple[Zone, ...]
    head: tuple[str, ...] = ("eye", "thick end")  # HEAD_RULES, tried in order
    belly: tuple[str, ...] = ("round side",)  # BELLY_RULES, tried in order
    unsure: Unsure = "look again"  # what finds that may or may not be voids do
    reference: str | None = None  # the photograph on which polygons are drawn

    @property
    def in_mm(self) -> bool:
        """Whether any limit is in millimetres, so that a scale is needed."""
        return any(
            length.unit == "mm"
            for zone in self.zones
            for length in (*zone.allowed.lengths, getattr(zone.shape, "margin", None))
            if length is not None
        )
