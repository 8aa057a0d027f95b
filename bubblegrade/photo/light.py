"""Code values of a picture become linear light."""

from __future__ import annotations

from functools import reduce
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

Light = NDArray[np.float32]
Codes = NDArray[np.uint8] | NDArray[np.uint16]

# IEC 61966-2-1:1999 (sRGB): the straight part, its end, and the curved part.
SLOPE: Final = 12.92
STRAIGHT_TO: Final = 0.04045
OFFSET: Final = 0.055
EXPONENT: Final = 2.4


def linear(code_share: ArrayLike) -> NDArray[np.float64]:
    """Return linear light, 0 to 1, of sRGB code values given as shares of full scale (IEC 61966-2-1).

    >>> linear([0.0, 0.5, 1.0]).round(6).tolist()
    [0.0, 0.214041, 1.0]
    """
    share = np.asarray(code_share, np.float64)
    return np.where(share <= STRAIGHT_TO, share / SLOPE, ((share + OFFSET) / (1.0 + OFFSET)) ** EXPONENT)


def encoded(light: ArrayLike) -> NDArray[np.float64]:
    """Return sRGB code values, as shares of full scale, of linear light from 0 to 1: the inverse of `linear`.

    >>> round(float(encoded(0.18)), 6)
    0.461356
    """
    light = np.asarray(light, np.float64)
    curved = (1.0 + OFFSET) * np.maximum(light, 0.0) ** (1.0 / EXPONENT) - OFFSET
    return np.where(light <= STRAIGHT_TO / SLOPE, light * SLOPE, curved)


def grey_light(codes: Codes, tone: Light | None = None) -> Light:
    """Return the linear light of a picture as one grey layer.

    The codes are weighed to grey before they are made linear. A transmittance is a ratio of two lights of nearly the
    same hue, and under a power law that ratio comes out the same either way; this way a picture costs one look-up.

    Parameters
    ----------
    codes
        (rows, cols) grey or (rows, cols, 3) blue, green, red; uint8 or uint16.
    tone
        Linear light of each code value, (256,) or (65536,), as from an embedded profile; None takes sRGB.

    Returns
    -------
    (rows, cols) float32, 0 to 1.
    """
    layer = grey(codes)
    table = srgb_tone(int(np.iinfo(layer.dtype).max)) if tone is None else tone
    return np.asarray(cv2.LUT(layer, table) if layer.dtype == np.uint8 else table[layer], np.float32)


def srgb_tone(full: int) -> Light:
    """Return the linear light of the sRGB codes 0 to `full`, (full + 1,)."""
    return linear(np.arange(full + 1) / full).astype(np.float32)


def in_srgb(codes: Codes, tone: Light | None) -> Codes:
    """Return the codes that show a picture's light in sRGB, of as many bits; `tone` as in `grey_light`.

    >>> in_srgb(np.array([[128]], np.uint8), np.linspace(0.0, 1.0, 256, dtype=np.float32)).tolist()
    [[188]]
    """
    if tone is None:
        return codes
    full = len(tone) - 1
    table: NDArray[Any] = np.rint(full * encoded(tone)).astype(codes.dtype)
    return np.asarray(cv2.LUT(codes, table) if codes.dtype == np.uint8 else table[codes])


def grey(codes: Codes) -> Codes:
    """Return a picture's codes weighed to one grey layer, (rows, cols)."""
    layer: NDArray[Any] = codes if codes.ndim == 2 else cv2.cvtColor(codes, cv2.COLOR_BGR2GRAY)  # noqa: PLR2004
    return layer


def clipped(codes: Codes) -> NDArray[np.bool_]:
    """Return where any colour is at full scale, (rows, cols): the light there is not known."""
    full = np.iinfo(codes.dtype).max
    at_top = codes >= full - (full >> 8)
    return np.asarray(at_top if codes.ndim == 2 else reduce(np.logical_or, np.moveaxis(at_top, 2, 0)))  # noqa: PLR2004
