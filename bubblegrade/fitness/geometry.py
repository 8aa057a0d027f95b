"""Geometry: casting whole in the frame, pixels enough for the size asked for, camera far enough."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from bubblegrade.casting.outline import Mask
from bubblegrade.fitness.check import RAISE, Limit, Measured, Place, Test
from bubblegrade.fitness.places import box
from bubblegrade.fitness.view import View
from bubblegrade.photo.lens import lens_from_focal

NEAREST: Final = 15.0  # camera height over the casting's thickness: nearer is too near (common practice)
USUAL_INDEX: Final = 1.5  # that this rule of the trade reckons with
NEAR_PX: Final = 3  # coarse px: the outline of a casting that the frame cuts keeps off the frame
LOST: Final = "no casting in view, or its outline is lost in the light"
FIND_IT: Final = (
    f"show it whole on the light, with no hand or clamp at it, or let 'grade' judge the frame with --whole; {RAISE}"
)
NOT_ASKED: Final = "no smallest size was asked for"
MOST_PERSPECTIVE: Final = 1.0 / (NEAREST * USUAL_INDEX)  # 4.4 % from front to back


def cut(view: View) -> Measured:
    """Measure the length of the frame that cuts the casting."""
    if view.no_outline:
        return Measured(math.nan, view.no_outline)
    if not view.outline.cut_by_frame:
        return Measured(0.0)
    length = float(max(sum(int(strip.sum()) for _, strip, _ in _sides(view)), 1) * view.outline.step_px)
    return Measured(length, "the casting is cut by the frame", _cut_sides(view))


def outline_lost(view: View) -> Measured:
    """Measure the share of the frame that is judged for want of the casting's outline."""
    if view.whole or view.has_outline:
        return Measured(0.0)
    rows, cols = view.light.shape
    share, place = view.outline.judged_area_px / (rows * cols) or 1.0, box(0, 0, cols - 1, rows - 1)
    if not view.graded:
        return Measured(share, LOST, place, cure=FIND_IT)
    return Measured(share, "the casting's outline is lost in the light", place)


def pixels(view: View) -> Measured:
    """Measure how many pixels the smallest void asked for has across."""
    if math.isnan(view.smallest_mm):
        return Measured(math.nan, NOT_ASKED)
    if math.isnan(view.mm_per_px):
        return Measured(math.nan, "there is no scale")
    across = view.smallest_mm / view.mm_per_px
    return Measured(across, f"a void of {view.smallest_mm:g} mm is {across:.1f} px across")


def perspective(view: View) -> Measured:
    """Measure by how much a void at the front of the casting looks larger than one at its back.

    The casting's apparent thickness is its thickness over the refractive index.
    """
    if math.isnan(view.thickness_mm):
        return Measured(math.nan, "no thickness was given")
    height = _height_mm(view)
    if math.isnan(height):
        return Measured(math.nan, "neither camera height nor focal length with a scale is known")
    share = view.thickness_mm / view.index / max(height, 1e-6)
    return Measured(share, f"the camera is {height / view.thickness_mm:.0f} times the casting's thickness away")


def _height_mm(view: View) -> float:
    """Return the height of the lens over the light, as said or as focal length and scale tell; NaN if unknown."""
    if not math.isnan(view.camera_height_mm):
        return view.camera_height_mm
    if math.isnan(view.focal_35mm):
        return math.nan
    return lens_from_focal(view.focal_35mm, view.photo.shape_px).focal_px * view.mm_per_px


def _sides(view: View) -> tuple[tuple[str, Mask, float], ...]:
    """Return each side of the frame, where along it the casting reaches it, in coarse px, and its place in px."""
    casting = view.outline.casting
    rows, cols = view.light.shape
    strips = (
        ("top", casting[:NEAR_PX].T, 0.0),
        ("bottom", casting[-NEAR_PX:].T, rows - 1.0),
        ("left", casting[:, :NEAR_PX], 0.0),
        ("right", casting[:, -NEAR_PX:], cols - 1.0),
    )
    return tuple((side, np.asarray(strip.any(axis=1), np.bool_), fixed) for side, strip, fixed in strips)


def _cut_sides(view: View) -> Place:
    """Return the stretches of the frame that cut the casting, as lines."""
    step = view.outline.step_px
    lines = []
    for side, strip, fixed in _sides(view):
        at = np.flatnonzero(strip)
        if len(at):
            first, last = float(at[0] * step), float((at[-1] + 1) * step - 1)
            lines.append(
                np.array(
                    [[first, fixed], [last, fixed]] if side in ("top", "bottom") else [[fixed, first], [fixed, last]]
                )
            )
    return Place("line", tuple(lines))


TESTS: Final = (
    Test(
        "outline_lost",
        "frame judged for want of an outline",
        "share",
        Limit(0.0, 0.0),
        "what is judged is not the casting alone",
        f"the whole frame was judged, diffuse the light better, or {RAISE}",
        outline_lost,
    ),
    Test(
        "cut",
        "frame that cuts the casting",
        "px",
        Limit(0.0, 0.0),
        "voids beyond the frame are missing and counts per volume mean little",
        "show it whole, with no hand or clamp across it",
        cut,
    ),
    Test(
        "pixels",
        "smallest void asked for",
        "px",
        Limit(8.0, 5.0, least=True),
        "below 5 px no diameter can be told",
        "go nearer or use more pixels",
        pixels,
    ),
    Test(
        "perspective",
        "front larger than back",
        "share",
        Limit(MOST_PERSPECTIVE, 2 * MOST_PERSPECTIVE),
        "sizes depend on a void's depth",
        "go farther off, at least 15 times the thickness",
        perspective,
    ),
)
