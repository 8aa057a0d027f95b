"""Camera raw and DNG: developed by LibRaw through the extra `raw`, evenly for every photograph."""

from __future__ import annotations

import datetime
import io
import warnings
from typing import Any, Final

import numpy as np
from PIL import Image

from bubblegrade.errors import PhotoError
from bubblegrade.photo.decoded import Decoded, check_size
from bubblegrade.photo.decoder_words import decoder_words
from bubblegrade.photo.noted import Noted, noted_in, positive
from bubblegrade.photo.turning import AS_TAKEN

SUFFIXES: Final = (".dng", ".cr2", ".cr3", ".nef", ".arw", ".orf", ".raf", ".rw2", ".pef")
SRGB_CURVE: Final = (2.4, 12.92)  # power and slope of the straight part, IEC 61966-2-1
FLIPS: Final = {3: 3, 5: 8, 6: 6}  # the orientation after EXIF of each number of LibRaw
MISSING: Final = "needs what reads camera raw: pip install 'bubblegrade[raw]', or save it as TIFF of 16 bits"


def decode_raw(data: bytes, name: str) -> Decoded:
    """Return a camera's raw picture as 16-bit codes with the tones of sRGB.

    Nothing is brightened by what is in the picture, and a pixel that the sensor clipped is at full scale. The white
    balance is the camera's. Its colours stay what its filters saw: as colours of a screen the light of deep tints and
    its noise would fall below 0 and be cut off.

    Raises
    ------
    PhotoError
        The extra is missing, or the file is damaged, of an unknown camera, too large or too small.
    """
    try:
        import rawpy  # noqa: PLC0415
    except ImportError:
        raise PhotoError(f"{name} {MISSING}") from None
    try:
        with decoder_words() as words, rawpy.imread(io.BytesIO(data)) as raw:
            check_size(raw.sizes.width, raw.sizes.height, name)
            codes = raw.postprocess(
                output_bps=16,
                gamma=SRGB_CURVE,
                use_camera_wb=True,
                output_color=rawpy.ColorSpace.raw,
                no_auto_bright=True,
                adjust_maximum_thr=0.0,
                demosaic_algorithm=rawpy.DemosaicAlgorithm.PPG,  # half the time of the usual one, and no false colours
            )
            noted, orientation = _noted(raw, data), FLIPS.get(raw.sizes.flip, AS_TAKEN)
    except rawpy.LibRawError as error:
        raise PhotoError(f"{name} is no raw picture that can be read: copy it again, or save it as TIFF") from error
    if words.spoiled:
        raise PhotoError(f"{name} is damaged (part of its picture is spoiled): copy the photograph again")
    return Decoded(np.ascontiguousarray(codes[..., ::-1]), noted, orientation=orientation)


def _noted(raw: Any, data: bytes) -> Noted:
    """Return what LibRaw read of the notes, and from the file's own what it does not tell."""
    file = _file_notes(data)
    other = raw.other
    taken = other.timestamp if isinstance(other.timestamp, datetime.datetime) and other.timestamp.year > 1970 else None  # noqa: PLR2004
    return Noted(
        camera=file.camera,
        taken=file.taken or taken,
        exposure_s=positive(other.shutter_speed),
        f_number=positive(other.aperture),
        sensitivity_iso=positive(other.iso_speed),
        focal_mm=positive(other.focal_length),
        focal_35mm=file.focal_35mm,
    )


def _file_notes(data: bytes) -> Noted:
    """Return the EXIF notes of raw files built as TIFF, which most are; nothing of the others."""
    exif = Image.Exif()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # damaged notes are left out
        try:
            exif.load(data)
        except Exception:  # a raw file need not be TIFF, and Pillow stumbles in many ways
            return Noted()
    return noted_in(exif)
