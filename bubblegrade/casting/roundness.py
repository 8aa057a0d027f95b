"""Round castings: the smooth line that such an outline follows, and by how much it is longer than wide.

A camera that leans, or does not stand above the casting, sees a round one drawn out. Where its rim is wider than all
below it, as a tapered cup's, it is an ellipse then, and the long axis is the diameter. Where straight walls show the
foot beside the face it is an egg, and the short side is the diameter. An egg may also be what was cast, whose widest
span is its long side. No picture from above tells which: the middle of the two is half their difference off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from bubblegrade.casting.edge import LEAST_POINTS, STRAY, STRAY_PX, Points, oval, put_out, widest_span
from bubblegrade.casting.outline import Outline

FITTED: Final = 600  # points of an outline, evenly chosen, are enough
ROUNDS: Final = 6  # of the fit, each about the middle of the one before and without what strayed from it
DIRECTIONS: Final = 180  # in which the line's width is taken
# Traced pucks and cups, leaning by up to 20 degrees, had less than these but for 2 %; no lure or slab had less of OFF.
OFF: Final = 0.006  # of the radius: median distance of the points from the line
FOLLOWED: Final = 0.7  # share of the points that do not stray
WAVES: Final = (0.05, 0.035, 0.018)  # of the radius: the second, third and fourth wave around the line
# Seen aslant a round casting is the same on both sides of its length: of 90 that were drawn out 86 had less, and more
# had two that a level camera had seen, their outlines off the casting.
ASKEW: Final = 0.25  # of what it is drawn out by: what of the third or fourth wave, over the radius, is lopsided
LEAST_DRAWN: Final = 0.02  # taken for that where it is less: what is lopsided then is noise
MOST_OVAL: Final = 1.064  # length over width of an ellipse: a camera that leans by 20 degrees sees a circle so


@dataclass(frozen=True, eq=False)
class Rounded:
    """The smooth line that the outline of a round casting follows."""

    ends_px: tuple[Points, Points]  # of its long side, (2,) x, y each
    long_px: float
    short_px: float
    is_ellipse: bool

    @property
    def drawn_out(self) -> float:
        """Its length over its width, less 1."""
        return self.long_px / self.short_px - 1.0

    @property
    def lean(self) -> float:
        """By how much a camera leans, in radians, that sees a flat circle so."""
        return float(np.arccos(self.short_px / self.long_px))


@dataclass(frozen=True, eq=False)
class Across:
    """What of an outline is as long as a casting is wide."""

    ends_px: tuple[Points, Points]  # (2,) x, y each
    long_px: float
    err_share: float  # one standard uncertainty: it may be the length or the width


def rounded(points: Points) -> Rounded | None:
    """Return the smooth line that an outline of (N, 2) x, y follows; None for that of a casting that is not round."""
    found = oval(points)
    if found is not None:
        a_circle = found.long < MOST_OVAL * found.short
        return Rounded(found.ends, found.long, found.short, is_ellipse=True) if a_circle else None
    return _egg(points)


def across(points: Points) -> Across:
    """Return what of an outline of (N, 2) x, y is as long as the casting's widest span.

    A triangle is not round:

    >>> across(np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]])).long_px
    5.0
    """
    found = rounded(points)
    if found is None or found.is_ellipse:
        one, other, length = widest_span(points)
        if found is None and len(points) >= LEAST_POINTS:
            way = (other - one) / length
            one, other = one - put_out(points, one, -way) * way, other + put_out(points, other, way) * way
        return Across((one, other), math.dist(one, other), 0.0)
    between = (found.long_px + found.short_px) / 2.0
    return Across(found.ends_px, between, (found.long_px - found.short_px) / 2.0 / between)


def span_is_cut(outline: Outline, seen: Across) -> bool:
    """Say whether the frame cuts the casting's widest span; an arc of a round one tells of it all the same."""
    ends = np.stack([outline.edge_px[np.argmin(np.sum((outline.edge_px - end) ** 2, axis=1))] for end in seen.ends_px])
    return outline.cut_by_frame and rounded(outline.edge_px) is None and bool(outline.at_edge(ends).any())


def _egg(points: Points) -> Rounded | None:
    """Return the line of four waves around a middle that most of an outline follows; None for another."""
    some = points[:: max(1, len(points) // FITTED)]
    if len(some) < LEAST_POINTS:
        return None
    middle, kept = some.mean(axis=0), np.ones(len(some), bool)
    for _ in range(ROUNDS):
        x, y = (some - middle).T
        waves = _waves(np.arctan2(y, x))
        sizes = np.linalg.lstsq(waves[kept], np.hypot(x, y)[kept], rcond=None)[0]
        off = np.abs(np.hypot(x, y) - waves @ sizes)
        usual = float(np.median(off))
        kept = off <= max(STRAY * usual, STRAY_PX)
        middle = middle + sizes[1:3]
    if usual > OFF * sizes[0] or kept.mean() < FOLLOWED:
        return None
    found = _sides(middle, sizes)
    around = (sizes[3::2] - 1j * sizes[4::2]) / sizes[0]  # second to fourth wave
    askew = np.abs((around[1:] * np.exp(-1j * np.array([1.5, 2.0]) * np.angle(around[0]))).imag).max()
    lopsided = askew > ASKEW * max(found.drawn_out, LEAST_DRAWN)
    return None if lopsided or (np.abs(around) > WAVES).any() else found


def _sides(middle: Points, sizes: Points) -> Rounded:
    """Return length and width of a line of four waves, of (9,) sizes, around a middle, (2,)."""
    turns = np.arange(2 * DIRECTIONS) * np.pi / DIRECTIONS
    ways = np.stack([np.cos(turns), np.sin(turns)])  # (2, directions)
    line = (_waves(turns) @ sizes)[:, None] * ways.T
    reach = (line @ ways).max(axis=0)
    widths = reach[:DIRECTIONS] + reach[DIRECTIONS:]
    longest = int(widths.argmax())
    way = ways[:, longest]
    ends = middle - reach[longest + DIRECTIONS] * way, middle + reach[longest] * way
    return Rounded(ends, float(widths.max()), float(widths.min()), is_ellipse=False)


def _waves(angles: Points) -> Points:
    """Return the mean, then cosine and sine of the first to fourth wave at (N,) angles, (N, 9)."""
    turned = np.arange(1, 5) * angles[:, None]
    pairs = np.stack([np.cos(turned), np.sin(turned)], axis=2).reshape(len(angles), -1)
    return np.hstack([np.ones((len(angles), 1)), pairs])
