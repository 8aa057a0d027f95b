"""What phones and cameras make of a picture before they save it, each in a way of its own.

Colours are filled in, noise is smoothed away, edges are drawn sharper, tones are bent, for the whole picture and for
each place, and a zoom only enlarges. None of it moves a void or changes its size, but rings come out softer, darker or
with a bright seam. Pictures are (rows, cols, 3) blue, green, red, uint8.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]
Rng = np.random.Generator

FULL: Final = 255.0
MOSAIC, ZOOMED, SMOOTHED, CURVED, LOCAL, SHARPENED = 0.3, 0.2, 0.6, 0.5, 0.35, 0.6  # shares of the processed pictures
FILLED_IN: Final = (cv2.COLOR_BayerRG2BGR, cv2.COLOR_BayerRG2BGR_EA)  # ways from a mosaic to colours
ZOOM: Final = (1.15, 1.9)
STRENGTH: Final = (2.0, 7.0)  # code values: what is fainter passes for noise
BILATERAL_STRONGER: Final = 2.5  # as it weighs single pixels, where others weigh patches
CORED_WEAKER: Final = 0.5
BANDS_PX: Final = (0.8, 1.6, 3.2)  # spreads that part fine detail into bands
CURVE: Final = (0.5, 5.0)  # steepness of a curve of tones in its middle,
POWER: Final = (0.6, 2.4)  # or the power of the code value that it is
EVENED: Final = (0.05, 0.45)  # of what places differ by in light, in logarithm, that local tones take away
PLACE: Final = (0.01, 0.12)  # of the picture's width: how wide a place is
KEEPS_EDGES: Final = (0.05, 1.0)  # step in the logarithm of light over which places do not mix
TILES: Final = (3, 11)  # across the picture, where each tile's tones are spread by themselves,
SPREAD: Final = (0.7, 2.5)  # and by how much at most
HALO_PX: Final = (0.7, 4.0)  # spread of what sharpening takes away,
AMOUNT: Final = (0.2, 1.6)  # and how much of it; at a wide spread less
QUALITY: Final = (70, 97)  # of the JPEG that is saved


def processed(picture: Picture, rng: Rng) -> Picture:
    """Return the picture as one of many phones and cameras would save it.

    >>> flat = np.full((48, 64, 3), 120, np.uint8)
    >>> one = processed(flat, np.random.default_rng(1))
    >>> one.shape, int(np.ptp(one)) <= 2
    ((48, 64, 3), True)
    """
    if rng.random() < MOSAIC:
        picture = _filled_in(picture, int(rng.choice(FILLED_IN)))
    if rng.random() < ZOOMED:
        picture = _zoomed(picture, rng.uniform(*ZOOM))
    if rng.random() < SMOOTHED:
        picture = _smoothed(picture, _even(STRENGTH, rng), int(rng.integers(3)))
    code = picture / FULL
    if rng.random() < CURVED:
        code = _curved(code, rng.uniform(*CURVE)) if rng.integers(2) else code ** _even(POWER, rng)
    if rng.random() < LOCAL and rng.integers(2):
        code = _evened(code, rng.uniform(*EVENED), _even(PLACE, rng) * picture.shape[1], _even(KEEPS_EDGES, rng))
    elif rng.random() < LOCAL:
        code = _spread(code, int(rng.integers(*TILES)), _even(SPREAD, rng))
    if rng.random() < SHARPENED:
        halo_px = _even(HALO_PX, rng)
        code = code + _even(AMOUNT, rng) / max(1.0, halo_px) * (code - cv2.GaussianBlur(code, (0, 0), halo_px))
    return _saved((np.clip(code, 0.0, 1.0) * FULL + 0.5).astype(np.uint8), int(rng.integers(*QUALITY)))


def _filled_in(picture: Picture, way: int) -> Picture:
    """Return the picture as a sensor sees it, one colour a pixel, with the other two filled in."""
    mosaic = picture[..., 1].copy()
    mosaic[::2, ::2] = picture[::2, ::2, 0]
    mosaic[1::2, 1::2] = picture[1::2, 1::2, 2]
    return np.asarray(cv2.cvtColor(mosaic, way), np.uint8)


def _zoomed(picture: Picture, times: float) -> Picture:
    """Return the picture made of `times` fewer pixels a side."""
    rows, cols = picture.shape[:2]
    fewer = cv2.resize(picture, (round(cols / times), round(rows / times)), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(fewer, (cols, rows), interpolation=cv2.INTER_CUBIC), np.uint8)


def _smoothed(picture: Picture, strength: float, way: int) -> Picture:
    """Return the picture with what is fainter than `strength` code values smoothed away, in one of three ways."""
    if way == 0:
        return np.asarray(cv2.bilateralFilter(picture, 9, BILATERAL_STRONGER * strength, 2.5), np.uint8)
    parts = np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2YCrCb), np.uint8)
    if way == 1:
        parts[..., 0] = cv2.fastNlMeansDenoising(parts[..., 0], None, strength, 5, 15)
    else:
        parts[..., 0] = _cored(parts[..., 0], CORED_WEAKER * strength)
    for colour in (1, 2):
        parts[..., colour] = cv2.bilateralFilter(parts[..., colour], 9, BILATERAL_STRONGER * strength, 2.5)
    return np.asarray(cv2.cvtColor(parts, cv2.COLOR_YCrCb2BGR), np.uint8)


def _cored(grey: Picture, least: float) -> Picture:
    """Return a picture of one channel whose fine detail is less by `least` code values, and none where it was less."""
    left, total = grey.astype(np.float64), np.zeros(grey.shape)
    for spread_px in BANDS_PX:
        broad = np.asarray(cv2.GaussianBlur(left, (0, 0), spread_px), np.float64)
        total += np.sign(left - broad) * np.maximum(np.abs(left - broad) - least, 0.0)
        left = broad
    return np.asarray(np.clip(total + left, 0.0, FULL) + 0.5, np.uint8)


def _curved(code: Floats, steep: float) -> Floats:
    """Return code values under a curve that is steep in the middle and keeps both ends."""
    low, high = (1.0 / (1.0 + np.exp(-steep * (end - 0.5))) for end in (0.0, 1.0))
    return np.asarray((1.0 / (1.0 + np.exp(-steep * (code - 0.5))) - low) / (high - low))


def _evened(code: Floats, share: float, wide_px: float, edge: float) -> Floats:
    """Return code values of which places differ less from one another, as local tones leave them.

    A guided filter tells how light it is about each place (He, Sun and Tang, 2013), with the picture as its own guide.
    """
    level = np.log(np.maximum(cv2.cvtColor(code.astype(np.float32), cv2.COLOR_BGR2GRAY), 0.02)).astype(np.float64)
    side = 2 * int(wide_px) + 1

    def mean(values: Floats) -> Floats:
        return np.asarray(cv2.blur(values, (side, side)), np.float64)

    middle = mean(level)
    spread = np.maximum(mean(level * level) - middle * middle, 0.0)
    held = spread / (spread + edge * edge)
    about = mean(held) * level + mean(middle - held * middle)
    lighter = np.exp(-share * (about - np.percentile(about, 90)))
    return np.asarray(code * lighter[..., None])


def _spread(code: Floats, tiles: int, most: float) -> Floats:
    """Return code values of which each tile's tones are spread as evenly as `most` allows (Zuiderveld, 1994)."""
    grey = cv2.cvtColor(code.astype(np.float32), cv2.COLOR_BGR2GRAY)
    codes = (np.clip(grey, 0.0, 1.0) * FULL + 0.5).astype(np.uint8)
    told = cv2.createCLAHE(most, (tiles, tiles)).apply(codes) / FULL
    return np.asarray(code * (told / np.maximum(grey, 1.0 / FULL))[..., None])


def _saved(picture: Picture, quality: int) -> Picture:
    """Return the picture after it was saved as JPEG."""
    done, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    assert done, "a picture of this kind is always savable"  # noqa: S101
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def _even(between: tuple[float, float], rng: Rng) -> float:
    """Return a number between two, even in its logarithm."""
    return float(np.exp(rng.uniform(*np.log(between))))
