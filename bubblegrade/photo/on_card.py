"""A photograph of a casting on the scale card becomes a square view of it, with a scale."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import PhotoError
from bubblegrade.photo.aslant import enlarged_aslant
from bubblegrade.photo.card_finding import find_card
from bubblegrade.photo.covering import covered
from bubblegrade.photo.lens import Lens, lens_from_focal
from bubblegrade.photo.mid_plane import AS_DRAWN, mid_plane_scale
from bubblegrade.photo.reading import Photo
from bubblegrade.photo.scale import Scale
from bubblegrade.photo.squaring import card_corners_px, squared, squared_window, window_turn

Floats = NDArray[np.float64]

OTHER_LENS: Final = "the lens as calibrated has"  # how the remark on one of another camera or zoom begins
MOST_UNLIKE: Final = 1.25  # ratio of the lens's focal length to the noted one: close focus lengthens it by less


@dataclass(frozen=True)
class OnCard:
    """What the user says about the card and the camera."""

    printed_mm: float | None = None  # length of the card's check length as printed; None: not measured
    camera_height_mm: float | None = None  # of the lens over the card
    lens: Lens | None = None  # from a calibration


def square_view(photo: Photo, said: OnCard, *, thickness_mm: float | None, index: float) -> tuple[Photo, Scale]:
    """Return the photograph squared to the card's plane, and the scale at the casting's mid plane.

    Of a card with a window only what the window shows is left; a strip beside the casting is covered with the light
    around it.

    Parameters
    ----------
    photo
        As read.
    said
        What is known of card and camera.
    thickness_mm
        The casting's thickness; None if it is not known.
    index
        Refractive index of the resin.

    Raises
    ------
    PhotoError
        There is no card in view, or too little of it.
    """
    lens = said.lens or lens_from_focal(photo.noted.focal_35mm, photo.shape_px)
    found = find_card(photo.codes, printed_mm=said.printed_mm, lens=lens, name=photo.name)
    try:
        if found.layout.hole:
            codes, _ = squared_window(photo.codes, found)
            turn = window_turn(found)
        else:
            codes, _ = squared(photo.codes, found)
            codes = covered(codes, _within(card_corners_px(found), codes.shape[:2]))
            turn = found.plane.turn_at(found.spot_mm)
    except PhotoError as fault:
        raise PhotoError(f"{photo.name}: {fault}") from fault
    source = f"card {AS_DRAWN}" if said.printed_mm is None else "card"
    scale = mid_plane_scale(found, thickness_mm, said.camera_height_mm, index=index, source=source)
    enlarged, enlarged_err = enlarged_aslant(found.view_cosine, found.view_cosine_err, index=index)
    told = (*photo.warnings, *_unlike(said.lens, photo.noted.focal_35mm))
    return replace(photo, codes=codes, warnings=told), replace(
        scale, enlarged=enlarged, enlarged_err=enlarged_err, enlarged_along=found.view_along + turn
    )


def _unlike(lens: Lens | None, noted_35mm: float) -> tuple[str, ...]:
    """Return the remark on a calibrated lens with another focal length than the photograph notes; NaN notes none."""
    if lens is None or not noted_35mm > 0.0:
        return ()
    if 1.0 / MOST_UNLIKE <= lens.focal_35mm / noted_35mm <= MOST_UNLIKE:
        return ()
    return (
        f"{OTHER_LENS} {lens.focal_35mm:.0f} mm of focal length and the photograph notes "
        f"{noted_35mm:.0f} mm (35 mm equivalents), and mm come out wrong with another's: calibrate this camera at this "
        "zoom, or leave --lens out",
    )


def _within(corners_px: Floats, shape_px: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return the pixels within a region, (4, 2) x, y, of a picture of (rows, cols)."""
    region = np.zeros(shape_px, np.uint8)
    cv2.fillConvexPoly(region, np.rint(corners_px).astype(np.int32), 1)
    return region.astype(bool)
