"""What the casting lets through, and how dark each spot is against the clear resin around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.backlight import COLOURLESS, backlight_around
from bubblegrade.casting.outline import Outline
from bubblegrade.casting.parts import disc
from bubblegrade.casting.rim import DARK, OPAQUE
from bubblegrade.quantiles import median
from bubblegrade.threads import each, runs

Image = NDArray[np.float32]
Floats = NDArray[np.float64]

DARKEST_BACKLIGHT: Final = 0.01  # of full scale: below it nothing can be said of what passes
CLEAR_AT_LEAST: Final = 0.96  # of the running clear level: brighter counts as clear resin
LEVEL_SIDE_PX: Final = 200  # the clear level varies slowly: a picture of this size holds it
LEVEL_REACH_PX: Final = 10  # of that picture: how far the clear level is averaged; 1/20 of the frame
TINTED: Final = 0.8  # of the light: resin through which less passes is tinted
FAINT: Final = 1e-3  # weight of a level where none is near
LINES: Final = 64  # worked on at once: they stay in the processor's cache
LEAST_DARKNESS: Final = -0.3
DIMMEST: Final = 1e-3  # of full scale: no clear level is taken to be darker


@dataclass(frozen=True, eq=False)
class Squares:
    """A picture averaged over squares, its longer side about LEVEL_SIDE_PX."""

    light: Image  # (rows, cols)
    side_px: int  # of a square
    shape_px: tuple[int, int]  # rows, cols of the picture

    @classmethod
    def of(cls, light: Image) -> Squares:
        """Return a picture of light, (rows, cols), averaged."""
        side = max(1, min(round(max(light.shape) / LEVEL_SIDE_PX), *light.shape))
        rows, cols = (size // side for size in light.shape)
        small = cv2.resize(light[: rows * side, : cols * side], (cols, rows), interpolation=cv2.INTER_AREA)
        return cls(np.asarray(small, np.float32), side, (light.shape[0], light.shape[1]))


def transmittance(light: Image, backlight: Image) -> Image:
    """Return light over the backlight's light, both linear and (rows, cols); NaN where the backlight is dark.

    >>> float(transmittance(np.full((1, 1), 0.3, np.float32), np.full((1, 1), 0.6, np.float32))[0, 0])
    0.5
    """
    lit = backlight >= DARKEST_BACKLIGHT
    result = np.full(light.shape, np.nan, np.float32)
    np.divide(light, backlight, out=result, where=lit)
    return result


def clear_level(squares: Squares, outline: Outline | None) -> Image:
    """Return the light that clear resin lets through at each spot, from what lies around the voids.

    It comes as (rows of the squares, cols of the photograph), for `stretched`. A closing bridges dark marks; then, four
    times over, the average of what is nearly as bright as that replaces it. Bare light around tinted resin would make
    the border within the `outline` look dark. What stays darker after the closing is too large for a void or a flake:
    a second pour, more deeply tinted, which has a level of its own. Wide opaque bodies take that of resin elsewhere.
    """
    small = squares.light
    if outline is not None and len(outline.edge_px):
        small = _of_the_casting(squares, outline)
    closed = np.asarray(cv2.morphologyEx(small, cv2.MORPH_CLOSE, disc(LEVEL_REACH_PX)), np.float32)
    level = np.asarray(np.minimum(closed, cv2.GaussianBlur(closed, (0, 0), LEVEL_REACH_PX)), np.float32)
    for _ in range(4):
        level = _averaged(small, small > CLEAR_AT_LEAST * level)
    if outline is not None:
        deeper = _deeper(closed, level)
        if deeper.any():
            own = _averaged(small, deeper & (small > CLEAR_AT_LEAST * closed))
            level = np.where(deeper, np.minimum(own, closed), level)
        if outline.opaque.any():
            level = _before_bodies(level, squares, outline)
    rows, cols = level.shape
    wide = cv2.resize(level, (cols * squares.side_px, rows), interpolation=cv2.INTER_LINEAR)
    return np.pad(wide, ((0, 0), (0, squares.shape_px[1] - wide.shape[1])), mode="edge")


def _averaged(small: Image, clear: NDArray[np.bool_]) -> Image:
    """Return the light of the `clear` squares, averaged about each of all."""
    weight = clear.astype(np.float32) + FAINT
    summed = cv2.GaussianBlur(small * weight, (0, 0), LEVEL_REACH_PX)
    return np.asarray(summed / cv2.GaussianBlur(weight, (0, 0), LEVEL_REACH_PX), np.float32)


def _before_bodies(level: Image, squares: Squares, outline: Outline) -> Image:
    """Return the clear level, before opaque bodies that of the resin elsewhere."""
    places = _middles(squares)
    body, resin = (outline.holds(mask, *places) for mask in (outline.opaque, outline.clear))
    return np.where(body, np.maximum(level, median(level[resin])), level) if resin.any() else level


def _middles(squares: Squares) -> tuple[Floats, Floats]:
    """Return x and y of the squares' middles, (rows, cols) px of the photograph each."""
    y, x = ((np.arange(size) + 0.5) * squares.side_px - 0.5 for size in squares.light.shape)
    across, down = np.meshgrid(x, y)
    return across, down


