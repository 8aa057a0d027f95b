"""The only module that opens pictures: a file becomes code values, turned as the camera says."""

from __future__ import annotations

import hashlib
import io
import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError

from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import Codes

SUFFIXES: Final = (".jpg", ".jpeg", ".png", ".tif", ".tiff")
MOST_PIXELS: Final = 400_000_000  # a larger header is refused before anything is decoded
LEAST_SIDE_PX: Final = 64  # below it there is no room for a casting with voids of 5 px
ORIENTATION_TAG: Final = 0x0112  # EXIF 2.32
EXIF_BLOCK, FOCAL_35MM_TAG = 0x8769, 0xA405  # EXIF 2.32: FocalLengthIn35mmFilm, 0 where it is unknown
JPEG_START, JPEG_SCAN, JPEG_END = b"\xff\xd8", b"\xff\xda", b"\xff\xd9"
PNG_END: Final = b"IEND\xae\x42\x60\x82"  # the last chunk, always the same (ISO/IEC 15948)
LONGEST_TAIL: Final = 1_000_000  # bytes of foreign notes behind a picture

# How to bring an upright picture back from each EXIF orientation: transpose first, then flip rows, then flip columns.
UPRIGHT: Final = {
    2: (False, False, True),
    3: (False, True, True),
    4: (False, True, False),
    5: (True, False, False),
    6: (True, False, True),
    7: (True, True, True),
    8: (True, True, False),
}


@dataclass(frozen=True, eq=False)
class Photo:
    """A photograph as read: code values and where they came from."""

    name: str  # as shown to the user
    codes: Codes  # (rows, cols) or (rows, cols, 3) blue, green, red; uint8 or uint16
    sha256: str  # of the file's bytes

    @property
    def shape_px(self) -> tuple[int, int]:
        """Rows and columns."""
        return (int(self.codes.shape[0]), int(self.codes.shape[1]))


def is_picture(path: Path) -> bool:
    """Say whether the file's suffix is one of a picture."""
    return path.suffix.lower() in SUFFIXES


def read_photo(path: Path, *, name: str | None = None) -> Photo:
    """Read a photograph, upright.

    Raises
    ------
    PhotoError
        The file is missing, empty, no picture, cut short, too small or larger than MOST_PIXELS.
    """
    name = str(path) if name is None else name
    data = _bytes_of(path, name)
    orientation = _checked_header(data, name)
    codes = cv2.imdecode(
        np.frombuffer(data, np.uint8), cv2.IMREAD_ANYDEPTH | cv2.IMREAD_ANYCOLOR | cv2.IMREAD_IGNORE_ORIENTATION
    )
    if codes is None:
        raise PhotoError(f"{name} cannot be decoded: save it again as JPEG, PNG or TIFF")
    if codes.dtype not in (np.uint8, np.uint16):
        raise PhotoError(f"{name} has {codes.dtype} pixels: save it with 8 or 16 bits a channel")
    return Photo(name=name, codes=_upright(np.asarray(codes), orientation), sha256=hashlib.sha256(data).hexdigest())


def focal_35mm(path: Path) -> float:
    """Return the focal length, in mm on 35 mm film, that the camera noted in a photograph; NaN where there is none."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(path, formats=("JPEG", "PNG", "TIFF")) as header:
                noted = float(Image.Image.getexif(header).get_ifd(EXIF_BLOCK).get(FOCAL_35MM_TAG, 0))
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, TypeError):
        return math.nan
    return noted if noted > 0.0 else math.nan


def _bytes_of(path: Path, name: str) -> bytes:
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise PhotoError(f"{name} does not exist: check the name") from None
    except OSError as error:
        raise PhotoError(f"{name} cannot be opened ({error.strerror}): check its rights") from error
    if not data:
        raise PhotoError(f"{name} is empty (0 bytes): copy the photograph again")
    return data


def _checked_header(data: bytes, name: str) -> int:
    """Check size and wholeness from the header, before decoding; return the EXIF orientation, 1 to 8."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the size is judged here, by our own limit
            Image.MAX_IMAGE_PIXELS = None
            with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "TIFF")) as header:
                cols, rows = header.size
                kind = header.format
                # The PNG reader's own getexif would decode the whole picture to look for notes behind it.
                orientation = int(Image.Image.getexif(header).get(ORIENTATION_TAG, 1))
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, TypeError) as error:
        raise PhotoError(f"{name} is not a JPEG, PNG or TIFF picture: save it as one of these") from error
    if rows * cols > MOST_PIXELS:
        limit = MOST_PIXELS // 1_000_000
        raise PhotoError(f"{name} is {cols} x {rows} px, over the limit of {limit} megapixels: send a smaller picture")
    if min(rows, cols) < LEAST_SIDE_PX:
        raise PhotoError(f"{name} is {cols} x {rows} px: a void needs 5 px, send the original photograph")
    cut_jpeg = data.startswith(JPEG_START) and data.rfind(JPEG_END) < data.rfind(JPEG_SCAN)
    if cut_jpeg or (kind == "PNG" and PNG_END not in data[-LONGEST_TAIL:]):
        raise PhotoError(f"{name} is cut short (its end is missing): copy the photograph again")
    return orientation if kind != "TIFF" else 1  # OpenCV turns a TIFF upright whatever it is told


def _upright(codes: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Undo the camera's rotation."""
    transpose, rows, cols = UPRIGHT.get(orientation, (False, False, False))
    turned = codes.swapaxes(0, 1) if transpose else codes
    turned = turned[::-1] if rows else turned
    turned = turned[:, ::-1] if cols else turned
    return np.ascontiguousarray(turned)
