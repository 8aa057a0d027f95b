"""The tone that a picture states without a colour profile: by ITU-T H.273's numbers, or by the gamma of a PNG."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from typing import Final

from bubblegrade.errors import PhotoError

# Transfer characteristics of ITU-T H.273 that are one power of the code; the others are taken as sRGB, as viewers do.
POWERS: Final = {4: 2.2, 5: 2.8, 8: 1.0}
BRIGHTER_THAN_WHITE: Final = {16: "PQ", 18: "HLG"}  # those without a fixed white
SIGNATURE: Final = 8  # bytes before the first chunk of a PNG (ISO/IEC 15948)
LONGEST_CHUNK: Final = 2**31 - 1
GAMMA_UNIT: Final = 100_000
# The gamma that stands in pictures of sRGB (ISO/IEC 15948, 11.3.3.5), and how far a writer may round it.
OF_SRGB, ROUNDED = 1 / 2.2, 0.01


def power_of(transfer: int | None, name: str) -> float | None:
    """Return the power of the code value that is linear light; None for sRGB and what is taken as it.

    >>> power_of(8, "a.png"), power_of(13, "a.png"), power_of(None, "a.png")
    (1.0, None, None)

    Raises
    ------
    PhotoError
        The picture is coded for a display brighter than white.
    """
    if transfer in BRIGHTER_THAN_WHITE:
        raise PhotoError(
            f"{name} is coded for HDR ({BRIGHTER_THAN_WHITE[transfer]}), which has no fixed white: switch HDR off, or "
            "save it as JPEG"
        )
    return None if transfer is None else POWERS.get(transfer)


def png_tone(data: bytes, profile: bytes | None, name: str) -> tuple[bytes | None, float | None]:
    """Return what gives a PNG's tone: its profile, else a power, else nothing, which is sRGB.

    Of what it states a number of H.273 goes before the profile, that before sRGB, and that before a gamma (ISO/IEC
    15948, 4.3).

    Raises
    ------
    PhotoError
        It is coded for a display brighter than white.
    """
    said = dict(_before_the_picture(data))
    if len(coded := said.get(b"cICP", b"")) > 1:
        return None, power_of(coded[1], name)
    if profile is not None or b"sRGB" in said or len(said.get(b"gAMA", b"")) < struct.calcsize(">I"):
        return profile, None
    gamma = struct.unpack_from(">I", said[b"gAMA"])[0] / GAMMA_UNIT
    return None, 1.0 / gamma if gamma > 0.0 and abs(gamma / OF_SRGB - 1.0) > ROUNDED else None


def _before_the_picture(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Give the name and content of every chunk of a PNG that comes before the picture's own."""
    place = SIGNATURE
    while place + 8 <= len(data):
        size, name = struct.unpack_from(">I4s", data, place)
        if name == b"IDAT" or size > LONGEST_CHUNK:
            return
        yield name, data[place + 8 : place + 8 + size]
        place += size + 12  # with its length, name and check sum
