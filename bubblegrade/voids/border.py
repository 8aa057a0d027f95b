"""How far places are from the border of what is judged, and whether a ring lies in the resin at all.

A loop of wire that stands out of a casting is a dark ring with a bright core, as a void is; but beyond it is no resin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.outline import Outline
from bubblegrade.quantiles import median
from bubblegrade.threads import runs

Image = NDArray[np.float32]

MOST_ROWS: Final = 30_000  # that OpenCV samples at once
BEYOND: Final = 1.35  # radii from a ring's middle: the resin around a void is looked for there
WAYS: Final = 24  # directions in which it is
BARE: Final = 0.35  # of them, the most without a casting, unless more of them let light through within it
LEAST_PX: Final = 3  # coarse px, radius of a loop: a smaller ring by a lure's dark edge is not told from one
CLEAR: Final = 0.4  # of the casting's median light: what lets less through is wire, or a dark rim


@dataclass(frozen=True, eq=False)
class Border:
    """How far it is to the border of the judged area."""

    distance: Image  # (rows, cols) of the coarse picture, in its px, negative outside
    step_px: int
    left_px: int = 0  # of the first pixel that places are counted from
    top_px: int = 0

    @classmethod
    def of(cls, outline: Outline) -> Border:
        """Return the distances to the border of an outline's judged area."""
        inside = cv2.distanceTransform(np.pad(outline.judged, 1).astype(np.uint8), cv2.DIST_L2, 5)[1:-1, 1:-1]
        outside = cv2.distanceTransform((~outline.judged).astype(np.uint8), cv2.DIST_L2, 5)
        return cls(np.asarray(inside - outside, np.float32), outline.step_px)

    def within(self, left_px: int, top_px: int) -> Border:
        """Return the same for places counted from another pixel."""
        return replace(self, left_px=left_px, top_px=top_px)

    def at(self, x_px: NDArray[np.float32], y_px: NDArray[np.float32]) -> NDArray[np.float32]:
        """Return (N,) distances in px of the photograph, negative outside."""
        places = (x_px + self.left_px, y_px + self.top_px)
        at_x, at_y = (((place + 0.5) / self.step_px - 0.5).astype(np.float32)[:, None] for place in places)
        near = [
            cv2.remap(self.distance, at_x[rows], at_y[rows], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            for rows in runs(len(at_x), MOST_ROWS)
        ]
        return np.asarray(np.concatenate([np.empty((0, 1), np.float32), *near])[:, 0] * self.step_px, np.float32)


def amid_resin(
    outline: Outline, x_px: NDArray[np.float32], y_px: NDArray[np.float32], radius_px: NDArray[np.float32]
) -> NDArray[np.bool_]:
    """Say for each of N rings whether resin lies around it, as around a void, or a loop's wire and bare light, (N,)."""
    way = np.linspace(0, 2 * np.pi, WAYS, endpoint=False, dtype=np.float32)
    reach = BEYOND * radius_px[:, None]
    places = x_px[:, None] + reach * np.cos(way), y_px[:, None] + reach * np.sin(way)
    clear = outline.casting & (outline.coarse > CLEAR * median(outline.coarse[outline.casting]))
    bare, resin = 1 - outline.holds(outline.casting, *places).mean(1), outline.holds(clear, *places).mean(1)
    return np.asarray((bare < BARE) | (resin > bare) | (radius_px < LEAST_PX * outline.step_px))
