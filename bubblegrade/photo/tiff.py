"""TIFF pictures (TIFF 6.0) whose layout OpenCV brings out wrong without a word: told by their tags."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from PIL.TiffImagePlugin import TiffImageFile

from bubblegrade.errors import PhotoError

KIND, BITS, PHOTOMETRIC, SAMPLES, PLANES, TILE, TURNED = 254, 258, 262, 277, 284, 322, 274
PREVIEW: Final = 1  # bit of KIND: a smaller version of another picture of the file
SEPARATE: Final = 2  # of PLANES
WHITE_IS_ZERO: Final = 0  # of PHOTOMETRIC
MIRRORED: Final = (2, 3, 6, 7)  # of TURNED: those in which the columns run from right to left
OF_OPENCV: Final = 8  # bits up to which OpenCV has libtiff bring every layout to red, green and blue


def check_tiff(tags: Mapping[int, Any], name: str) -> None:
    """Refuse a TIFF whose picture would come out as another.

    Raises
    ------
    PhotoError
        Its first picture is a preview, its colours lie apart in 16 bits, or it is in tiles and to be turned.
    """
    if int(tags.get(KIND, 0)) & PREVIEW:
        raise PhotoError(f"{name} begins with a preview of another picture in it: save the picture alone as TIFF")
    apart = tags.get(PLANES, 1) == SEPARATE and int(tags.get(SAMPLES, 1)) > 1
    if apart and _bits(tags) > OF_OPENCV:
        raise PhotoError(
            f"{name} holds each colour apart (planar TIFF): save it with the colours interleaved, or as PNG"
        )
    if TILE in tags and tags.get(TURNED, 1) in MIRRORED and _bits(tags) <= OF_OPENCV:
        raise PhotoError(f"{name} is in tiles and not upright: save it as PNG, or as TIFF in strips")


def is_negative(tags: Mapping[int, Any]) -> bool:
    """Say whether white is 0 and OpenCV leaves it so, as it does in more than 8 bits."""
    return tags.get(PHOTOMETRIC) == WHITE_IS_ZERO and _bits(tags) > OF_OPENCV


def has_more(header: TiffImageFile) -> bool:
    """Say whether a second picture follows that is no preview; `header` stands at it afterwards."""
    try:
        header.seek(1)
    except (EOFError, OSError, ValueError, SyntaxError, TypeError, KeyError):  # no second one, or a damaged one
        return False
    return not int(header.tag_v2.get(KIND, 0)) & PREVIEW


def _bits(tags: Mapping[int, Any]) -> int:
    """Return the bits of a colour."""
    bits = tags.get(BITS, 1)
    return int(max(bits) if isinstance(bits, tuple) else bits)
