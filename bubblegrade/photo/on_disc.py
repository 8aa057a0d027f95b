"""A photograph of a casting beside a coin or disc: its scale, and the photograph without the disc."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

from bubblegrade.errors import InputError
from bubblegrade.photo.covering import covered
from bubblegrade.photo.disc import Disc, find_disc
from bubblegrade.photo.disc_view import THICK_ERR_MM, THICK_MM, seen_scale
from bubblegrade.photo.lens import Lens, lens_from_focal
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.mid_plane import mid_plane_scale, stated_height_err_mm
from bubblegrade.photo.reading import Photo
from bubblegrade.photo.scale import LEAST_MM_PER_PX, MOST_MM_PER_PX, Scale, SpanPx

DISC_ERR_MM: Final = 0.05  # of a coin, worn or from another press, and of a disc measured with callipers
MARGIN: Final = 1.06  # by how much more than the disc is covered: its edge is blurred


@dataclass(frozen=True)
class OnDisc:
    """What the user says about the disc and the camera."""

    across_mm: float
    camera_height_mm: float | None = None  # of the lens over the light


@dataclass(frozen=True)
class _Level:
    """The plane of the light, as the disc on it tells."""

    shape_px: tuple[int, int]
    mm_per_px: float
    fit_err_share: float
    print_err_share: float
    camera_height_mm: float
    camera_height_err_mm: float
    nearest_mm: float = 0.0  # a disc's perspective tells no height
    top_mm: float = THICK_MM
    top_err_mm: float = THICK_ERR_MM


def beside_disc(photo: Photo, said: OnDisc, *, thickness_mm: float | None, index: float) -> tuple[Photo, Scale, SpanPx]:
    """Return the photograph with the disc covered, the scale at the casting's mid plane, and the span it comes from.

    Parameters
    ----------
    photo
        As read.
    said
        What is known of disc and camera.
    thickness_mm
        The casting's; None if it is not known.
    index
        Refractive index of the resin.

    Raises
    ------
    PhotoError
        There is no disc in view, or more than one.
    InputError
        The scale that follows is absurd.
    """
    disc = find_disc(grey_light(photo.codes, photo.tone), name=photo.name)
    level = _level(disc, said, photo)
    scale = mid_plane_scale(
        level, thickness_mm, said.camera_height_mm, index=index, source=f"disc, {said.across_mm:g} mm"
    )
    codes = covered(photo.codes, disc.region(photo.shape_px, margin=MARGIN))
    return replace(photo, codes=codes), scale, disc.ends_px


def _level(disc: Disc, said: OnDisc, photo: Photo) -> _Level:
    """Return the plane of the light, its scale and how far the camera is from it."""
    lens = lens_from_focal(photo.noted.focal_35mm, photo.shape_px)
    if said.camera_height_mm is not None:
        lens = _lens_at(said.camera_height_mm, said.across_mm / disc.long_px, lens)
    seen = seen_scale(disc, said.across_mm, lens)
    mm_per_px = seen.mm_per_px
    if not LEAST_MM_PER_PX <= mm_per_px <= MOST_MM_PER_PX:
        raise InputError(
            f"--disc {said.across_mm:g}mm over {disc.long_px:.0f} px is {mm_per_px:.3g} mm per px: check the diameter"
        )
    height = lens.focal_px * mm_per_px if lens.is_known else math.nan
    return _Level(
        shape_px=photo.shape_px,
        mm_per_px=mm_per_px,
        fit_err_share=math.hypot(disc.long_err_px / disc.long_px, seen.err_share),
        print_err_share=DISC_ERR_MM / said.across_mm,
        camera_height_mm=height,
        camera_height_err_mm=height * lens.focal_err_px / lens.focal_px,
    )


def _lens_at(height_mm: float, mm_per_px: float, lens: Lens) -> Lens:
    """Return the lens that sees the light at this scale from a stated height."""
    focal_px = height_mm / mm_per_px
    focal_err_px = focal_px * stated_height_err_mm(height_mm) / height_mm
    return replace(lens, focal_px=focal_px, focal_err_px=focal_err_px, is_known=True)
