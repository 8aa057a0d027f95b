"""A picture as its decoder gives it, and the sizes that every decoder accepts."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import Codes
from bubblegrade.photo.noted import Noted
from bubblegrade.photo.turning import AS_TAKEN

MOST_PIXELS: Final = 400_000_000  # a larger header is refused before anything is decoded
LEAST_SIDE_PX: Final = 64  # below it there is no room for a casting with voids of 5 px
MOST_SEE_THROUGH: Final = 0.01  # of a picture: the round corners of a window's picture take less
ONE_ALONE: Final = (
    "the file holds more than one picture, and the one that viewers show is measured: save each as a file"
)


@dataclass(frozen=True, eq=False)
class Decoded:
    """Code values, upright, and what the file says about them."""

    codes: Codes  # (rows, cols) or (rows, cols, 3) blue, green, red; uint8 or uint16
    noted: Noted = field(default_factory=Noted)
    profile: bytes | None = None  # the embedded ICC profile
    power: float | None = None  # without one, of the code value that is linear light; None: sRGB
    warnings: tuple[str, ...] = ()  # what to know of it before its numbers are trusted
    orientation: int = AS_TAKEN  # that the camera noted, after EXIF


def check_size(cols: int, rows: int, name: str) -> None:
    """Refuse a picture too large or too small, from its header.

    Raises
    ------
    PhotoError
        It has more than MOST_PIXELS, or a side under LEAST_SIDE_PX.
    """
    if rows * cols > MOST_PIXELS:
        limit = MOST_PIXELS // 1_000_000
        raise PhotoError(f"{name} is {cols} x {rows} px, over the limit of {limit} megapixels: send a smaller picture")
    if min(rows, cols) < LEAST_SIDE_PX:
        raise PhotoError(f"{name} is {cols} x {rows} px: a void needs 5 px, send the original photograph")


def check_opaque(alpha: NDArray[Any], name: str) -> None:
    """Refuse a picture that was cut out; `alpha`, (rows, cols), is 0 where it is see-through.

    Raises
    ------
    PhotoError
        The light around the casting, by which all is measured, was taken away.
    """
    share = float(np.count_nonzero(alpha == 0)) / alpha.size
    if share > MOST_SEE_THROUGH:
        raise PhotoError(
            f"{name} is cut out ({100 * share:.0f} % of it is see-through) and the light about the casting is lost: "
            "send the photograph as it was taken"
        )
