"""Photographs spoiled in known ways: each function gives code values back with one damage of a stated size.

The damage is done to linear light, as it happens in the camera; pictures are (rows, cols, 3) blue, green, red, uint8.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.drawn.pictures import srgb

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]

FULL: Final = 255.0
FINE: Final = 65_535  # steps of linear light that codes are looked up by
DARK: Final = 0.01  # of the light: the frame around a panel
RULED_PX: Final = 2  # width of a ruled line
ELECTRONS: Final = 8000.0  # at full scale: noise of a photograph taken anew


def exposed(picture: Picture, gain: float) -> Picture:
    """Return the picture with `gain` times the light, clipped at full scale."""
    return _stored(_light(picture) * gain)


def blackened(picture: Picture, black: float) -> Picture:
    """Return the picture with all codes up to the share `black` of full scale crushed to black by its tone curve.

    >>> blackened(np.array([[[51, 204, 255]]], np.uint8), 0.2).ravel().tolist()
    [0, 191, 255]
    """
    share = (picture / FULL - black) / (1.0 - black)
    return np.asarray(np.clip(share, 0.0, 1.0) * FULL + 0.5, np.uint8)


def steepened(picture: Picture, power: float) -> Picture:
    """Return the picture with all codes, as shares of full scale, raised to a power: above 1 bright tones part.

    >>> steepened(np.array([[[51, 204, 255]]], np.uint8), 2.0).ravel().tolist()
    [10, 163, 255]
    """
    return np.asarray((picture / FULL) ** power * FULL + 0.5, np.uint8)


def front_lit(picture: Picture, casting_px: float, ground: float) -> Picture:
    """Return the picture with the light outside a circle in its middle, of this radius, dimmed to a share `ground`."""
    rows, cols = picture.shape[:2]
    y, x = np.mgrid[:rows, :cols]
    outside = np.hypot(x - (cols - 1) / 2, y - (rows - 1) / 2) > casting_px
    return _stored(_light(picture) * np.where(outside, ground, 1.0)[..., None])


def narrowed(picture: Picture, share: float) -> Picture:
    """Return the picture on a light that is narrower: upright in its middle, this `share` of its width."""
    cols = picture.shape[1]
    lit = np.abs(np.arange(cols) - (cols - 1) / 2) <= share * cols / 2
    return _stored(_light(picture) * np.where(lit, 1.0, DARK)[None, :, None])


def chipped(picture: Picture, casting_px: float, size: float, *, seed: int = 0) -> Picture:
    """Return the picture with a round bay in a casting in its middle, of this radius: `size` is the bay's over that."""
    rows, cols = picture.shape[:2]
    y, x = np.mgrid[:rows, :cols]
    bay = np.asarray(np.hypot(x - (cols - 1) / 2 - casting_px, y - (rows - 1) / 2) < size * casting_px, np.float64)
    soft, light = cv2.GaussianBlur(bay, (0, 0), 1.0)[..., None], _light(picture)
    bare = np.median(light[0], axis=0)
    return _stored(_noisy(light * (1.0 - soft) + bare * soft, seed))


def in_company(picture: Picture, size: float) -> Picture:
    """Return the picture beside itself, there turned by a right angle and shrunk to `size`."""
    rows, cols = picture.shape[:2]
    turned = cv2.getRotationMatrix2D(((cols - 1) / 2, (rows - 1) / 2), 90.0, size)
    other = cv2.warpAffine(picture, turned, (cols, rows), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)
    return np.hstack([picture, np.asarray(other, np.uint8)])


def leant(picture: Picture, degrees: float) -> Picture:
    """Return the picture as a camera far away sees it, leaning to the side by `degrees`: a plane, narrower."""
    rows, cols = picture.shape[:2]
    narrow = (round(cols * math.cos(math.radians(degrees))), rows)
    return np.asarray(cv2.resize(picture, narrow, interpolation=cv2.INTER_AREA), np.uint8)


def sloped(picture: Picture, fall: float) -> Picture:
    """Return the picture with light that falls evenly from left to right, by the share `fall` over its width."""
    return _stored(_light(picture) * np.linspace(1.0, 1.0 - fall, picture.shape[1])[None, :, None])


def vignetted(picture: Picture, fall: float) -> Picture:
    """Return the picture with light that falls from its middle by cos^4, by the share `fall` in the corners."""
    return _stored(_light(picture) * cos_fourth(picture.shape[:2], fall)[..., None])


def cos_fourth(shape: tuple[int, ...], fall: float) -> Floats:
    """Return the light of a lens after the cos^4 law, (rows, cols), 1 in the middle and 1 - `fall` in the corners.

    >>> cos_fourth((3, 3), 0.75).round(3)[0].tolist()
    [0.25, 0.444, 0.25]
    """
    y, x = (np.linspace(-1.0, 1.0, size) * (size - 1) / math.hypot(*(each - 1 for each in shape)) for size in shape)
    beyond = (1.0 - fall) ** -0.5 - 1.0  # squared tangent of the corner's angle
    return np.asarray((1.0 + beyond * (y[:, None] ** 2 + x**2)) ** -2)


def banded(
    picture: Picture, swing: float, period_px: float, *,
    upright: bool = False, phase: float = 0.0, form: Callable[[Floats], Floats] = np.cos,
) -> Picture:  # fmt: skip
    """Return the picture with bands over the whole frame: `swing` is the share from dark to bright.

    `form` gives the wave, -1 to 1, of phases in radians.
    """
    along = np.arange(picture.shape[1 if upright else 0])
    wave = 1.0 + swing / 2 * form(np.asarray(2 * math.pi * along / period_px + phase, np.float64))
    return _stored(_light(picture) * (wave[None, :, None] if upright else wave[:, None, None]))


