"""What a candidate looks like: numbers that do not change when the photograph is turned, scaled or dimmed, and rays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade import optics
from bubblegrade.threads import each, runs
from bubblegrade.voids.fitting import TOGETHER, Fits, Grid, Image, row_medians, sample
from bubblegrade.voids.lighting import Lighting

Floats = NDArray[np.float32]

VIEW: Final = Grid(angles=24, radii=28, inner=0.05, outer=2.6)
HUE_VIEW: Final = Grid(angles=12, radii=8, inner=0.1, outer=2.1)
LEAST_DEPTH: Final = 0.1  # of a ring, in whose depths the rays are given
MOST_DEPTHS: Final = 3.0  # darker, or lighter, by more makes no difference
MOST_BORDER: Final = 6.0  # radii: farther from the border of the judged area makes no difference
FULL: Final = 255.0
MOST_RAISED: Final = 2.0  # times: a colour that hardly passes would be raised with its noise


@dataclass(frozen=True, eq=False)
class Looks:
    """What N candidates look like."""

    numbers: Floats  # (N, columns)
    rays: Floats  # (N, angles, radii) darkness over the level around, in depths of the ring

    def __len__(self) -> int:
        """Return the number of candidates."""
        return len(self.numbers)

    def __getitem__(self, rows: Any) -> Looks:
        """Return the chosen rows."""
        return Looks(self.numbers[rows], self.rays[rows])


def looks_of(
    pyramid: list[Image], fits: Fits, codes: NDArray[np.uint8], *, lighting: Lighting, noise: float, border_px: Floats,
    index: float
) -> Looks:  # fmt: skip
    """Return what each of N fits looks like.

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

    def described(rows: slice) -> Looks:
        some = fits[rows]
        near = np.minimum(border_px[rows] / some.radius_px, MOST_BORDER)[:, None]
        numbers = np.concatenate([_numbers(some, lighting, noise, index), _hues(codes, some), near], axis=1)
        return Looks(numbers.astype(np.float32), _rays(pyramid, some))

    parts = each(described, runs(max(len(fits), 1), TOGETHER))
    return Looks(np.concatenate([part.numbers for part in parts]), np.concatenate([part.rays for part in parts]))


def _rays(pyramid: list[Image], fits: Fits) -> Floats:
    """Return darkness along rays from each centre, (N, angles, radii), over the level and in depths of the ring."""
    darkness = sample(pyramid, fits.x_px, fits.y_px, fits.radius_px, VIEW).darkness
    darkness -= fits.level[:, None]
    darkness /= np.maximum(fits.depth, LEAST_DEPTH)[:, None]
    np.clip(darkness, -MOST_DEPTHS, MOST_DEPTHS, out=darkness)
    return np.ascontiguousarray(darkness.reshape(len(fits), VIEW.radii, VIEW.angles).swapaxes(1, 2))


def _numbers(fits: Fits, lighting: Lighting, noise: float, index: float) -> Floats:
    """Return what the fit and the photograph say in single numbers."""
    rows = len(fits)
    filled = min(lighting.theta / optics.widest_light(index=index), 1.0)  # no more was taught
    light = np.array([filled, lighting.wall, lighting.rings > 0, noise, index])
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
    """Return how the hue inside differs from that around, in code values over full scale; zeros for a grey picture.

    The colours are weighed so that the resin around is grey: dark spots in tinted resin are of its hue.
    """
    if codes.ndim == 2 or not len(fits):  # noqa: PLR2004
        return np.zeros((len(fits), 6), np.float32)
    right, down = HUE_VIEW.places
    at_x = fits.x_px[:, None] + fits.radius_px[:, None] * right
    at_y = fits.y_px[:, None] + fits.radius_px[:, None] * down
    codes_there = cv2.remap(codes, at_x, at_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    colours = np.moveaxis(codes_there, 2, 0).astype(np.float32) / FULL
    inner, outer = 4 * HUE_VIEW.angles, -2 * HUE_VIEW.angles
    around = np.stack([row_medians(colour[:, outer:].copy()) for colour in colours])
    least = around.min(axis=0)
    even = np.minimum(around.mean(axis=0), MOST_RAISED * least)
    colours *= (even / np.maximum(around, 1 / FULL))[:, :, None]
    blue, green, red = colours
    numbers = []
    for bias in (red - green, blue - green):
        inside = bias[:, :inner] - row_medians(bias[:, outer:].copy())[:, None]
        size = np.abs(inside)
        numbers.append((inside.mean(axis=1), size.mean(axis=1), size.max(axis=1)))
    return np.stack([column for both in zip(*numbers, strict=True) for column in both], axis=1)
