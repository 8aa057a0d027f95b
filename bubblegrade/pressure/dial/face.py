"""A dial squared: its ellipse made a circle of one size, seen straight on."""

from __future__ import annotations

import math
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.pressure.dial.ellipse import Ellipse

Grey = NDArray[np.uint8]
Face = NDArray[np.floating[Any]]

SIDE_PX: Final = 560  # of a squared dial
RADIUS_PX: Final = 220.0  # of its ring there
CENTRE_PX: Final = (SIDE_PX - 1) / 2.0
GRAIN_PX: Final = 9.0  # size of what counts as print: coarser is light and shade
LEAST_SPREAD: Final = 3.0  # grey values of local contrast below which there is no print, only noise


def squared(grey: Grey, ellipse: Ellipse) -> Face:
    """Return the dial in SIDE_PX squared, its ring a circle of RADIUS_PX, not turned against the photograph."""
    cos, sin = math.cos(ellipse.turned_rad), math.sin(ellipse.turned_rad)
    turn = np.array([[cos, -sin], [sin, cos]])
    stretch = turn @ np.diag([ellipse.half_long, ellipse.half_short]) @ turn.T / RADIUS_PX
    offset = np.array([ellipse.x, ellipse.y]) - stretch @ np.array([CENTRE_PX, CENTRE_PX])
    size = max(ellipse.half_long / RADIUS_PX, 1.0)
    soft = cv2.GaussianBlur(grey, (0, 0), 0.5 * size) if size > 1.0 else grey
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    picture = cv2.warpAffine(
        soft, np.column_stack([stretch, offset]), (SIDE_PX, SIDE_PX), flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(picture, np.float32)


def print_of(face: Face) -> Face:
    """Return the print of a squared dial: what is finer than light and shade, over its local strength."""
    fine = face - cv2.GaussianBlur(face, (0, 0), GRAIN_PX)
    spread = np.sqrt(cv2.GaussianBlur(fine * fine, (0, 0), 2.0 * GRAIN_PX)) + LEAST_SPREAD
    return np.asarray(fine / spread, np.float32)


def radii() -> Face:
    """Return each px's distance from the dial's centre over its ring's radius, (SIDE_PX, SIDE_PX)."""
    rows, cols = np.mgrid[0:SIDE_PX, 0:SIDE_PX]
    return np.asarray(np.hypot(cols - CENTRE_PX, rows - CENTRE_PX) / RADIUS_PX)
