"""Pictures: fast drawings of a round casting on a light, with voids of known place and size.

    drawn = draw(Scene(width_px=400, height_px=400, casting_px=180.0, x_px=[120.0], y_px=[200.5], diameter_px=[30.0]))
    drawn.picture       (400, 400, 3) uint8, as a camera would save it
    drawn.diameter_px   the truth

Every void is drawn after `bubblegrade.optics`: bright core, dark ring, bright sliver out to the silhouette. The drawing
is averaged over each pixel's area, so that a void lies where it should to a small fraction of a pixel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from bubblegrade.optics import USUAL_INDEX, darkness

Floats = NDArray[np.float64]

FINE: Final = 8  # parts of a pixel's side over which a void is averaged
FINEST: Final = 24  # the same for a small void
SMALL_PX: Final = 12.0  # diameter below which a void is small
PROFILE_STEPS: Final = 2000  # of a void's radius, in the table of its light
RIM_PX: Final = 2.0  # width of the dark line around the casting
RIM_LIGHT: Final = 0.35  # of that line over the bare light
SRGB_STRAIGHT: Final = 0.0031308  # level below which the sRGB curve is a straight line (IEC 61966-2-1)


@dataclass(frozen=True, eq=False)
class Scene:
    """A round casting in the middle of a picture of the light, and the voids in it.

    Positions are px from the centre of the top left pixel. `theta` is the half-angle, in radians, that the light fills
    inside the resin.
    """

    width_px: int = 800
    height_px: int = 800
    casting_px: float = 340.0  # radius of the casting; 0 for none
    x_px: ArrayLike = ()
    y_px: ArrayLike = ()
    diameter_px: ArrayLike = ()
    theta: float = 0.35
    index: float = USUAL_INDEX
    wall: float = 0.0  # light met through the side wall over the direct light
    clear: float = 0.92  # share of the light that the casting lets through
    level: float = 0.6  # linear level of the bare light
    gradient: float = 0.0  # slope of the light across the picture's width, as a share of its level
    vignette: float = 0.05  # fall-off of the light in the corners, likewise
    blur_px: float = 0.7  # standard deviation of the lens's blur
    electrons: float = 8000.0  # at full scale; the noise follows from it; 0 for none
    seed: int = 0  # of the noise


@dataclass(frozen=True, eq=False)
class Drawn:
    """A drawn picture, (h, w, 3) uint8, and the truth about the voids in it, one entry a void."""

    picture: NDArray[np.uint8]
    x_px: Floats
    y_px: Floats
    diameter_px: Floats


def draw(scene: Scene) -> Drawn:
    """Draw `scene`; the same scene gives the same bytes.

    >>> draw(Scene(width_px=60, height_px=40, casting_px=15.0)).picture.shape
    (40, 60, 3)
    """
    x, y, diameter = (np.asarray(column, np.float64) for column in (scene.x_px, scene.y_px, scene.diameter_px))
    light = bare_light(scene) * _casting_light(scene)
    table = light_table(scene)
    for void in zip(x, y, diameter, strict=True):
        put_void(light, table, *(float(number) for number in void))
    return Drawn(photographed(light, scene), x, y, diameter)


def bare_light(scene: Scene) -> Floats:
    """Return the linear light of the empty backlight, (h, w)."""
    y, x = np.mgrid[-1 : 1 : scene.height_px * 1j, -1 : 1 : scene.width_px * 1j]
    return np.asarray(scene.level * (1 + scene.gradient * x / 2 - scene.vignette * (x**2 + y**2) / 2))


def _casting_light(scene: Scene) -> Floats:
    """Return the share of the light that the casting lets through, 1 beside it, (h, w)."""
    if scene.casting_px <= 0:
        return np.ones((scene.height_px, scene.width_px))
    y, x = np.indices((scene.height_px, scene.width_px), dtype=np.float64)
    from_middle = np.hypot(x - (scene.width_px - 1) / 2, y - (scene.height_px - 1) / 2)
    to_edge = scene.casting_px - from_middle
    body = np.clip(to_edge - RIM_PX + 0.5, 0, 1)
    rim = np.clip(to_edge + 0.5, 0, 1) - body
    return np.asarray(1 - body * (1 - scene.clear) - rim * (1 - RIM_LIGHT))


def light_table(scene: Scene) -> Floats:
    """Return the light that a void lets through at PROFILE_STEPS + 1 even steps from its centre to its silhouette."""
    steps = np.linspace(0, 1, PROFILE_STEPS + 1)
    return 1 - darkness(steps, scene.theta, wall=scene.wall, index=scene.index)


def put_void(light: Floats, table: Floats, x: float, y: float, diameter: float) -> None:
    """Darken `light` in place by one void; what lies beyond the frame is left out."""
    radius = diameter / 2
    left, right = (int(np.clip(np.floor(x + s * (radius + 1)), 0, light.shape[1])) for s in (-1, 1))
    above, below = (int(np.clip(np.floor(y + s * (radius + 1)), 0, light.shape[0])) for s in (-1, 1))
    if right < left or below < above:
        return
    parts = FINEST if diameter < SMALL_PX else FINE
    columns, rows = (_fine(low, high + 1, parts) for low, high in ((left, right), (above, below)))
    b = np.hypot((columns - x)[None, :], (rows - y)[:, None]) / radius
    fine = np.interp(b * PROFILE_STEPS, np.arange(PROFILE_STEPS + 1), table, right=1.0)
    share = fine.reshape(len(rows) // parts, parts, len(columns) // parts, parts).mean((1, 3))
    patch = light[above : below + 1, left : right + 1]
    patch *= share[: patch.shape[0], : patch.shape[1]]


def _fine(low: int, high: int, parts: int) -> Floats:
    """Return the middles of the `parts` of each pixel from `low` to before `high`."""
    return low - 0.5 + (np.arange((high - low) * parts) + 0.5) / parts


def photographed(light: Floats, scene: Scene) -> NDArray[np.uint8]:
    """Return linear `light`, (h, w), as a camera saves it: blurred, noisy, in sRGB, (h, w, 3)."""
    if scene.blur_px:
        light = np.asarray(cv2.GaussianBlur(light, (0, 0), scene.blur_px), np.float64)
    colours = np.repeat(light[..., None], 3, 2)
    if scene.electrons:
        rng = np.random.default_rng(scene.seed)
        colours = rng.poisson(colours * scene.electrons) / scene.electrons
    return (srgb(np.clip(colours, 0, 1)) * 255 + 0.5).astype(np.uint8)


def srgb(level: ArrayLike) -> Floats:
    """Return linear light from 0 to 1 as sRGB code values from 0 to 1.

    >>> srgb([0.0, 1.0]).round(6).tolist()
    [0.0, 1.0]
    """
    linear = np.asarray(level, np.float64)
    curved = 1.055 * np.maximum(linear, SRGB_STRAIGHT) ** (1 / 2.4) - 0.055
    return np.where(linear <= SRGB_STRAIGHT, 12.92 * linear, curved)


def grid(across: Sequence[float], down: Sequence[float]) -> tuple[Floats, Floats]:
    """Return x and y (px) of every crossing of the columns `across` and the rows `down`, row by row.

    >>> [a.tolist() for a in grid([1.0, 2.0], [5.0])]
    [[1.0, 2.0], [5.0, 5.0]]
    """
    x, y = np.meshgrid(np.asarray(across, np.float64), np.asarray(down, np.float64))
    return x.ravel(), y.ravel()
