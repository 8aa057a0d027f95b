"""Pictures turned upright as their camera noted, and back to how its sensor saw them (EXIF 2.32, orientation)."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

AS_TAKEN: Final = 1  # the orientation of a picture that is upright on the sensor
# How to bring an upright picture back from each orientation: transpose first, then flip rows, then flip columns.
UPRIGHT: Final = {
    2: (False, False, True),
    3: (False, True, True),
    4: (False, True, False),
    5: (True, False, False),
    6: (True, False, True),
    7: (True, True, True),
    8: (True, True, False),
}


def upright(picture: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Undo the camera's rotation of a picture, (rows, cols) or (rows, cols, colours).

    >>> upright(np.array([[1, 2, 3]]), 6).tolist()
    [[1], [2], [3]]
    """
    transpose, rows, cols = UPRIGHT.get(orientation, (False, False, False))
    turned = picture.swapaxes(0, 1) if transpose else picture
    turned = turned[::-1] if rows else turned
    turned = turned[:, ::-1] if cols else turned
    return np.ascontiguousarray(turned)


def as_sensed(picture: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Return an upright picture as the sensor saw it: the inverse of `upright`.

    >>> as_sensed(upright(np.array([[1, 2, 3]]), 7), 7).tolist()
    [[1, 2, 3]]
    """
    transpose, rows, cols = UPRIGHT.get(orientation, (False, False, False))
    turned = picture[:, ::-1] if cols else picture
    turned = turned[::-1] if rows else turned
    return np.ascontiguousarray(turned.swapaxes(0, 1) if transpose else turned)
