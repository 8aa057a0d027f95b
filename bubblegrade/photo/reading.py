"""The only way to a picture: a file becomes code values, turned as the camera says; `heic` and `raw` decode theirs."""

from __future__ import annotations

import hashlib
import io
import math
import warnings
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, UnidentifiedImageError
from PIL.TiffImagePlugin import TiffImageFile

from bubblegrade.errors import PhotoError
from bubblegrade.photo import heic, raw
from bubblegrade.photo.decoded import ONE_ALONE, Decoded, check_opaque, check_size
from bubblegrade.photo.decoder_words import decoder_words
from bubblegrade.photo.light import Codes, in_srgb, srgb_tone
from bubblegrade.photo.noted import Noted, noted_in, orientation_in
from bubblegrade.photo.stated import png_tone
from bubblegrade.photo.tiff import check_tiff, has_more, is_negative
from bubblegrade.photo.tone import NOT_UNDERSTOOD, Tone, power_tone, tone_of
from bubblegrade.photo.turning import AS_TAKEN, upright

PLAIN: Final = (".jpg", ".jpeg", ".png", ".tif", ".tiff")
SUFFIXES: Final = (*PLAIN, *heic.SUFFIXES, *raw.SUFFIXES)
UNREAD: Final = (".webp", ".avif", ".jxl", ".jp2", ".bmp")  # in which phones and programs save photographs as well
# Pixels a byte of files whose size no plain header tells, so that the memory is rather over- than underrated.
PX_PER_BYTE: Final = {**dict.fromkeys(heic.SUFFIXES, 12.0), **dict.fromkeys(raw.SUFFIXES, 1.5)}
JPEG_START, JPEG_SCAN, JPEG_END = b"\xff\xd8", b"\xff\xda", b"\xff\xd9"
TIFF_STARTS: Final = (b"II*\0", b"MM\0*")
PLAIN_STARTS: Final = (JPEG_START, b"\x89PNG", *TIFF_STARTS)
PNG_END: Final = b"IEND\xae\x42\x60\x82"  # the last chunk, always the same (ISO/IEC 15948)
UNTOLD: Final = (
    "16 bits without a colour profile are taken as sRGB, and a linear picture comes out wrong: save it with its profile"
)
LONGEST_TAIL: Final = 1_000_000  # bytes of foreign notes behind a picture


@dataclass(frozen=True, eq=False)
class Photo:
    """A photograph as read: code values and where they came from."""

    name: str  # as shown to the user
    codes: Codes  # (rows, cols) or (rows, cols, 3) blue, green, red; uint8 or uint16
    sha256: str  # of the file's bytes
    tone: Tone | None = None  # linear light of each code value; None: sRGB
    noted: Noted = field(default_factory=Noted)  # what the camera wrote into the file
    orientation: int = AS_TAKEN  # that the camera noted, after EXIF; the codes are upright
    warnings: tuple[str, ...] = ()
    lossy: bool = False  # whether its file is compressed with loss: faint noise goes with it

    @property
    def shape_px(self) -> tuple[int, int]:
        """Rows and columns."""
        return (int(self.codes.shape[0]), int(self.codes.shape[1]))

    @property
    def shown(self) -> Codes:
        """The codes in sRGB, as `codes`: what a screen takes them for, and what is without the file's tone."""
        return in_srgb(self.codes, self.tone)

    def straightened(self, steepness: float) -> Photo:
        """Return the photograph with its tones less steep: light is taken to the power of 1 / `steepness`."""
        tone = srgb_tone(int(np.iinfo(self.codes.dtype).max)) if self.tone is None else self.tone
        return replace(self, tone=np.asarray(tone ** (1.0 / steepness), np.float32))


def is_picture(path: Path) -> bool:
    """Say whether the file's suffix is one of a picture."""
    return path.suffix.lower() in SUFFIXES


def is_unread_picture(path: Path) -> bool:
    """Say whether the file's suffix is that of a picture of a kind that is not read."""
    return path.suffix.lower() in UNREAD


def read_photo(path: Path, *, name: str | None = None) -> Photo:
    """Read a photograph, upright.

    Raises
    ------
    PhotoError
        The file is missing, empty, no picture, cut short, cut out, too small, larger than MOST_PIXELS, or of a kind
        that is not read or needs an extra which is not installed.
    """
    name = str(path) if name is None else name
    data = _bytes_of(path, name)
    decoded = _decoded(data, path.suffix.lower(), name)
    tone, warned = _tone(decoded)
    sha256 = hashlib.sha256(data).hexdigest()
    return Photo(
        name, decoded.codes, sha256, tone=tone, noted=decoded.noted, orientation=decoded.orientation,
        warnings=(*decoded.warnings, *warned), lossy=data.startswith(JPEG_START) or heic.is_heic(data),
    )  # fmt: skip


def _tone(decoded: Decoded) -> tuple[Tone | None, tuple[str, ...]]:
    """Return the linear light of each code value, None for that of sRGB, and what is to be said of it."""
    full = int(np.iinfo(decoded.codes.dtype).max)
    if decoded.power is not None:
        return power_tone(decoded.power, full), ()
    if decoded.profile is None:
        return None, ()
    try:
        return tone_of(decoded.profile, full), ()
    except ValueError:
        return None, (NOT_UNDERSTOOD,)


