"""The piece's own frame: its length and width from its outline, and which end is the head and which side the belly.

The axes are the principal axes of the body's area (body.py), so that the frame follows place, turn, size and mirroring,
and not how a loop of wire at the outline happens to lie. Where no rule tells the head or the belly, every frame that is
left is given.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.inspection.body import body_of

Floats = NDArray[np.float64]

LEAST_STRETCH: Final = 1.15  # ratio of the spreads along both axes: below, a piece is too round to have a length
END: Final = 0.3  # of the length that is an end
THICKER: Final = 1.08  # ratio of the areas of both ends from which one is the thick one
LOPSIDED: Final = 0.015  # of the width: how far the middle of the area lies off the middle of the width
UPRIGHT: Final = 0.26  # cosine with a direction below which neither end lies there: 75 degrees
DIRECTION: Final = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "up": (0.0, -1.0), "down": (0.0, 1.0)}


@dataclass(frozen=True, eq=False)
class Frame:
    """Where a piece's length and width lie in the photograph."""

    origin_px: Floats  # (2,) where the head's end meets the back's side
    along: Floats  # (2,) unit vector from the head to the tail
    across: Floats  # (2,) unit vector from the back to the belly
    length_px: float
    width_px: float

    def fractions(self, points_px: Floats) -> Floats:
        """Return (N, 2) points x, y in px as fractions along and across."""
        off = points_px - self.origin_px
        return np.stack([off @ self.along / self.length_px, off @ self.across / self.width_px], axis=1)

    def points_px(self, fractions: Floats) -> Floats:
        """Return (N, 2) fractions along and across as x, y in px."""
        along, across = np.asarray(fractions, np.float64).T
        return np.asarray(
            self.origin_px
            + np.outer(along * self.length_px, self.along)
            + np.outer(across * self.width_px, self.across)
        )

    @property
    def mirrored(self) -> bool:
        """Whether the head is on the right when the belly is below."""
        return float(self.along[0] * self.across[1] - self.along[1] * self.across[0]) < 0.0

    def turned(self, *, head: bool, belly: bool) -> Frame:
        """Return the frame with its head, its belly or both at the other end."""
        origin = self.origin_px.copy()
        origin += self.length_px * self.along if head else 0.0
        origin += self.width_px * self.across if belly else 0.0
        return Frame(
            origin,
            -self.along if head else self.along,
            -self.across if belly else self.across,
            self.length_px,
            self.width_px,
        )


@dataclass(frozen=True, eq=False)
class Lie:
    """Every frame that a piece may have, the likeliest first, and by what it was told."""

    frames: tuple[Frame, ...]  # 1, 2 or 4; none for a piece that is too round to have a length
    head_by: str  # rule that told the head; empty where none did
    belly_by: str
    body_px: Floats  # (N, 2) x, y of the line that the frames follow

    @property
    def circle(self) -> Frame:
        """The frame of a circle as large around the piece's middle: for what is alike however a round piece lies."""
        area, middle, _ = moments(self.body_px)
        across = 2.0 * math.sqrt(area / math.pi)
        return Frame(middle - across / 2.0, np.array([1.0, 0.0]), np.array([0.0, 1.0]), across, across)


def lie_of(outline_px: Floats, hardware_px: Floats, head: Sequence[str], belly: Sequence[str]) -> Lie:
    """Return how a piece lies.

    Parameters
    ----------
    outline_px
        (N, 2) x, y of its outline, with loops of wire that stand out of it or without.
    hardware_px
        (M, 2) x, y of its pieces of hardware.
    head, belly
        Rules of `limits.HEAD_RULES` and `limits.BELLY_RULES`, tried in order.
    """
    body_px = body_of(outline_px)
    frame = _any_frame(body_px)
    if frame is None:
        return Lie((), "", "", body_px)
    at_head, head_by = _told(head, lambda rule: _head(rule, frame, body_px, hardware_px))
    at_belly, belly_by = _told(belly, lambda rule: _belly(rule, frame, body_px))
    frames = [
        frame.turned(head=flip_head, belly=flip_belly)
        for flip_head in ((at_head < 0,) if head_by else (False, True))
        for flip_belly in ((at_belly < 0,) if belly_by else (False, True))
    ]
    return Lie(tuple(frames), head_by, belly_by, body_px)


