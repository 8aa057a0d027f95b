"""How wide the sharper edges of a picture are.

A step edge blurred by a Gaussian of standard deviation s has, after a further blur of t, a steepest slope that goes
with 1 / sqrt(s^2 + t^2). The ratio of the slopes after two such blurs gives s, whatever the height of the step. Its 10
to 90 % width, as slanted edges are judged after ISO 12233, is 2.563 s. A thin line's slope goes faster, with
u / (s^2 + t^2)^1.5 exp(-u^2 / 2 (s^2 + t^2)) at a distance u: it reads 61 % narrower at s = 2 px, 37 % at 4 px. So do
the rings of voids once blur has made lines of them: what is measured is the least that the blur can be.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.flattened import Flattened
from bubblegrade.casting.outline import Mask
from bubblegrade.photo.light import Light
from bubblegrade.quantiles import median, quantile

Floats = NDArray[np.float64]

WIDTH_10_90: Final = 2.563  # of a Gaussian edge, over its standard deviation
FINE_PX, BROAD_PX = 0.8, 2.0  # the two blurs
SLOPE_PX2: Final = 1.0 / 3.0  # variance that the difference of two neighbours adds
PIXEL_PX2: Final = 1.0 / 12.0  # variance of a pixel's own width: nothing is sharper
TILE_PX: Final = 64
MARGIN_PX: Final = 8  # around a tile, for the blurs
SIDE_PX: Final = TILE_PX + 2 * MARGIN_PX
MOST_TILES: Final = 30
INSIDE: Final = 0.8  # of a tile that must lie in the mask
QUIETEST: Final = 0.25  # of the tiles' slopes: what noise alone makes
LEAST_OVER_NOISE: Final = 8.0  # slope of an edge over the median of the quietest
LEAST_SLOPE: Final = 0.02  # of the clear light per px
LEAST_RATIO: Final = 1.02  # of the two slopes, squared: less is no edge but a shade
LEAST_EDGES: Final = 25  # that tell of a picture's blur
DARKEST: Final = 1e-3  # light that clear resin is taken to pass at least
STEEPER: Final = 0.9  # of the edges are less steep than the steeper ones
SHARPER: Final = 0.35  # of the edges: the rest belongs to soft things, such as hardware in a curved body


@dataclass(frozen=True, eq=False)
class Edges:
    """Edges found in a picture, one entry each."""

    variance: Floats  # of the blur across it, px^2; below 0 where it is thin line rather than step
    x_px: Floats
    y_px: Floats
    steepest: float  # slope of the steeper ones, over the clear light per px: no edge is wider than its height over it

    def __len__(self) -> int:
        return len(self.variance)

    @property
    def width_px(self) -> float:
        """The 10 to 90 % width that the sharper ones have at most; NaN where too few are seen."""
        if len(self) < LEAST_EDGES:
            return math.nan
        return WIDTH_10_90 * math.sqrt(max(float(np.quantile(self.variance, SHARPER)), PIXEL_PX2))


NO_EDGES: Final = Edges(np.empty(0), np.empty(0), np.empty(0), 0.0)


def find_edges(light: Flattened | Light, coarse: Light, mask: Mask, *, thin: int = 1) -> Edges:
    """Return the edges in the tiles of a picture with the steepest slopes, in its px.

    Parameters
    ----------
    light
        (rows, cols), linear.
    coarse
        The same, averaged over squares.
    mask
        Where to look, of the coarse picture's shape.
    thin
        Squares of so many px each way are averaged first, for edges too wide for a tile's blurs and its noise.
    """
    corners = _busiest(coarse, mask, (light.shape[0] // thin, light.shape[1] // thin))
    if not corners:
        return NO_EDGES
    tiles = np.concatenate([_thinned(light[_around(row, thin), _around(col, thin)], thin) for row, col in corners])
    across, down = _slopes(cv2.GaussianBlur(tiles, (0, 0), FINE_PX))
    fine = np.asarray(cv2.magnitude(across, down), np.float32)
    broad = cv2.magnitude(*_slopes(cv2.GaussianBlur(tiles, (0, 0), BROAD_PX)))
    quiet = quantile(fine[::5, ::5], QUIETEST / 2)
    clear = median(coarse[mask])
    least = max(LEAST_OVER_NOISE * quiet, LEAST_SLOPE * clear)
    rows, cols = np.nonzero((fine >= least) & (fine >= cv2.dilate(fine, np.ones((3, 3), np.uint8))))
    ratio = (fine[rows, cols].astype(np.float64) / np.maximum(broad[rows, cols], 1e-9)) ** 2
    own = [(places % SIDE_PX >= MARGIN_PX) & (places % SIDE_PX < SIDE_PX - MARGIN_PX) for places in (rows, cols)]
    kept = own[0] & own[1] & (ratio > LEAST_RATIO)
    rows, cols, ratio = rows[kept], cols[kept], ratio[kept]
    if not len(rows):
        return NO_EDGES
    first = np.array(corners, np.float64)[rows // SIDE_PX]
    fine_px2, broad_px2 = FINE_PX**2 + SLOPE_PX2, BROAD_PX**2 + SLOPE_PX2
    return Edges(
        variance=thin**2 * (broad_px2 - ratio * fine_px2) / (ratio - 1.0),
        x_px=thin * (first[:, 1] + cols - MARGIN_PX),
        y_px=thin * (first[:, 0] + rows % SIDE_PX - MARGIN_PX),
        steepest=quantile(fine[rows, cols], STEEPER) / (thin * max(clear, DARKEST)),
    )


def _around(first: int, thin: int) -> slice:
    """Return the rows or columns of a tile with its margins, from its first, thinned, in the whole picture."""
    return slice(thin * (first - MARGIN_PX), thin * (first - MARGIN_PX + SIDE_PX))


def _thinned(tile: Light, thin: int) -> Light:
    """Return a tile averaged over squares of `thin` px each way."""
    return tile if thin == 1 else np.asarray(cv2.resize(tile, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA))


def _slopes(tiles: NDArray[Any]) -> tuple[Light, Light]:
    """Return the slopes across and down, from the two neighbours of each pixel."""
    return (
        np.asarray(cv2.filter2D(tiles, cv2.CV_32F, np.array([[-0.5, 0.0, 0.5]], np.float32))),
        np.asarray(cv2.filter2D(tiles, cv2.CV_32F, np.array([[-0.5], [0.0], [0.5]], np.float32))),
    )


def _busiest(coarse: Light, mask: Mask, shape_px: tuple[int, ...]) -> list[tuple[int, int]]:
    """Return the first row and column of the tiles inside a coarse mask with the steepest slopes, steepest first."""
    step = shape_px[1] / coarse.shape[1]
    side = max(1, int(TILE_PX / step))
    across, down = cv2.Sobel(coarse, cv2.CV_32F, 1, 0), cv2.Sobel(coarse, cv2.CV_32F, 0, 1)
    rows, cols = coarse.shape[0] // side, coarse.shape[1] // side
    slope, inside = (
        part[: rows * side, : cols * side].reshape(rows, side, cols, side)
        for part in (np.where(mask, cv2.magnitude(across, down), 0.0), mask)
    )
    steepest = np.where(inside.mean(axis=(1, 3)) > INSIDE, slope.max(axis=1).max(axis=2), 0.0)
    order = np.argsort(-steepest, axis=None, kind="stable")[: 2 * MOST_TILES]
    places = [(int(i // cols * side * step), int(i % cols * side * step)) for i in order if steepest.flat[i] > 0.0]
    last = [size - TILE_PX - MARGIN_PX for size in shape_px[:2]]
    return [place for place in places if all(MARGIN_PX <= p <= most for p, most in zip(place, last, strict=True))][
        :MOST_TILES
    ]
