"""All checks of a photograph, in the order in which they are shown, and a photograph checked by itself."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from bubblegrade.casting.flattened import Flattened
from bubblegrade.casting.outline import Outline, find_outline, whole_field
from bubblegrade.casting.roundness import across, span_is_cut
from bubblegrade.fitness import compression, evenness, exposure, geometry, noise, outlined, sharpness, stripes, tones
from bubblegrade.fitness.check import Fitness, Test
from bubblegrade.fitness.view import View
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import Photo
from bubblegrade.photo.scale import scale_from_width

TESTS: Final[tuple[Test, ...]] = (
    *exposure.TESTS,
    *noise.TESTS,
    *geometry.TESTS,
    *outlined.TESTS,
    *evenness.TESTS,
    *stripes.TESTS,
    *sharpness.TESTS,
    *compression.TESTS,
    *tones.TESTS,
)


@dataclass(frozen=True)
class Said:
    """What the user says of photographs to be checked; NaN where nothing is said."""

    mm_per_px: float = math.nan
    width_mm: float = math.nan  # the casting's widest span
    thickness_mm: float = math.nan
    camera_height_mm: float = math.nan
    smallest_mm: float = math.nan  # diameter of the smallest void that is to be measured
    whole: bool = False  # the frame is judged, without looking for an outline


def fitness_of(view: View) -> Fitness:
    """Return what all checks say of a photograph."""
    return Fitness(tuple(test.held(view) for test in TESTS))


def check_photo(photo: Photo, said: Said) -> Fitness:
    """Return how fit a photograph is to measure, without looking for voids.

    Raises
    ------
    InputError
        The scale that follows from the casting's width is absurd.
    """
    light = grey_light(photo.codes, photo.tone)
    seen = None if said.whole else find_outline(light)
    outline = whole_field(light) if seen is None else seen
    return fitness_of(
        View(
            photo=photo,
            light=Flattened(photo),
            outline=outline,
            whole=said.whole,
            mm_per_px=_mm_per_px(said, outline),
            thickness_mm=said.thickness_mm,
            camera_height_mm=said.camera_height_mm,
            focal_35mm=photo.noted.focal_35mm,
            smallest_mm=said.smallest_mm,
        )
    )


def _mm_per_px(said: Said, outline: Outline) -> float:
    """Return the scale as stated or from the casting's width; NaN where it is not known."""
    if math.isnan(said.width_mm) or not len(outline.edge_px):
        return said.mm_per_px
    seen = across(outline.edge_px)
    return math.nan if span_is_cut(outline, seen) else scale_from_width(said.width_mm, seen.long_px).mm_per_px
