"""From an embedded ICC profile (ICC.1:2022) to the linear light of every code value.

Only the tone curve counts here: a transmittance is a ratio of two lights of nearly the same hue, which the profile's
primaries hardly touch, and the curve wholly. Pillow's LittleCMS gives its colours in 8 bits only, too coarse for the
dark end, so the curve is read from the profile; LittleCMS serves where a profile has tables in place of a curve.
"""

from __future__ import annotations

import io
import struct
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from bubblegrade.photo.light import linear

Tone = NDArray[np.float32]
Floats = NDArray[np.float64]

HEADER: Final = 128  # bytes; a table of tags follows
MOST_TAGS: Final = 200
CURVES: Final = (b"gTRC", b"kTRC")  # green stands for the three, which are the same in every camera's profile
# How many numbers each kind of parametric curve has, ICC.1:2022 table 68.
PARAMETERS: Final = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}
NOT_UNDERSTOOD: Final = "the embedded colour profile is damaged or of another kind: the picture is taken as sRGB"
WHITE_NEAR: Final = 0.02  # how far from 1 the light of the highest code may lie


def tone_of(profile: bytes, full: int) -> Tone:
    """Return the linear light, 0 to 1, of the codes 0 to `full` under an ICC profile, (full + 1,).

    Raises
    ------
    ValueError
        The profile is damaged, or of neither RGB nor grey pictures.
    """
    share = np.arange(full + 1) / full
    if profile[36:40] != b"acsp" or profile[16:20] not in (b"RGB ", b"GRAY"):
        raise ValueError("no ICC profile of a picture in RGB or grey")
    curve = next((tag for name in CURVES if (tag := _tag(profile, name)) is not None), None)
    try:
        light = _sampled(profile, share) if curve is None else _curve(curve, share)
    except (struct.error, ImageCms.PyCMSError, OSError) as error:
        raise ValueError("a damaged ICC profile") from error
    rises = np.isfinite(light).all() and (np.diff(light) >= -1e-9).all()  # noqa: PLR2004 - a rounding error
    if not rises or abs(light[-1] - 1.0) > WHITE_NEAR or light[0] > WHITE_NEAR:
        raise ValueError("the tone curve of the ICC profile does not rise from black to white")
    return np.clip(light, 0.0, 1.0).astype(np.float32)


def power_tone(power: float, full: int) -> Tone:
    """Return the linear light of the codes 0 to `full` where it is one power of the code, (full + 1,).

    >>> power_tone(2.0, 2).tolist()
    [0.0, 0.25, 1.0]
    """
    return ((np.arange(full + 1) / full) ** power).astype(np.float32)


def _tag(profile: bytes, name: bytes) -> bytes | None:
    """Return the content of a tag, None where the profile lacks it."""
    if len(profile) < HEADER + 4:
        return None
    (count,) = struct.unpack_from(">I", profile, HEADER)
    for number in range(min(count, MOST_TAGS)):
        entry = profile[HEADER + 4 + 12 * number :][:12]
        if len(entry) == 12 and entry[:4] == name:  # noqa: PLR2004 - bytes of an entry
            start, size = struct.unpack(">II", entry[4:])
            return profile[start : start + size]
    return None


def _curve(tag: bytes, share: Floats) -> Floats:
    """Return a curve's light at shares of full scale."""
    if tag[:4] == b"para":
        (kind,) = struct.unpack_from(">H", tag, 8)
        if kind not in PARAMETERS:
            raise ValueError("an unknown kind of parametric curve")
        return _parametric(np.array(struct.unpack_from(f">{PARAMETERS[kind]}i", tag, 12)) / 65536.0, share)
    if tag[:4] != b"curv":
        raise ValueError("an unknown kind of curve")
    (count,) = struct.unpack_from(">I", tag, 8)
    if count == 0:
        return share
    if 12 + 2 * count > len(tag):
        raise ValueError("a curve cut short")
    table = np.frombuffer(tag, ">u2", count, offset=12)
    if count == 1:
        return np.asarray(share ** (float(table[0]) / 256.0))
    return np.interp(share, np.linspace(0.0, 1.0, count), table / 65535.0)


def _parametric(numbers: Floats, share: Floats) -> Floats:
    """Return a parametric curve: a power of a line, with a straight or level part below where it has one."""
    power, slope, shift, straight, start, above, below = _filled(numbers)
    raised: Floats = np.maximum(slope * share + shift, 0.0) ** power + above
    return np.where(share >= start, raised, straight * share + below)


def _filled(numbers: Floats) -> tuple[float, ...]:
    """Return the seven numbers of the fullest kind that a simpler one stands for."""
    given = tuple(float(number) for number in numbers)
    match given:
        case (power,):
            return power, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0
        case (power, slope, shift):
            return power, slope, shift, 0.0, _start(slope, shift), 0.0, 0.0
        case (power, slope, shift, lift):
            return power, slope, shift, 0.0, _start(slope, shift), lift, lift
        case (power, slope, shift, straight, start):
            return power, slope, shift, straight, start, 0.0, 0.0
        case _:
            return given


def _start(slope: float, shift: float) -> float:
    """Return where a line crosses 0."""
    if slope == 0.0:
        raise ValueError("a level tone curve")
    return -shift / slope


def _sampled(profile: bytes, share: Floats) -> Floats:
    """Return the light of a ramp of greys that LittleCMS has brought to sRGB, in 256 steps."""
    ramp = Image.fromarray(np.arange(256, dtype=np.uint8)[None, :])
    mode = "RGB" if profile[16:20] == b"RGB " else "L"
    embedded = ImageCms.ImageCmsProfile(io.BytesIO(profile))
    shown = ImageCms.profileToProfile(ramp.convert(mode), embedded, ImageCms.createProfile("sRGB"), outputMode="RGB")
    if shown is None:
        raise ValueError("the profile converts nothing")
    green = np.maximum.accumulate(np.asarray(shown)[0, :, 1].astype(np.float64))
    return np.interp(share, np.linspace(0.0, 1.0, 256), linear(green / 255.0))
