"""HEIC and HEIF pictures, as phones save them: decoded by libheif through the extra `heic`."""

from __future__ import annotations

import io
import warnings
from typing import Any, Final

import numpy as np
from PIL import Image

from bubblegrade.errors import PhotoError
from bubblegrade.photo.decoded import ONE_ALONE, Decoded, check_opaque, check_size
from bubblegrade.photo.noted import noted_in
from bubblegrade.photo.stated import power_of
from bubblegrade.photo.turning import AS_TAKEN, UPRIGHT, upright

SUFFIXES: Final = (".heic", ".heif")
CODED: Final = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx")  # by HEVC (ISO/IEC 23008-12)
BRANDS: Final = (*CODED, b"mif1", b"msf1")  # the last two say nothing of the code
AVIF: Final = (b"avif", b"avis")  # the same boxes around another code (AV1 Image File Format), which is not read
LONGEST_BOX: Final = 256  # bytes of the box of brands that are read: it holds some ten; where its size is spoiled, more
# Size and name of the boxes that turn and mirror (ISO/IEC 23008-12, 6.5.10 and 6.5.12); a byte follows each: quarter
# turns against the clock, then 0 for top with bottom and 1 for left with right, as libheif takes them.
ROTATION: Final = b"\0\0\0\x09irot"
MIRROR: Final = b"\0\0\0\x09imir"
MISSING: Final = "needs what reads HEIC: pip install 'bubblegrade[heic]', or have the phone save JPEG"


def is_heic(data: bytes) -> bool:
    """Say whether a file's first bytes are those of a HEIC picture, whatever its name says."""
    return data[4:8] == b"ftyp" and data[8:12] in BRANDS


def is_avif(data: bytes) -> bool:
    """Say whether a file's first bytes are those of an AVIF picture, which phones and programs also name .heic."""
    if data[4:8] != b"ftyp":
        return False
    box = data[8 : min(int.from_bytes(data[:4]), LONGEST_BOX)]
    brands = {box[:4], *(box[place : place + 4] for place in range(8, len(box), 4))}
    return not brands.isdisjoint(AVIF) and brands.isdisjoint(CODED)


def decode_heic(data: bytes, name: str) -> Decoded:
    """Return a HEIC picture of 8 bits, or of more as 16; libheif turns it upright.

    Raises
    ------
    PhotoError
        The extra is missing, the picture is damaged, too large or small, cut out, or coded for a display brighter than
        white.
    """
    try:
        import pillow_heif  # noqa: PLC0415
    except ImportError:
        raise PhotoError(f"{name} {MISSING}") from None
    try:
        picture = pillow_heif.open_heif(io.BytesIO(data), convert_hdr_to_8bit=False)
        cols, rows = picture.size
    except Exception as error:  # libheif's binding raises several kinds for damaged files
        raise PhotoError(f"{name} is no HEIC picture that can be read: copy the photograph again") from error
    check_size(cols, rows, name)
    coded = (picture.info.get("nclx_profile") or {}).get("transfer_characteristics")
    profile = picture.info.get("icc_profile") or None
    power = power_of(coded, name) if profile is None else None
    try:
        codes = np.asarray(picture)
    except Exception as error:
        raise PhotoError(f"{name} is cut short or damaged: copy the photograph again") from error
    if picture.has_alpha:
        check_opaque(codes[..., -1], name)
    exif = Image.Exif()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # damaged notes are left out
        try:
            exif.load(picture.info.get("exif") or b"")
        except Exception:  # Pillow raises whatever damaged notes make it stumble over
            exif = Image.Exif()
    warned = (ONE_ALONE,) if len(picture) > 1 else ()
    return Decoded(_blue_green_red(codes), noted_in(exif), profile, power, warned, _orientation(data))


def _orientation(data: bytes) -> int:
    """Return the orientation after EXIF of what the boxes tell: turned, then mirrored; libheif undoes it."""
    turns, axis = _byte_of(data, ROTATION), _byte_of(data, MIRROR)
    sensed = np.arange(6).reshape(2, 3)
    shown = np.rot90(sensed, 0 if turns is None else turns & 3)
    if axis is not None:
        shown = shown[:, ::-1] if axis & 1 else shown[::-1]
    return next(each for each in (AS_TAKEN, *UPRIGHT) if np.array_equal(upright(sensed, each), shown))


def _byte_of(data: bytes, box: bytes) -> int | None:
    """Return the byte that a box holds; None without such a box."""
    _, found, behind = data.partition(box)
    return behind[0] if found and behind else None


def _blue_green_red(codes: Any) -> Any:
    """Return (rows, cols) as it is and red, green, blue, perhaps see-through, as blue, green, red."""
    return codes if codes.ndim == 2 else np.ascontiguousarray(codes[..., 2::-1])  # noqa: PLR2004
