"""What the camera noted in a photograph: its name, the time, the exposure. Where it was taken is never read."""

from __future__ import annotations

import datetime
import math
import re
import warnings
from dataclasses import dataclass
from typing import Any, Final

from PIL import Image

# EXIF 2.32 (CIPA DC-008): tags of the picture, then those of the photograph's own block.
MAKE, MODEL, ORIENTATION = 0x010F, 0x0110, 0x0112
PHOTOGRAPH: Final = 0x8769
EXPOSURE, F_NUMBER, SENSITIVITY = 0x829A, 0x829D, 0x8827
TAKEN, OFFSET = 0x9003, 0x9011
FOCAL, FOCAL_35MM = 0x920A, 0xA405
LONGEST_NAME: Final = 80  # characters of a camera's name


@dataclass(frozen=True)
class Noted:
    """What a photograph says of how it was taken; None and NaN where it says nothing.

    >>> Noted().camera is None
    True
    """

    camera: str | None = None
    taken: datetime.datetime | None = None  # the camera's own clock; with a zone only where it noted one
    exposure_s: float = math.nan
    f_number: float = math.nan
    sensitivity_iso: float = math.nan
    focal_mm: float = math.nan
    focal_35mm: float = math.nan  # on 35 mm film, for the same angle of view


def noted_in(exif: Image.Exif) -> Noted:
    """Return what EXIF notes say, whatever is damaged in them left out."""
    # The PNG reader's own getexif would decode the whole picture to look for notes behind it, so `exif` comes parsed.
    block = _block(exif)
    return Noted(
        camera=camera_name(_note(exif, MAKE), _note(exif, MODEL)),
        taken=_time(block.get(TAKEN), block.get(OFFSET)),
        exposure_s=positive(block.get(EXPOSURE)),
        f_number=positive(block.get(F_NUMBER)),
        sensitivity_iso=positive(block.get(SENSITIVITY)),
        focal_mm=positive(block.get(FOCAL)),
        focal_35mm=positive(block.get(FOCAL_35MM)),
    )


def orientation_in(exif: Image.Exif) -> int:
    """Return the orientation, 1 to 8; 1 where it is missing or damaged."""
    noted = _note(exif, ORIENTATION)
    return noted if isinstance(noted, int) and 1 <= noted <= 8 else 1  # noqa: PLR2004


def _note(exif: Image.Exif, tag: int) -> object:
    """Return a note, None where it is missing; that a damaged one has too many parts is not for the error stream."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return exif.get(tag)


def camera_name(make: object, model: object) -> str | None:
    """Return a camera's name from maker and model, each printable and said once.

    >>> camera_name("Example", "Example One")
    'Example One'
    >>> camera_name(None, "  ") is None
    True
    """
    parts = [_printable(part) for part in (make, model)]
    if parts[1].lower().startswith(parts[0].lower()):
        parts = parts[1:]
    return " ".join(part for part in parts if part)[:LONGEST_NAME].strip() or None


def positive(value: object) -> float:
    """Return a number above 0; NaN for anything else, as many cameras note 0 for what they do not know.

    >>> positive("x"), positive(0), positive(2.8)
    (nan, nan, 2.8)
    """
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return math.nan
    return number if 0.0 < number < math.inf else math.nan


def _block(exif: Image.Exif) -> dict[int, Any]:
    """Return the photograph's own block of notes, empty where it cannot be read."""
    try:
        return dict(exif.get_ifd(PHOTOGRAPH))
    except Exception:  # Pillow raises whatever damaged notes make it stumble over
        return {}


def _printable(text: object) -> str:
    """Return text without what a terminal or a table could take for more than text."""
    if not isinstance(text, str):
        return ""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def _time(text: object, offset: object) -> datetime.datetime | None:
    """Return the time of an EXIF text such as 2026:05:03 14:22:10, with its zone if that was noted."""
    parts = re.fullmatch(r"(\d{4}):(\d\d):(\d\d) (\d\d:\d\d:\d\d)", _printable(text))
    if parts is None:
        return None
    zone = _printable(offset)
    zone = zone if re.fullmatch(r"[+-]\d\d:\d\d", zone) else ""
    try:
        return datetime.datetime.fromisoformat("{}-{}-{}T{}".format(*parts.groups()) + zone)
    except ValueError:
        return None
