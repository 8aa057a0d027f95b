"""A photograph of a casting on the scale card becomes a square view of it, with a scale."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import PhotoError
from bubblegrade.photo.card_finding import find_card
from bubblegrade.photo.lens import Lens, lens_from_focal
from bubblegrade.photo.mid_plane import mid_plane_scale
from bubblegrade.photo.reading import Photo
from bubblegrade.photo.scale import Scale
from bubblegrade.photo.squaring import card_corners_px, squared, squared_window

Codes = NDArray[np.uint8] | NDArray[np.uint16]
Floats = NDArray[np.float64]

AROUND_PX: Final = 9  # width of the seam around a strip whose light is put in its place


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
        else:
            codes, _ = squared(photo.codes, found)
            codes = _covered(codes, card_corners_px(found))
    except PhotoError as fault:
        raise PhotoError(f"{photo.name}: {fault}") from fault
    scale = mid_plane_scale(found, thickness_mm, said.camera_height_mm, index=index)
    return replace(photo, codes=codes), scale


def _covered(codes: Codes, corners_px: Floats) -> Codes:
    """Return the picture with a region, (4, 2) x, y, in the colour of its surroundings."""
    region = np.zeros(codes.shape[:2], np.uint8)
    cv2.fillConvexPoly(region, np.rint(corners_px).astype(np.int32), 1)
    side = 2 * AROUND_PX + 1
    seam = cv2.dilate(region, np.ones((side, side), np.uint8)).astype(bool) & ~region.astype(bool)
    covered = codes.copy()
    if seam.any():
        covered[region.astype(bool)] = np.median(codes[seam], axis=0).astype(codes.dtype)
    return covered
