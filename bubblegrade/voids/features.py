"""What a candidate looks like, as numbers that do not change when the photograph is turned, scaled or dimmed."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade import optics
from bubblegrade.voids.fitting import Fits, Grid, Image, sample
from bubblegrade.voids.lighting import Lighting

Floats = NDArray[np.float32]

VIEW: Final = Grid(angles=24, radii=24, inner=0.05, outer=2.1)
HUE_VIEW: Final = Grid(angles=12, radii=8, inner=0.1, outer=2.1)
HARMONICS: Final = (1, 2, 3, 4)
MOST_BORDER: Final = 6.0  # radii: farther from the border of the judged area makes no difference
FULL: Final = 255.0


def features(
    pyramid: list[Image], fits: Fits, codes: NDArray[np.uint8], *, lighting: Lighting, noise: float, border_px: Floats,
    index: float
) -> Floats:  # fmt: skip
    """Return one row of numbers for each of N fits, (N, columns).

    Parameters
    ----------
    pyramid
        Darkness at halving sizes.
    fits
        The fitted rings.
    codes
        The photograph, 8 bits, grey (rows, cols) or (rows, cols, 3).
    lighting
        The photograph's light.
    noise
        Standard deviation of a pixel's darkness.
    border_px
        (N,) distance from each centre to the border of the judged area.
    index
        Refractive index of the resin.
    """
    darkness = sample(pyramid, fits.x_px, fits.y_px, fits.radius_px, VIEW).darkness
    patch = darkness.reshape(len(fits), VIEW.radii, VIEW.angles)
    return np.concatenate(
        [
            _around(patch),
            _numbers(fits, lighting, noise, index),
            _hues(codes, fits),
            np.minimum(border_px / fits.radius_px, MOST_BORDER)[:, None],
        ],
        axis=1,
    ).astype(np.float32)


def _around(patch: Floats) -> Floats:
    """Return, for each distance from the centre, how dark it is around the circle, and how unevenly."""
    ordered = np.sort(patch, axis=2)
    count = patch.shape[2]
    wave = np.abs(np.fft.rfft(patch, axis=2)) / count
    parts = [ordered[:, :, count // 10], ordered[:, :, count // 2], ordered[:, :, -1 - count // 10]]
    parts += [wave[:, :, k] for k in HARMONICS]
    return np.concatenate([np.mean(patch, axis=2), *parts], axis=1)


def _numbers(fits: Fits, lighting: Lighting, noise: float, index: float) -> Floats:
    """Return what the fit and the photograph say in single numbers."""
    rows = len(fits)
    light = np.array(
        [lighting.theta / optics.widest_light(index=index), lighting.wall, lighting.rings > 0, noise, index]
    )
    each = [
        np.log(fits.radius_px),
        np.log(fits.blur_px / fits.radius_px),
        np.log(fits.blur_px / lighting.blur_px),
        fits.depth,
        fits.level,
        fits.explained,
        fits.agreeing,
        fits.seen,
        np.log(fits.radius_err_px / fits.radius_px + 1e-4),
        noise / fits.depth,
    ]
    return np.concatenate([np.stack(each, axis=1), np.tile(light, (rows, 1))], axis=1)


def _hues(codes: NDArray[np.uint8], fits: Fits) -> Floats:
    """Return how the hue inside differs from that around, in code values over full scale; zeros for a grey picture."""
    if codes.ndim == 2 or not len(fits):  # noqa: PLR2004
        return np.zeros((len(fits), 6), np.float32)
    unit = HUE_VIEW.rho[:, None] * np.exp(1j * HUE_VIEW.directions)[None, :]
    at_x = (fits.x_px[:, None] + fits.radius_px[:, None] * unit.real.ravel()).astype(np.float32)
    at_y = (fits.y_px[:, None] + fits.radius_px[:, None] * unit.imag.ravel()).astype(np.float32)
    parts = [
        cv2.remap(codes, at_x[i : i + 30_000], at_y[i : i + 30_000], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        for i in range(0, len(at_x), 30_000)
    ]
    colour = np.concatenate(parts).reshape(len(fits), HUE_VIEW.radii, HUE_VIEW.angles, 3).astype(np.float32) / FULL
    bias = np.stack([colour[..., 2] - colour[..., 1], colour[..., 0] - colour[..., 1]], axis=-1)
    around = np.median(bias[:, -2:], axis=(1, 2), keepdims=True)
    inside = (bias - around)[:, :4].reshape(len(fits), -1, 2)
    return np.concatenate([inside.mean(axis=1), np.abs(inside).mean(axis=1), np.abs(inside).max(axis=1)], axis=1)
