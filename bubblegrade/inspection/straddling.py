"""What lies half in the dark rim of a piece: bright within the rim, and dark where the clear resin begins.

A void that reaches out of the rim bends light into it, and its ring darkens the resin beyond. Either alone is also what
images and marks make. Of 296 bright spots in the rims of 192 traced lures 20 of 24 at voids showed both over one
stretch of the outline, and 25 of 272 others.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.inspection.extent import SHORT, Along

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
Image = NDArray[np.float32]

CLEAR: Final = 0.75  # of the clear resin's light: most near by has less at the depths that are the rim, and
BLACK: Final = 0.6  # less than this where a bright spot in it is no sway of its border
RISE: Final = 0.12  # of the clear resin's light: by how much a bright spot is brighter
LEAST_SQUARES: Final = 6  # along the outline: shorter stretches are noise, or a sway of the border
THICK: Final = 2  # squares beyond the rim that are dark, at least; and as far from its border they begin
ASIDE: Final = 0.2  # of the longer stretch: so far apart lie the middles of the two at most,
ALIKE: Final = 0.55  # and so much of it the shorter one is at least
WIDEST: Final = 2  # rim's widths: a void that is longer shows in the clear resin, an image of ballast need not (3 to 9)


class _Stretch(NamedTuple):
    """A connected body of squares along the unrolled outline."""

    first: int  # place along the outline
    depth: int  # of its outermost square
    long: int  # places
    deep: int  # squares

    @property
    def middle(self) -> float:
        return self.first + (self.long - 1) / 2


def straddling(along: Along, dark: Mask) -> Floats:
    """Return x, y and the largest diameter, (N, 3) in squares, of what lies across the rim's inner border.

    Parameters
    ----------
    along
        The light near the outline.
    dark
        (rows, cols), squares of the piece through which nothing can be judged, those of counted voids left out.
    """
    border = _border(along.usual)
    depths = np.arange(len(along.light))[:, None]
    bright = (along.light > along.usual + RISE) & (along.usual < BLACK) & (depths > 0) & (depths < border)
    cols, rows = (np.clip(np.rint(along.places[..., k]), 0, dark.shape[1 - k] - 1).astype(np.intp) for k in (0, 1))
    beyond = dark[rows, cols] & (depths > border)
    rings = [
        each
        for each in _stretches(beyond)
        if THICK <= each.deep <= each.long and each.depth <= border[int(each.middle) % len(border)] + THICK
    ]
    found = [
        _largest(along, border, spot, ring)
        for spot in _stretches(bright)
        for ring in rings
        for shorter, longer in [sorted((spot, ring), key=lambda each: each.long)]
        if longer.long <= WIDEST * border[int(longer.middle) % len(border)]
        and _apart(spot, ring, len(border)) <= ASIDE * longer.long
        and shorter.long >= ALIKE * longer.long
    ]
    return np.array(found, np.float64).reshape(-1, 3)


def _border(usual: Image) -> NDArray[np.intp]:
    """Return the depth at which the rim ends, by place along the outline; 0 where there is none."""
    dark = usual < CLEAR
    depths = np.arange(len(usual))[:, None]
    over = ~dark & (depths > dark.argmax(axis=0))
    return np.where(dark.any(axis=0) & over.any(axis=0), over.argmax(axis=0), 0)


def _stretches(mask: Mask) -> list[_Stretch]:
    """Return the bodies in a mask, (depths, places), of a closed outline; each once, though the ends meet."""
    places = mask.shape[1]
    closed = np.concatenate([mask, mask], axis=1).view(np.uint8)
    _, _, boxes, _ = cv2.connectedComponentsWithStats(closed, connectivity=8)
    own = [_Stretch(int(x), int(y), int(wide), int(high)) for x, y, wide, high, _ in boxes[1:]]
    return [each for each in own if LEAST_SQUARES <= each.long < places and places / 2 <= each.middle < places * 3 / 2]


def _apart(one: _Stretch, other: _Stretch, places: int) -> float:
    """Return how many places lie between two middles, the shorter way around the outline."""
    return abs((one.middle - other.middle + places / 2) % places - places / 2)


def _largest(along: Along, border: NDArray[np.intp], spot: _Stretch, ring: _Stretch) -> tuple[float, float, float]:
    """Return x, y and diameter, in squares, of the largest void that shows in both: over their length or depth."""
    longer = max(spot, ring, key=lambda each: each.long)
    place = int(longer.middle) % len(border)
    x, y = along.places[border[place], place]
    deep = ring.depth + ring.deep - spot.depth
    return float(x), float(y), max(along.length(longer.first, longer.long, border[place]) / SHORT, float(deep))
