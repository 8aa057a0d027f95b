"""What the checks look at: a photograph, the casting's outline in it, and what is known of the camera."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.backlight import backlight_around
from bubblegrade.casting.flattened import Flattened
from bubblegrade.casting.outline import Mask, Outline
from bubblegrade.fitness.defocus import disc_radius_px
from bubblegrade.fitness.edges import DARKEST, Edges, find_edges
from bubblegrade.fitness.grain import grain_of
from bubblegrade.fitness.softest import UNTOLD, Softest
from bubblegrade.optics import USUAL_INDEX
from bubblegrade.photo.light import Light, grey_light
from bubblegrade.photo.reading import Photo
from bubblegrade.quantiles import median

RIM_PX: Final = 4  # coarse px around the casting in which its edge still shades the light
THINGS: Final = 0.4  # of the bare light: darker is a coin, a clamp or the like beside the casting
LEAST_SEEN: Final = 0.02  # of the frame that must show bare light to tell of it
WINDOW_PX: Final = 400  # side of the square that fine detail is judged by as a whole
STEEPEST: Final = 0.05  # slope over the clear light per coarse px: where a window is chosen, more counts as this
EVERY: Final = 5  # of the places that a median is taken over, one of so many: enough of them
FADE_PX, FADE_OVER_PX = 17, 5.0  # along the border of what is judged


def some(picture: NDArray[Any], mask: Mask) -> NDArray[Any]:
    """Return a picture's pixels, one of EVERY, at the places of a mask."""
    return picture.reshape(mask.size, *picture.shape[2:])[np.flatnonzero(mask)[::EVERY]]


def _summed(picture: Light, side: int) -> NDArray[np.float64]:
    """Return the sums over all squares of a picture, by the places of their first pixels."""
    sums = cv2.integral(picture)
    return np.asarray(sums[side:, side:] - sums[:-side, side:] - sums[side:, :-side] + sums[:-side, :-side])


