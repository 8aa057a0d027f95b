"""A photograph brought to the card's plane: as if taken from straight above, through a lens without distortion."""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import PhotoError
from bubblegrade.photo.card import PIECE_SHARE
from bubblegrade.photo.card_finding import FoundCard
from bubblegrade.photo.light import Codes

Floats = NDArray[np.float64]

ROWS_AT_ONCE: Final = 256  # bounds what 50 megapixels take in memory
EDGE_MM: Final = 3.0  # of paper around a board
CUT_MM: Final = 1.0  # of the window's edge that is left out: where scissors went


def squared(codes: Codes, found: FoundCard) -> tuple[Codes, float]:
    """Return the photograph brought to the card's plane, and its mm per px there, the same everywhere.

    Shape, kind of pixel and direction stay, and the spot where the scale holds stays at its pixel. What the photograph
    does not show is black.

    Parameters
    ----------
    codes
        (rows, cols) or (rows, cols, 3), uint8 or uint16: the photograph in which the card was found.
    found
        The card.
    """
    assert codes.shape[:2] == found.shape_px, (codes.shape, found.shape_px)  # noqa: S101
    spot_px = found.plane.seen_px(found.spot_mm[None])[0]
    turn = found.plane.turn_at(found.spot_mm)
    return _resampled(codes, found, found.shape_px, spot_px, turn), found.mm_per_px


def card_corners_px(found: FoundCard) -> Floats:
    """Return the board's corners in the squared photograph, (4, 2) px, its outer black pieces and some paper included.

    A strip that lies beside the casting is no casting: this says where not to look for one.
    """
    x, y = (
        found.print_factor * (half + PIECE_SHARE * found.layout.square_mm) + EDGE_MM for half in found.layout.half_mm
    )
    places = np.array([(-x, -y), (x, -y), (x, y), (-x, y)]) - found.spot_mm
    turn = found.plane.turn_at(found.spot_mm)
    forth = np.array([(math.cos(turn), -math.sin(turn)), (math.sin(turn), math.cos(turn))]) / found.mm_per_px
    return np.asarray(found.plane.seen_px(found.spot_mm[None])[0] + places @ forth.T)


def squared_window(codes: Codes, found: FoundCard) -> tuple[Codes, float]:
    """Return only what the card's window shows, squared, and its mm per px.

    Its edges are those of the picture, turned by at most 45 degrees: nothing of the card is left in view.

    Raises
    ------
    PhotoError
        The card has no window, or a corner of it is outside the photograph.
    """
    if not found.layout.hole:
        raise PhotoError("a strip has no window: use a card with one, or square the whole photograph")
    half_mm = found.layout.window_mm * found.print_factor / 2 - CUT_MM
    corners = half_mm * np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    seen = found.plane.seen_px(corners)
    if np.any(seen < 0.0) or np.any(seen > np.array(found.shape_px[::-1]) - 1.0):
        raise PhotoError("the card's window is cut off by the picture's edge: show it whole")
    side = math.floor(2 * half_mm / found.mm_per_px)
    middle = np.full(2, (side - 1) / 2)
    return _resampled(codes, found, (side, side), middle, window_turn(found)), found.mm_per_px


def window_turn(found: FoundCard) -> float:
    """Return the angle in radians by which the card's x axis is turned in the squared view of its window."""
    return math.pi / 2 * round(found.plane.turn_at(found.spot_mm) / (math.pi / 2))


def _resampled(codes: Codes, found: FoundCard, shape: tuple[int, int], spot_px: Floats, turn: float) -> Codes:
    """Return the card's plane with the spot at `spot_px` and the card's x axis turned by `turn`."""
    rows, cols = shape
    result = np.empty((rows, cols, *codes.shape[2:]), codes.dtype)
    back = found.mm_per_px * np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    for top in range(0, rows, ROWS_AT_ONCE):
        y, x = np.mgrid[top : min(top + ROWS_AT_ONCE, rows), 0:cols]
        places = found.spot_mm + (np.stack((x.ravel(), y.ravel()), axis=1) - spot_px) @ back.T
        seen_x, seen_y = found.plane.seen_px(places).astype(np.float32).T.reshape(2, *x.shape)
        result[top : top + len(x)] = cv2.remap(codes, seen_x, seen_y, cv2.INTER_CUBIC, borderMode=cv2.BORDER_CONSTANT)
    return result
