"""The body of a piece: its outline without the loops and ends of wire that stand out of it.

Line ties and hook hangers lengthen an outline, as their wire happens to lie. Where one leaves the resin the outline
turns sharply inwards, once on either side of a narrow neck; the tips and the sides of a body do not. Large parts are
the piece's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.inspection.depth import depth

Floats = NDArray[np.float64]

GIRTH: Final = 160  # steps across the largest disc within the outline
REACH_STEPS: Final = 17  # over which a corner is told: a photograph rounds it
# Degrees of an inward turn: 1 of 384 outlines of traced lures without wire has such a corner (measured).
SHARP: Final = 25.0
NECK: Final = 0.35  # of the girth: an eye of 5 mm in a lure of 15 mm (common practice)
LONG: Final = 0.4  # of the neck: half a loop stands out so far
LARGEST: Final = 0.06  # of the piece's area


def body_of(outline_px: Floats) -> Floats:
    """Return a closed line, (N, 2) x, y in px, without what thin stands out of it; the same where nothing does."""
    step_px = _girth(outline_px) / GIRTH
    line = _dense(outline_px, step_px)
    kept = np.ones(len(line), bool)
    for arc in _arcs(_corners(line), len(line)):
        if kept[arc].all() and _stands_out(line, arc, step_px):
            kept[arc[1:-1]] = False
    return outline_px if kept.all() else line[kept]


def _girth(outline: Floats) -> float:
    """Return the diameter of the largest disc within a closed line, (N, 2), as fine as is needed here."""
    low, step = outline.min(axis=0), float(np.ptp(outline, axis=0).max()) / GIRTH
    area = np.zeros((GIRTH + 2, GIRTH + 2), np.uint8)
    cv2.fillPoly(area, [np.round((outline - low) / step).astype(np.int32)], 1)
    return 2.0 * step * float(depth(area.view(np.bool_)).max())


def _dense(line: Floats, step: float) -> Floats:
    """Return a closed line anew, its points a step apart, inside on the right of its way on the screen."""
    closed = np.concatenate([line, line[:1]])
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    places = np.linspace(0.0, way[-1], max(round(way[-1] / step), 3 * REACH_STEPS), endpoint=False)
    dense = np.stack([np.interp(places, way, column) for column in closed.T], axis=1)
    return dense if cv2.contourArea(dense.astype(np.float32), oriented=True) > 0 else dense[::-1]


def _corners(line: Floats) -> NDArray[np.intp]:
    """Return the points of a dense line at which it turns sharply inwards, one a corner, in order."""
    ahead, behind = np.roll(line, -REACH_STEPS, axis=0) - line, line - np.roll(line, REACH_STEPS, axis=0)
    turn = np.arctan2(behind[:, 0] * ahead[:, 1] - behind[:, 1] * ahead[:, 0], (behind * ahead).sum(axis=1))
    around = np.stack([np.roll(turn, shift) for shift in range(-REACH_STEPS, REACH_STEPS + 1)])
    return np.flatnonzero((np.degrees(turn) < -SHARP) & (turn == around.min(axis=0)))


def _arcs(corners: NDArray[np.intp], count: int) -> Iterator[NDArray[np.intp]]:
    """Yield the points from any corner on to any other around a line of `count` points, the longest arc first."""
    pairs = [((int(end) - int(start)) % count, int(start)) for start in corners for end in corners if start != end]
    for length, start in sorted(pairs, reverse=True):
        yield np.arange(start, start + length + 1) % count


def _stands_out(line: Floats, arc: NDArray[np.intp], step: float) -> bool:
    """Say whether the part of a dense line between two corners goes around something thin that stands out of it."""
    part = line[arc].astype(np.float32)
    neck, area = float(np.hypot(*(part[-1] - part[0]))), cv2.contourArea(part, oriented=True)
    if neck > NECK * GIRTH * step or not 0.0 < area < LARGEST * cv2.contourArea(line.astype(np.float32)):
        return False
    return float(np.hypot(*(part - (part[0] + part[-1]) / 2).T).max()) > LONG * max(neck, REACH_STEPS * step)
