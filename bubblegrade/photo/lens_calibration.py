"""A camera calibrated from photographs of the card alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import InputError
from bubblegrade.photo.card_finding import FoundCard
from bubblegrade.photo.lens import AXIS_ERR, Calibration, Lens

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

Floats = NDArray[np.float64]
Points = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class _Solved:
    """A camera with its axis at a given place."""

    numbers: Floats  # focal length in px, k1 and k2
    errs: Floats  # their standard uncertainties from the marks alone
    rms_px: float
    tilts_degrees: list[float]


def calibrated(cards: Sequence[FoundCard]) -> Calibration:
    """Return the lens that took photographs of a card.

    Only upright photographs straight above tell nothing of the focal length: some must be tilted. The axis is taken to
    meet the picture's middle; what it does to the lens if it does not is in the uncertainty. Photographs tilted to
    opposite sides make little of that, photographs tilted all to one side much.

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
    aside = AXIS_ERR * max(rows, cols) * np.eye(2)
    found, *others = (_solved(points, places, cards[0].lens, axis) for axis in (centre, *(centre + aside)))
    _check_tilts(found.tilts_degrees)
    focal_err, k1_err, k2_err = np.linalg.norm(
        [found.errs, *(other.numbers - found.numbers for other in others)], axis=0
    )
    focal_px, k1, k2 = found.numbers
    lens = Lens(
        shape_px=(rows, cols),
        focal_px=float(focal_px),
        focal_err_px=float(focal_err),
        k1=float(k1),
        k1_err=math.hypot(float(k1_err), FOCUS_ERR),
        k2=float(k2),
        k2_err=math.hypot(float(k2_err), FOCUS_ERR),
        source="calibrated",
    )
    return _checked(Calibration(lens=lens, rms_px=found.rms_px, photographs=len(cards)))


def _solved(points: Sequence[Points], places: Sequence[Points], lens: Lens, axis_px: Floats) -> _Solved:
    """Return the camera with its axis at `axis_px`, from (n, 2) points and (n, 3) places of each view."""
    focal = lens.focal_px
    guess = np.array([(focal, 0.0, axis_px[0]), (0.0, focal, axis_px[1]), (0.0, 0.0, 1.0)])
    rms, matrix, bends, turns, _, errs, _, _ = cv2.calibrateCameraExtended(
        places, points, lens.shape_px[::-1], guess, np.zeros(5), flags=FLAGS
    )
    bends, errs = np.ravel(bends), np.ravel(errs)
    return _Solved(
        numbers=np.array([matrix[0, 0], *bends[:2]]),
        errs=np.array([max(errs[:2]), *errs[4:6]]),  # only one of the two focal lengths is free
        rms_px=float(rms),
        tilts_degrees=[math.degrees(math.acos(min(1.0, abs(float(cv2.Rodrigues(turn)[0][2, 2]))))) for turn in turns],
    )


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
            f"the focal length is known to {share:.1%} only (at most {MOST_FOCAL_ERR_SHARE:.0%}): add photographs "
            "tilted by about 20 degrees to several sides"
        )
    return found