@dataclass(frozen=True, eq=False)
class View:
    """A photograph as the checks see it; what is not known is NaN."""

    photo: Photo
    light: Flattened  # divided by the bare light where that was photographed
    outline: Outline
    whole: bool = False  # the frame is judged, and no outline was looked for
    mm_per_px: float = math.nan
    thickness_mm: float = math.nan
    camera_height_mm: float = math.nan  # of the lens over the backlight
    focal_35mm: float = math.nan  # focal length in 35 mm equivalents
    smallest_mm: float = math.nan  # diameter of the smallest void that is asked for
    index: float = USUAL_INDEX
    graded: bool = False  # voids were looked for, and speak for a casting
    blur_px: float = math.nan  # standard deviation, as the rings of voids show it, once they were measured
    softest: Softest = UNTOLD  # where voids are blurred most, once they were measured
    steepness: float = math.nan  # darkness in the middle of voids over that by optics, once they were measured

    @property
    def has_outline(self) -> bool:
        """Whether the casting's outline was found."""
        return len(self.outline.edge_px) > 0

    @property
    def no_outline(self) -> str:
        """Why there is no outline to look at; empty where there is one."""
        if self.whole:
            return "no outline was looked for"
        return "" if self.has_outline else "no outline was found"

    @property
    def coarse(self) -> Light:
        """The light, averaged over squares of the outline's step."""
        return self.outline.coarse

    @cached_property
    def behind(self) -> Light | None:
        """The light over the coarse picture without the casting, or of the clear resin where no bare light is seen.

        None where too little of it is seen.
        """
        if self.seen.mean() < LEAST_SEEN:
            return None
        surface = backlight_around(self.coarse[::2, ::2], self.seen[::2, ::2])
        return np.asarray(cv2.resize(surface, self.coarse.shape[::-1], interpolation=cv2.INTER_LINEAR), np.float32)

    @property
    def level(self) -> Light:
        """The coarse light over the bare light there, where that is seen: it does not fall as the backlight does."""
        return (
            self.coarse
            if self.behind is None
            else np.asarray(self.coarse / np.maximum(self.behind, DARKEST), np.float32)
        )

    @cached_property
    def edges(self) -> Edges:
        """Edges in the casting, away from its own edge; with those of its edge where there are too few."""
        return self.edges_thinned(1)

    def edges_thinned(self, thin: int) -> Edges:
        """Return likewise the edges in the picture averaged over squares of so many px each way."""
        masks = (self.outline.well_inside, self.outline.casting)
        inner, with_own = (partial(find_edges, self.light, self.coarse, mask, thin=thin) for mask in masks)
        return found if not math.isnan((found := inner()).width_px) else with_own()

    @cached_property
    def grain(self) -> float:
        """The noise of clear resin, as a share of its light; NaN where too little is seen."""
        return grain_of(self.light, self.outline)

    @cached_property
    def disc_px(self) -> float:
        """The radius of the disc that a lens out of focus draws of a point; NaN where none is seen."""
        return disc_radius_px(self.detail, self.fade, steepest=self.edges.steepest)

    @cached_property
    def bare(self) -> Mask:
        """Where the coarse picture shows bare light, beside casting and other things; nowhere without an outline."""
        if not self.has_outline:
            return np.zeros(self.coarse.shape, bool)
        side = 2 * RIM_PX + 1
        around = cv2.dilate(self.outline.casting.astype(np.uint8), np.ones((side, side), np.uint8)).astype(bool)
        field = self.outline.lit & (self.coarse > THINGS * median(self.coarse[self.outline.lit & ~around]))
        lit = cv2.erode(field.astype(np.uint8), np.ones((side, side), np.uint8), borderValue=1)
        return np.asarray(lit.astype(bool) & ~around)

    @cached_property
    def thin_codes(self) -> NDArray[Any]:
        """One pixel's code values, as the camera stored them, for each of the coarse picture."""
        step, (rows, cols) = self.outline.step_px, self.coarse.shape
        return np.ascontiguousarray(self.photo.codes[step // 2 :: step, step // 2 :: step][:rows, :cols])

    @cached_property
    def thin_light(self) -> Light:
        """The linear light of these pixels."""
        return grey_light(self.thin_codes, self.photo.tone)

    @cached_property
    def window(self) -> tuple[int, int, int]:
        """First row, first column and side of the square with the most detail well inside the casting.

        What counts is the detail along the direction that has least of it, the smaller eigenvalue of the slopes'
        summed tensor: voids have as much in every direction, a wire or the casting's rim in one.
        """
        side, step = min(WINDOW_PX, *self.light.shape), self.outline.step_px
        inside = self.outline.well_inside
        across, down = (cv2.Sobel(self.coarse, cv2.CV_32F, *along, scale=1 / 8) for along in ((1, 0), (0, 1)))
        slope = np.maximum(cv2.magnitude(across, down), np.float32(STEEPEST * DARKEST))
        most = STEEPEST * median(self.coarse[inside]) if inside.any() else 0.0
        weight = np.where(inside, np.minimum(slope, most), np.float32(0.0)) / slope**2
        of = min(side // step, *self.coarse.shape)
        rows, cols, both = (_summed(weight * part, of) for part in (across * across, down * down, across * down))
        least = rows + cols - np.hypot(rows - cols, 2.0 * both)
        at = np.unravel_index(int(np.argmax(least)), least.shape)
        top, left = (min(int(place) * step, size - side) for place, size in zip(at, self.light.shape, strict=True))
        return top, left, side

    @cached_property
    def detail(self) -> Light:
        """The light in the window over its clear light less 1; `fade` says what of it is well inside."""
        light, inside = self.light[self._box], self.outline.full(self.outline.well_inside, self._box)
        return np.asarray(light / max(median(light[inside][::EVERY]) if inside.any() else 0.0, DARKEST) - 1.0)

    @cached_property
    def fade(self) -> Light:
        """1 in the window's part well inside the casting, falling to 0 along the border of that."""
        inside = self.outline.full(self.outline.well_inside, self._box).astype(np.float32)
        far_inside = cv2.erode(inside, np.ones((FADE_PX, FADE_PX)), borderValue=0)
        return np.asarray(cv2.GaussianBlur(far_inside, (0, 0), FADE_OVER_PX), np.float32)

    @property
    def _box(self) -> tuple[slice, slice]:
        """The window's rows and columns."""
        top, left, side = self.window
        return np.s_[top : top + side, left : left + side]

    @property
    def seen(self) -> Mask:
        """Coarse: the bare light where it is seen, else what is judged."""
        return self.bare if self.bare.any() else self.outline.judged
