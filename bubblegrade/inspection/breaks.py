"""What breaks the dark rim of a piece: bright spots where all the rim near by is dark, as a void within it shows.

No light comes straight through the rim, so little is measured there; but a void bends some into it and is seen at a
glance. Along the outline the rim is much the same: what is brighter than nearly all of it at the same depth breaks it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from bubblegrade.inspection.extent import Along, around

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
Places = NDArray[np.intp]
Image = NDArray[np.float32]

WINDOW: Final = 0.12  # of the outline's length: the rim near by,
NEARLY_ALL: Final = 95.0  # percent of which a break outshines
DARK: Final = 0.75  # of the clear resin's light: what near by is the rim has less
RISE: Final = 0.12  # of the clear resin's light: by how much a break is brighter
SHIFT: Final = 3  # squares of depth that count as one, as the rim's border sways
EDGE: Final = 1.5  # squares at the outline, which the bare light brightens
LEAST_SQUARES: Final = 4.0  # across: smaller breaks are noise


@dataclass(frozen=True, eq=False)
class Unrolled:
    """Squares near the border of a piece, each by its place along the outline."""

    rows: Places
    cols: Places
    depth: Floats  # squares from the outline
    place: Places  # along the outline
    places: int  # around the whole outline

    def __getitem__(self, chosen: Mask) -> Unrolled:
        """Return the chosen squares."""
        return Unrolled(self.rows[chosen], self.cols[chosen], self.depth[chosen], self.place[chosen], self.places)


def breaks_of(band: Unrolled, along: Along, lit: Image, width: Floats) -> Floats:
    """Return middle x, y and diameter, (N, 3) in squares, of what breaks the rim.

    Its own border may be lost in the dark: the diameter is that of the largest void that may show so.

    Parameters
    ----------
    band
        The squares as deep as the rim is wide.
    along
        The light near the outline.
    lit
        (rows, cols), light over that of the clear resin.
    width
        Of the rim in squares, by place along the outline.
    """
    light = lit[band.rows, band.cols].astype(np.float64)
    near = _near_by(band, light)[band.place, band.depth.astype(np.intp)]
    bright = (near < DARK) & (light > near + RISE) & (band.depth > EDGE)
    mask = np.zeros(lit.shape, np.uint8)
    mask[band.rows[bright], band.cols[bright]] = 1
    count, labels = cv2.connectedComponents(cv2.dilate(mask, np.ones((3, 3), np.uint8)), connectivity=8)
    of = labels[band.rows, band.cols]
    found: list[tuple[float, float, float]] = []
    for label in range(1, count):
        own = bright & (of == label)
        (x, y), reach = cv2.minEnclosingCircle(np.stack([band.cols[own], band.rows[own]], axis=1).astype(np.int32))
        if 2 * reach + 1 >= LEAST_SQUARES:
            most = max(2 * reach + 1, 2 * float(np.median(width[band.place[own]])))
            found.append((x, y, max(2 * reach + 1, along.largest(x, y, reach, most))))
    return np.array(found, np.float64).reshape(-1, 3)


def _near_by(band: Unrolled, light: Floats) -> Floats:
    """Return what nearly all of the rim near by stays under, (places, depths)."""
    depths = band.depth.astype(np.intp)
    shape = band.places, int(depths.max()) + 1
    cell = band.place * shape[1] + depths
    count = np.bincount(cell, minlength=shape[0] * shape[1]).reshape(shape)
    total = np.bincount(cell, light, minlength=shape[0] * shape[1]).reshape(shape)
    mean = np.divide(total, count, out=np.ones(shape), where=count > 0)
    places = np.arange(shape[0])
    for depth in range(shape[1]):
        told = count[:, depth] > 0
        if told.any():
            mean[:, depth] = np.interp(places, places[told], mean[told, depth], period=shape[0])
    size = max(3, int(WINDOW * shape[0]) | 1)
    near = around(mean.T, NEARLY_ALL, size).T
    return np.asarray(ndimage.maximum_filter1d(near, SHIFT, axis=1, mode="nearest"))