def moments(outline_px: Floats) -> tuple[float, Floats, Floats]:
    """Return area, middle (2,) and second central moments over the area (2, 2) of a closed line, by Green's theorem.

    >>> area, middle, spread = moments(np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 2.0], [0.0, 2.0]]))
    >>> area, middle.tolist(), spread.round(6).tolist()
    (12.0, [3.0, 1.0], [[3.0, 0.0], [0.0, 0.333333]])
    """
    shift = outline_px.mean(axis=0)
    x0, y0 = (outline_px - shift).T
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    cross = x0 * y1 - x1 * y0
    area = float(cross.sum()) / 2
    middle = np.array([((x0 + x1) * cross).sum(), ((y0 + y1) * cross).sum()]) / (6 * area)
    xx = ((x0**2 + x0 * x1 + x1**2) * cross).sum() / (12 * area)
    yy = ((y0**2 + y0 * y1 + y1**2) * cross).sum() / (12 * area)
    xy = ((x0 * y1 + 2 * x0 * y0 + 2 * x1 * y1 + x1 * y0) * cross).sum() / (24 * area)
    return abs(area), middle + shift, np.array([[xx, xy], [xy, yy]]) - np.outer(middle, middle)


def _any_frame(body_px: Floats) -> Frame | None:
    """Return a frame whose head and belly are not told yet; None for a piece that is too round."""
    _, _, spread = moments(body_px)
    sizes, axes = np.linalg.eigh(spread)
    if math.sqrt(sizes[1] / max(sizes[0], 1e-12)) < LEAST_STRETCH:
        return None
    along, across = axes[:, 1], axes[:, 0]
    ends, sides = body_px @ along, body_px @ across
    return Frame(ends.min() * along + sides.min() * across, along, across, float(np.ptp(ends)), float(np.ptp(sides)))


def _told(rules: Sequence[str], of: Callable[[str], float]) -> tuple[float, str]:
    """Return 1 or -1 by the first rule that tells, and the rule; 0 and nothing where none does."""
    for rule in rules:
        if sign := of(rule):
            return sign, rule
    return 0.0, ""


def _head(rule: str, frame: Frame, body_px: Floats, hardware_px: Floats) -> float:
    """Return 1 where the head is at the frame's beginning, -1 at its end, 0 where the rule does not tell."""
    if rule in DIRECTION:
        return _by_direction(rule, -frame.along)
    if rule == "eye":
        along = frame.fractions(hardware_px.reshape(-1, 2))[:, 0]
        ends = bool((along < END).any()), bool((along > 1 - END).any())
        return float(ends[0]) - float(ends[1])
    first, last = _end_areas(frame.fractions(body_px))
    sign = float(first > THICKER * last) - float(last > THICKER * first)
    return sign if rule == "thick end" else -sign


def _belly(rule: str, frame: Frame, body_px: Floats) -> float:
    """Return 1 where the belly is at the frame's far side, -1 at its near side, 0 where the rule does not tell."""
    if rule in DIRECTION:
        return _by_direction(rule, frame.across)
    _, middle, _ = moments(frame.fractions(body_px))
    off = 0.5 - float(middle[1])  # the round side reaches farther from the middle of the area than the flat one
    sign = math.copysign(1.0, off) if abs(off) > LOPSIDED else 0.0
    return sign if rule == "round side" else -sign


def _by_direction(rule: str, towards: Floats) -> float:
    cosine = float(towards @ np.array(DIRECTION[rule]))
    return math.copysign(1.0, cosine) if abs(cosine) > UPRIGHT else 0.0


def _end_areas(outline: Floats) -> tuple[float, float]:
    """Return the areas of both ends of an outline in fractions, (N, 2)."""
    steps = np.linspace(0.0, 1.0, 201)
    along, across = outline.T
    slot = np.clip((along * (len(steps) - 1)).astype(np.intp), 0, len(steps) - 2)
    low, high = np.full(len(steps) - 1, np.inf), np.full(len(steps) - 1, -np.inf)
    np.minimum.at(low, slot, across)
    np.maximum.at(high, slot, across)
    seen = np.isfinite(low) & np.isfinite(high)
    width = np.where(seen, high - low, 0.0)
    middle = (steps[:-1] + steps[1:]) / 2
    return float(width[middle < END].sum()), float(width[middle > 1 - END].sum())
