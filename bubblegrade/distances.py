"""Distances within a mask, the same in every run: from OpenCV, whose own last digits are not."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray


def distances(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return how far each place of `mask`, (rows, cols), lies from the nearest that is not in it; 0 out of it.

    OpenCV's roots are off in the last digit, and differently from run to run: a place 2 from the border is now 2 away
    and now 2.0000002. The square of a distance is a whole number, which rounding tells up to a distance of 1400, and
    numpy's roots are those of IEEE 754.

    >>> distances(np.pad(np.ones((3, 3), bool), 1))[2].tolist()
    [0.0, 1.0, 2.0, 1.0, 0.0]
    """
    away = cv2.distanceTransform(np.ascontiguousarray(mask).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(np.sqrt(np.rint(away * away)), np.float32)
