"""How long what shows in the dark rim of a piece is along the outline, which bounds the void that it may be.

The flank of a piece curves across its outline and hardly along it. Across, it squeezes and mirrors what lies behind, so
no width there is a diameter; along, a void keeps its length. Whatever in the rim is brighter or darker than most of it
near by at the same depth is taken for the void's, its dark ring included.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from bubblegrade.inspection.depth import touching

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
Image = NDArray[np.float32]

WINDOW: Final = 0.12  # of the outline's length: the rim near by, of which
EVERY: Final = 4  # places along the outline of which one tells that: the rim changes slowly
QUARTERS: Final = (25.0, 50.0, 75.0)  # percent are darker than these: half lie between the outer two
UNLIKE: Final = 0.1  # of the clear resin's light: brighter or darker than these by as much is no rim
SKIN: Final = 2  # squares at the outline, where the border itself sways
SMOOTH: Final = 4.0  # squares by which the outline is smoothed, so that its stairs turn no normal
LIGHT: Final = 0.3  # of the rim's depths at a spot: where less of it is grey, a void's dark ring is lost in the black
SHORT: Final = 0.8  # of its diameter: so much of a void shows at least (0.81 and more of 64 traced, half of them 0.95)


@dataclass(frozen=True, eq=False)
class Along:
    """The light of a piece near its outline, unrolled: by depth and place along the outline, a square apart."""

    places: Image  # (depths, places, 2) x, y in squares
    light: Image  # (depths, places) over that of the clear resin
    usual: Image  # likewise: that of half the rim near by
    unlike: Mask  # (depths, places): brighter or darker than most of it near by
    shown: Mask  # likewise: light enough near by that what is dark would show

    @classmethod
    def of(cls, piece: Mask, lit: Image, deep: float) -> Along:
        """Return the outermost `deep` squares of a piece, (rows, cols), in light over that of the clear resin."""
        line, inward = _line(piece)
        places = (line + np.arange(math.ceil(deep) + 1)[:, None, None] * inward).astype(np.float32)
        light = np.asarray(
            cv2.remap(lit, places[..., 0], places[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE),
            np.float32,
        )
        few, size = light[:, ::EVERY], int(WINDOW * light.shape[1] / EVERY) | 1
        low, usual, high = (
            np.repeat(around(few, share, size), EVERY, axis=1)[:, : light.shape[1]] for share in QUARTERS
        )
        unlike = np.asarray((light > high + UNLIKE) | (light < low - UNLIKE))
        unlike[:SKIN] = False
        return cls(places, light, usual, unlike, low > UNLIKE)

    def largest(self, x: float, y: float, reach: float, most: float) -> float:
        """Return the diameter of the largest void that a spot may be, in squares, and no more than `most`.

        The spot lies within `reach` squares of x, y, and the rim is about half of `most` wide.
        """
        away = np.hypot(self.places[..., 0] - x, self.places[..., 1] - y)
        depth, at = np.unravel_index(int(away.argmin()), away.shape)
        near = (np.arange(-math.ceil(most), math.ceil(most) + 1) + at) % away.shape[1]
        body = cv2.morphologyEx(self.unlike[:, near].view(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)) > 0
        columns = np.flatnonzero(touching(body, body & (away[:, near] <= reach + 1)).any(axis=0))
        if not len(columns) or self.shown[SKIN : SKIN + math.ceil(most / 2), at].mean() < LIGHT:
            return most
        first, last = columns[[0, -1]]
        return min(most, self.length(int(near[first]), int(last - first) + 1, int(depth)) / SHORT)

    def length(self, first: int, many: int, depth: int) -> float:
        """Return how long `many` places from the `first` are at a depth, in squares; no less than at the outline."""
        there = self.places[depth, np.arange(first, first + many) % self.places.shape[1]].astype(np.float64)
        return float(np.maximum(np.linalg.norm(np.diff(there, axis=0), axis=1), 1.0).sum()) + 1.0


def around(values: NDArray[Any], percent: float, size: int) -> NDArray[Any]:
    """Return that under which `percent` of the `size` values around each lie, `size` odd, on closed lines, (lines, N).

    >>> around(np.array([[3.0, 1.0, 2.0, 9.0]]), 50.0, 3).tolist()
    [[3.0, 2.0, 2.0, 3.0]]
    """
    ends = size // 2
    closed = np.pad(values, ((0, 0), (ends, ends)), mode="wrap")
    # On one line with all others, as values are then kept in order from place to place.
    near = ndimage.percentile_filter(closed.ravel(), percent, size).reshape(closed.shape)
    return np.asarray(near[:, ends : ends + values.shape[1]])


def _line(piece: Mask) -> tuple[Floats, Floats]:
    """Return points along the outline, a square apart, and the ways inward from them, (N, 2) x, y each."""
    outlines, _ = cv2.findContours(piece.view(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=len)[:, 0, :].astype(np.float64)
    smooth = ndimage.gaussian_filter1d(outline, SMOOTH, axis=0, mode="wrap")
    closed = np.concatenate([smooth, smooth[:1]])
    far = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    steps = np.linspace(0.0, far[-1], max(int(far[-1]), 3), endpoint=False)
    line = np.stack([np.interp(steps, far, closed[:, k]) for k in (0, 1)], axis=1)
    way = ndimage.gaussian_filter1d(np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0), SMOOTH, axis=0, mode="wrap")
    way /= np.maximum(np.linalg.norm(way, axis=1, keepdims=True), np.finfo(np.float64).eps)
    inward = np.stack([-way[:, 1], way[:, 0]], axis=1)
    signed = cv2.contourArea(line.astype(np.float32), oriented=True)
    return line, inward if signed > 0 else -inward
