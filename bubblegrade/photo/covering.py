"""What lies on the light beside the casting is covered with the light around it, so that it is not taken for one."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.photo.light import Codes

AROUND_PX: Final = 9  # width of the seam around a region whose light is carried on into it


def covered(codes: Codes, region: NDArray[np.bool_]) -> Codes:
    """Return the picture with a region filled with its surroundings: in each colour the plane through their codes.

    Parameters
    ----------
    codes
        (rows, cols) or (rows, cols, 3), uint8 or uint16.
    region
        (rows, cols), true where the picture is covered. Where it fills the picture nothing is.
    """
    side = 2 * AROUND_PX + 1
    seam = cv2.dilate(region.astype(np.uint8), np.ones((side, side), np.uint8)).astype(bool) & ~region
    if not seam.any():
        return codes
    filled = codes.copy()
    origin = np.argwhere(seam).mean(axis=0)
    plane, *_ = np.linalg.lstsq(_terms(seam, origin), codes[seam].astype(np.float64), rcond=None)
    full = np.iinfo(codes.dtype).max
    filled[region] = np.clip(np.rint(_terms(region, origin) @ plane), 0, full).astype(codes.dtype)
    return filled


def _terms(mask: NDArray[np.bool_], origin: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return 1, row and col of every true pixel, (n, 3), places counted from `origin`."""
    places = np.argwhere(mask) - origin
    return np.column_stack([np.ones(len(places)), places])
