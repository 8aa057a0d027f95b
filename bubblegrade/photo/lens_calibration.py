"""A camera calibrated from photographs of the card alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import cv2
import numpy as np

from bubblegrade.errors import InputError
from bubblegrade.photo.card_finding import FoundCard
from bubblegrade.photo.lens import Calibration, Lens

LEAST_PHOTOGRAPHS: Final = 2
LEAST_TILT_DEGREES: Final = 8.0  # of one of the photographs
MOST_FOCAL_ERR_SHARE: Final = 0.03
MOST_RMS_PX: Final = 1.0
FOCUS_ERR: Final = 0.003  # of k1 and k2: they change with focus (judgement)
FLAGS: Final = (
    cv2.CALIB_USE_INTRINSIC_GUESS
    | cv2.CALIB_FIX_PRINCIPAL_POINT
    | cv2.CALIB_FIX_ASPECT_RATIO
    | cv2.CALIB_ZERO_TANGENT_DIST
    | cv2.CALIB_FIX_K3
)


def calibrated(cards: Sequence[FoundCard]) -> Calibration:
    """Return the lens that took photographs of a card.

    Only upright photographs straight above tell nothing of the focal length: some must be tilted.

    Raises
    ------
    InputError
        Too few photographs, of several sizes, too much alike, or not of one lens.
    """
    if len(cards) < LEAST_PHOTOGRAPHS:
        raise InputError(
            f"{len(cards)} photograph of the card does not show a lens: give two or more, tilted to two sides"
        )
    rows, cols = cards[0].shape_px
    for card in cards:
        if sorted(card.shape_px) != sorted((rows, cols)):
            theirs = f"{card.shape_px[1]} x {card.shape_px[0]}"
            raise InputError(
                f"photographs of {cols} x {rows} and of {theirs} px are not of one camera setting: "
                "give photographs of one size"
            )
    centre = np.array(cards[0].lens.centre_px)
    # Upright and lying pictures share their middle.
    points = [(card.points_px - card.lens.centre_px + centre).astype(np.float32) for card in cards]
    places = [np.column_stack((card.places_mm, np.zeros(len(card.places_mm)))).astype(np.float32) for card in cards]
    focal = cards[0].lens.focal_px
    guess = np.array([(focal, 0.0, centre[0]), (0.0, focal, centre[1]), (0.0, 0.0, 1.0)])
    rms, matrix, bends, turns, _, errs, _, _ = cv2.calibrateCameraExtended(
        places, points, (cols, rows), guess, np.zeros(5), flags=FLAGS
    )
    _check_tilts([math.degrees(math.acos(min(1.0, abs(float(cv2.Rodrigues(turn)[0][2, 2]))))) for turn in turns])
    bends, errs = np.ravel(bends), np.ravel(errs)
    lens = Lens(
        shape_px=(rows, cols),
        focal_px=float(matrix[0, 0]),
        focal_err_px=float(max(errs[:2])),  # only one of the two is free
        k1=float(bends[0]),
        k1_err=math.hypot(float(errs[4]), FOCUS_ERR),
        k2=float(bends[1]),
        k2_err=math.hypot(float(errs[5]), FOCUS_ERR),
        source="calibrated",
    )
    return _checked(Calibration(lens=lens, rms_px=float(rms), photographs=len(cards)))


def _check_tilts(degrees: Sequence[float]) -> None:
    """Refuse photographs from straight above: a plane seen so looks the same through any focal length."""
    if max(degrees) < LEAST_TILT_DEGREES:
        raise InputError(
            f"no photograph is tilted by more than {max(degrees):.0f} degrees (at least {LEAST_TILT_DEGREES:g}): "
            "add photographs tilted by about 20 degrees to several sides"
        )


def _checked(found: Calibration) -> Calibration:
    """Return the calibration, or refuse what is none."""
    if not found.rms_px <= MOST_RMS_PX:
        raise InputError(
            f"the marks lie {found.rms_px:.1f} px off (at most {MOST_RMS_PX:g}): photograph one flat card without "
            "changing zoom or camera"
        )
    share = found.lens.focal_err_px / found.lens.focal_px
    if not share <= MOST_FOCAL_ERR_SHARE:
        raise InputError(
            f"the focal length is known to {share:.0%} only (at most {MOST_FOCAL_ERR_SHARE:.0%}): add photographs "
            "tilted by about 20 degrees to several sides"
        )
    return found