def gridded(picture: Picture, swing: float, period_px: float, *, degrees: float = 0.0) -> Picture:
    """Return the picture with the grid of a screen in its light: two crossed waves, each of this `swing`."""
    rows, cols = picture.shape[:2]
    y, x = np.mgrid[:rows, :cols]
    turn = math.radians(degrees)
    along, across = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    waves = [1.0 + swing / 2 * np.cos(2 * math.pi * place / period_px) for place in (along, across)]
    return _stored(_light(picture) * (waves[0] * waves[1])[..., None])


def ruled(picture: Picture, passed: float, period_px: int) -> Picture:
    """Return the picture on a sheet ruled both ways by lines that let the share `passed` of the light through."""
    rows, cols = picture.shape[:2]
    down, across = (np.where(np.arange(size) % period_px < RULED_PX, passed, 1.0) for size in (rows, cols))
    return _stored(_light(picture) * (down[:, None] * across)[..., None])


def defocused(picture: Picture, sigma_px: float, *, seed: int = 0) -> Picture:
    """Return the picture blurred by a Gaussian of standard deviation `sigma_px`, with the noise of a new photograph."""
    return _stored(_noisy(np.asarray(cv2.GaussianBlur(_light(picture), (0, 0), sigma_px), np.float64), seed))


def out_of_focus(picture: Picture, radius_px: float, *, seed: int = 0) -> Picture:
    """Return the picture with each point drawn as an even disc, as a lens out of focus does, with new noise."""
    half = math.ceil(radius_px)
    across = np.arange(-half, half + 1)
    disc = np.clip(radius_px + 0.5 - np.hypot(across[:, None], across), 0.0, 1.0)
    blurred = cv2.filter2D(_light(picture), -1, disc / disc.sum(), borderType=cv2.BORDER_REFLECT_101)
    return _stored(_noisy(np.asarray(blurred, np.float64), seed))


def half_defocused(picture: Picture, sigma_px: float, *, seed: int = 0) -> Picture:
    """Return the picture with its right half blurred as `defocused` does, over a border of a tenth of its width."""
    cols = picture.shape[1]
    share = np.clip((np.arange(cols) - cols / 2) / (cols / 10) + 0.5, 0.0, 1.0)[None, :, None]
    light = _light(picture)
    blurred = np.asarray(cv2.GaussianBlur(light, (0, 0), sigma_px), np.float64)
    return _stored(_noisy(light * (1.0 - share) + blurred * share, seed))


def hazed(picture: Picture, share: float) -> Picture:
    """Return the picture with `share` of its light strayed evenly over it, as through a film on the lens."""
    light = _light(picture)
    return _stored(light * (1.0 - share) + share * light.mean(axis=(0, 1)))


def moved(picture: Picture, length_px: float, *, degrees: float = 0.0, seed: int = 0) -> Picture:
    """Return the picture smeared evenly over `length_px` along a direction, clockwise from the right."""
    count = max(1, math.ceil(2 * length_px))
    steps = ((np.arange(count) + 0.5) / count - 0.5) * length_px
    turn = math.radians(degrees)
    light = _light(picture)
    smeared = np.mean([_shifted(light, step * math.cos(turn), step * math.sin(turn)) for step in steps], axis=0)
    return _stored(_noisy(smeared, seed))


def taken_twice(picture: Picture, share: float, shift_px: tuple[float, float], *, seed: int = 0) -> Picture:
    """Return the picture with the `share` of the light in a second one, shifted by x and y."""
    light = _light(picture)
    return _stored(_noisy((1.0 - share) * light + share * _shifted(light, *shift_px), seed))


def compressed(picture: Picture, quality: int) -> Picture:
    """Return the picture as a JPEG of this quality gives it back."""
    _, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), np.uint8)


def coloured(picture: Picture, gains: ArrayLike) -> Picture:
    """Return the picture with each colour, blue, green and red, times its own gain."""
    return _stored(_light(picture) * np.asarray(gains, np.float64))


def _light(picture: Picture) -> Floats:
    """Return the linear light of code values, IEC 61966-2-1."""
    levels = np.linspace(0.0, 1.0, 4096)
    table = np.interp(np.arange(256) / FULL, srgb(levels), levels)
    return np.asarray(table[picture])


def _stored(light: Floats) -> Picture:
    """Return code values of linear light, clipped at full scale."""
    table = np.asarray(srgb(np.arange(FINE + 1) / FINE) * FULL + 0.5, np.uint8)
    return np.asarray(table[np.asarray(np.clip(light, 0.0, 1.0) * FINE + 0.5, np.uint16)])


def _noisy(light: Floats, seed: int) -> Floats:
    rng = np.random.default_rng(seed)
    return np.asarray(rng.poisson(np.maximum(light, 0.0) * ELECTRONS) / ELECTRONS)


def _shifted(light: Floats, x_px: float, y_px: float) -> Floats:
    """Return a picture moved by a part of a pixel, its border repeated."""
    rows, cols = light.shape[:2]
    moving = np.array([[1.0, 0.0, x_px], [0.0, 1.0, y_px]])
    return np.asarray(
        cv2.warpAffine(light, moving, (cols, rows), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    )
