"""The conductor: two photographs of a dial to the angle by which its needle has turned."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import PhotoError
from bubblegrade.pressure.dial.ellipse import find_ellipse
from bubblegrade.pressure.dial.face import Face, squared
from bubblegrade.pressure.dial.matching import match
from bubblegrade.pressure.dial.needle import Needle, find_needle, fit_needle

ALIKE: Final = 0.9  # correlation of two prints, below which they are not those of one dial
PLAINLY: Final = 0.95  # from which none is mirrored: a scale is nearly its own mirror image, its numbers are not
MOST_ODD: Final = 0.1  # of the blocks with words, numbers or marks, that may differ: reflections
LAID_ERR_DEG: Final = 0.1  # of laying one dial on the other
SKEW_SHARE: Final = 0.02  # of a large turn that perspective left in the first photograph may change


@dataclass(frozen=True, eq=False)
class DialPhoto:
    """A photograph of a dial."""

    codes: NDArray[Any]  # (rows, cols) or (rows, cols, 3) blue, green, red; uint8 or uint16
    name: str


@dataclass(frozen=True)
class NeedleTurn:
    """How far a needle has turned."""

    clockwise_deg: float  # -180 to 180 as measured; clockwise is up on a pressure gauge
    err_deg: float  # one standard uncertainty
    likeness: float  # of both prints, 1 where they are the same

    @property
    def other_way(self) -> NeedleTurn:
        """The turn that leads to the same place the other way round, known as well for its length."""
        turn = self.clockwise_deg - math.copysign(360.0, self.clockwise_deg)
        return NeedleTurn(turn, math.hypot(self.err_deg, SKEW_SHARE * turn), self.likeness)


def needle_turn(first: DialPhoto, second: DialPhoto) -> NeedleTurn:
    """Return how far the needle has turned from the first photograph to the second.

    Raises
    ------
    PhotoError
        There is no dial or no needle to be found, the two show different dials, or one of them is mirrored.
    """
    faces = _face(first), _face(second)
    needles = _needle(faces[0], first), _needle(faces[1], second)
    laid = match(*faces, needles)
    if laid is None or laid.likeness < ALIKE or laid.odd_share > MOST_ODD:
        raise PhotoError(
            f"{first.name} and {second.name} do not show the same dial, or a reflection hides its print: "
            "photograph one gauge both times, from the same place"
        )
    if laid.likeness < PLAINLY and _mirrored_is_likelier(faces, needles, laid.likeness):
        raise PhotoError(
            f"one of {first.name} and {second.name} is mirrored, as front cameras and mirrors do it: photograph the "
            "gauge alike both times"
        )
    before = needles[0]
    after = fit_needle(laid.face, Needle(needles[1].deg - laid.turned_deg, math.nan, needles[1].aside))
    if after is None:
        raise _no_needle(second)
    turn = (after.deg - before.deg + 180.0) % 360.0 - 180.0
    err = math.hypot(math.hypot(before.err_deg, after.err_deg), math.hypot(LAID_ERR_DEG, SKEW_SHARE * turn))
    return NeedleTurn(turn, err, laid.likeness)


def _mirrored_is_likelier(faces: tuple[Face, Face], needles: tuple[Needle, Needle], likeness: float) -> bool:
    """Say whether the second dial lies on the first better when it is mirrored."""
    mirrored = np.ascontiguousarray(faces[1][:, ::-1])
    needle = find_needle(mirrored)
    laid = None if needle is None else match(faces[0], mirrored, (needles[0], needle))
    return laid is not None and laid.likeness > likeness


def _face(photo: DialPhoto) -> Face:
    """Return the dial of a photograph, squared."""
    codes = photo.codes if photo.codes.dtype == np.uint8 else (photo.codes // 257).astype(np.uint8)
    grey = np.asarray(cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY) if codes.ndim > 2 else codes, np.uint8)  # noqa: PLR2004
    ellipse = find_ellipse(grey)
    if ellipse is None:
        raise PhotoError(f"{photo.name} shows no round dial: fill the frame with the gauge, seen straight on")
    return squared(grey, ellipse)


def _needle(face: Face, photo: DialPhoto) -> Needle:
    """Return the needle of a squared dial."""
    found = find_needle(face)
    if found is None:
        raise _no_needle(photo)
    return found


def _no_needle(photo: DialPhoto) -> PhotoError:
    """Return the error for a needle that cannot be followed."""
    return PhotoError(
        f"{photo.name} shows no needle that can be followed: go closer, straight on, without a reflection on the glass"
    )