def _decoded(data: bytes, suffix: str, name: str) -> Decoded:
    """Return the decoded picture, by what the file is and not by what it is called, but for raw files."""
    if heic.is_avif(data):
        raise PhotoError(f"{name} is an AVIF picture, whatever its name says: save it as JPEG, PNG or TIFF")
    if heic.is_heic(data) or (suffix in heic.SUFFIXES and not data.startswith(PLAIN_STARTS)):
        return heic.decode_heic(data, name)
    if suffix in raw.SUFFIXES:
        return raw.decode_raw(data, name)
    return _decoded_plain(data, name)


def _decoded_plain(data: bytes, name: str) -> Decoded:
    """Return a JPEG, PNG or TIFF picture, upright."""
    header = _checked_header(data, name)
    how = cv2.IMREAD_ANYDEPTH | cv2.IMREAD_ANYCOLOR | cv2.IMREAD_IGNORE_ORIENTATION
    with decoder_words() as words:
        try:
            codes = cv2.imdecode(np.frombuffer(data, np.uint8), how)
        except cv2.error as error:
            if error.code == cv2.Error.StsNoMem:
                raise
            codes = None  # a header that asks for what no picture has
    if codes is None:
        raise PhotoError(f"{name} cannot be decoded: save it again as JPEG, PNG or TIFF")
    if words.spoiled:
        raise PhotoError(f"{name} is damaged (part of its picture is spoiled): copy the photograph again")
    if codes.dtype not in (np.uint8, np.uint16):
        raise PhotoError(f"{name} has {codes.dtype} pixels: save it with 8 or 16 bits a channel")
    if header.see_through:
        check_opaque(_alpha(data), name)
    if header.negative:
        codes = cv2.bitwise_not(codes)
    turned: NDArray[Any] = np.asarray(codes) if header.is_tiff else upright(np.asarray(codes), header.orientation)
    warned = (UNTOLD,) if header.is_tiff and header.profile is None and turned.dtype == np.uint16 else ()
    return Decoded(turned, header.noted, header.profile, header.power, (*header.warnings, *warned), header.orientation)


def check_picture(path: Path, *, name: str) -> None:
    """Refuse a file that is no picture, by its head and its end; nothing is decoded.

    Raises
    ------
    PhotoError
        The file is missing, empty, no picture, cut short or too small.
    """
    data = _bytes_of(path, name)
    if not heic.is_heic(data) and path.suffix.lower() not in raw.SUFFIXES:
        _checked_header(data, name)


def pixels_of(path: Path) -> float:
    """Return how many pixels a photograph has, from its header or else its bytes; 0 where it cannot be read."""
    per_byte = PX_PER_BYTE.get(path.suffix.lower())
    try:
        if per_byte is not None:
            return path.stat().st_size * per_byte
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # reading it will tell
            with Image.open(path, formats=("JPEG", "PNG", "TIFF")) as header:
                return float(math.prod(header.size))
    except (OSError, ValueError, SyntaxError, TypeError, KeyError, Image.DecompressionBombError):
        return 0.0


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


@dataclass(frozen=True)
class _Header:
    """What a plain picture says before it is decoded."""

    orientation: int  # of EXIF
    noted: Noted
    profile: bytes | None
    power: float | None  # as in `Decoded`
    negative: bool  # whether white is 0
    is_tiff: bool  # which OpenCV turns upright whatever it is told
    see_through: bool  # whether it may be in places
    warnings: tuple[str, ...]


def _unread(data: bytes, name: str) -> str:
    """Return the line for a file whose header is not understood."""
    if data.startswith(TIFF_STARTS):
        return (
            f"{name} is a TIFF that is damaged or of a kind that is not read, as with 32 bits a channel: save it with "
            "8 or 16, or as PNG"
        )
    return f"{name} is not a JPEG, PNG or TIFF picture: save it as one of these"


def _checked_header(data: bytes, name: str) -> _Header:
    """Check size, layout and wholeness from the header, before decoding."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the size is judged here, by our own limit
            Image.MAX_IMAGE_PIXELS = None
            with Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "TIFF")) as header:
                cols, rows = header.size
                kind = header.format
                # The PNG reader's own getexif would decode the whole picture to look for notes behind it.
                exif = Image.Image.getexif(header)
                orientation, noted, profile = orientation_in(exif), noted_in(exif), header.info.get("icc_profile")
                tags = dict(header.tag_v2) if isinstance(header, TiffImageFile) else {}
                see_through = header.has_transparency_data
                more = (ONE_ALONE,) if isinstance(header, TiffImageFile) and has_more(header) else ()
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, TypeError, KeyError) as error:
        raise PhotoError(_unread(data, name)) from error
    check_size(cols, rows, name)
    cut_jpeg = data.startswith(JPEG_START) and data.rfind(JPEG_END) < data.rfind(JPEG_SCAN)
    if cut_jpeg or (kind == "PNG" and PNG_END not in data[-LONGEST_TAIL:]):
        raise PhotoError(f"{name} is cut short (its end is missing): copy the photograph again")
    check_tiff(tags, name)
    profile, power = png_tone(data, profile or None, name) if kind == "PNG" else (profile or None, None)
    return _Header(
        orientation,
        noted,
        profile,
        power,
        negative=is_negative(tags),
        is_tiff=kind == "TIFF",
        see_through=see_through,
        warnings=more,
    )


def _alpha(data: bytes) -> NDArray[Any]:
    """Return how opaque a decodable picture is, (rows, cols), 0 where it is see-through."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its header was checked
        with Image.open(io.BytesIO(data), formats=("PNG", "TIFF")) as picture:
            return np.asarray(picture.convert("RGBA").getchannel("A"))