def _deeper(closed: Image, level: Image) -> NDArray[np.bool_]:
    """Say which squares show resin of a deeper tint than the clear `level` beside it, to where the two are alike."""
    surely = (closed < TINTED * level) & (closed > OPAQUE * level)
    _, labels = cv2.connectedComponents((closed < CLEAR_AT_LEAST * level).astype(np.uint8))
    return np.asarray(np.isin(labels, np.unique(labels[surely])))


def _of_the_casting(squares: Squares, outline: Outline) -> Image:
    """Return the squares' light, bare light beside tinted resin as if that were colourless."""
    small = squares.light
    casting = outline.holds(outline.casting, *_middles(squares)).astype(np.uint8)
    inner = cv2.erode(casting, np.ones((3, 3), np.uint8)).astype(bool)
    bright = inner & (small > DARK * cv2.dilate(np.where(inner, small, 0), disc(LEVEL_REACH_PX)))
    weight = bright.astype(np.float32)
    if not bright.any():
        return small
    near = cv2.GaussianBlur(small * weight, (0, 0), LEVEL_REACH_PX) + FAINT * median(small[bright])
    near /= cv2.GaussianBlur(weight, (0, 0), LEVEL_REACH_PX) + FAINT
    return np.asarray(np.where(inner | (near > TINTED * small), small, near / COLOURLESS))


def stretched(small: Image, step: float, lines: slice) -> Image:
    """Return some lines of a picture made `step` times as tall, linear between the middles of its rows."""
    place = np.clip((np.arange(lines.start, lines.stop) + 0.5) / step - 0.5, 0, len(small) - 1)
    low = place.astype(np.intp)
    share = (place - low)[:, None].astype(np.float32)
    rows = small[low[0] : low[-1] + 2]
    low -= low[0]
    made = np.diff(rows, axis=0, append=rows[-1:]).take(low, axis=0)
    made *= share
    made += rows.take(low, axis=0)
    return made


def darkness(light: Image, outline: Outline | None = None) -> Image:
    """Return 1 - light over the clear level, (rows, cols): 0 in clear resin, 1 where no light comes, never NaN."""
    squares = Squares.of(light)
    return darkened(light.copy(), clear_level(squares, outline), squares.side_px)


def darkened(light: Image, level: Image, step: int) -> Image:
    """Return the darkness of a picture of light against its clear level; it takes the light's place in memory."""
    lit = np.maximum(level, DIMMEST)

    def darken(lines: slice) -> None:
        part = light[lines]
        np.divide(part, stretched(lit, step, lines), out=part)
        np.subtract(1.0, part, out=part)
        np.maximum(part, LEAST_DARKNESS, out=part)

    each(darken, runs(len(light), LINES))
    return light


def clear_transmittance(outline: Outline) -> float:
    """Return the median transmittance of the judged part against the bare light around the casting; NaN if unknown."""
    coarse, judged = outline.coarse, outline.clear
    around = cv2.dilate(outline.casting.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)
    bare = backlight_around(coarse, ~around & (coarse > DARKEST_BACKLIGHT))
    if not judged.any() or np.isnan(bare).all():
        return float("nan")
    return median(transmittance(coarse, bare)[judged])
