"""From the outline of a disc to the scale of the plane it lies on: how it is seen is weighed over all likely views.

A coin is a low cylinder. Seen obliquely its face is flatter than round, and beside the face the rim at its foot shows;
both change the outline by about a percent, and they all but cancel up to some ten degrees. It is seen obliquely because
the camera is tilted, and because it lies away from the camera's axis. The tilt also makes the plane nearer on one side:
the scale at the casting, in the picture's middle, is not that at the coin.

Tilt, thickness and focal length are not known exactly, so every view that they allow is projected through a pinhole and
weighed by how well the outline fits it. The scale is the weighted mean, and its spread the uncertainty.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.photo.disc import Disc
from bubblegrade.photo.lens import WIDEST_35MM, Lens, lens_from_focal

Floats = NDArray[np.float64]

TILT_ERR: Final = math.radians(4.0)  # of a camera held over a light by hand, in each direction (judgement)
TILTS: Final = TILT_ERR * np.linspace(-3.2, 3.2, 33)
THICK_MM, THICK_ERR_MM = 1.9, 0.4  # of coins: most have 1.4 to 2.4 mm (common practice)
NODES: Final = ((-math.sqrt(3.0), 1 / 6), (0.0, 2 / 3), (math.sqrt(3.0), 1 / 6))  # Gauss-Hermite, three points
OUT_OF_ROUND: Final = 0.001  # of a coin's diameter, its rim's pattern included
DIRECTIONS: Final = np.linspace(0.0, math.pi, 16, endpoint=False)  # in which an outline's width is compared
FAR_OFF: Final = 1e-9  # one over px: a focal length without end, for the lens of an infinitely distant camera


@dataclass(frozen=True)
class SeenScale:
    """The scale in the picture's middle, at the height of the disc's face."""

    mm_per_px: float
    err_share: float  # one standard uncertainty, of how it is seen alone


def seen_scale(disc: Disc, across_mm: float, lens: Lens) -> SeenScale:
    """Return the scale that a disc gives.

    Parameters
    ----------
    disc
        Its outline.
    across_mm
        Its diameter.
    lens
        As far as it is known, for pictures of this size.
    """
    away = np.array([disc.x_px, disc.y_px]) - lens.centre_px
    seen = _harmonics(np.hypot(
        disc.long_px * np.cos(DIRECTIONS - disc.turn_rad), disc.short_px * np.sin(DIRECTIONS - disc.turn_rad)
    ))  # fmt: skip
    noise = math.hypot(disc.long_err_px / disc.long_px, OUT_OF_ROUND)
    wide, wide_err = _wideness(lens)
    tilt = np.stack(np.meshgrid(TILTS, TILTS), axis=-1).reshape(-1, 2)
    prior = np.exp(-0.5 * np.sum(tilt**2, axis=1) / TILT_ERR**2)
    weights, scales = [], []
    for wide_step, wide_weight in NODES:
        focal_px = 1.0 / max(wide + wide_step * wide_err, FAR_OFF)
        for thick_step, thick_weight in NODES:
            thick_mm = THICK_MM + thick_step * THICK_ERR_MM
            outline, mm_per_px = _views(away, tilt, focal_px, (across_mm, thick_mm), across_mm / disc.long_px)
            misfit = np.sum((outline[:, 1:] / outline[:, :1] - seen[1:] / seen[0]) ** 2, axis=1) / noise**2
            weights.append(wide_weight * thick_weight * prior * np.exp(-0.5 * misfit))
            scales.append(mm_per_px * outline[:, 0] / seen[0])
    weight, scale = np.concatenate(weights), np.concatenate(scales)
    weight = np.maximum(weight, 1e-300)  # where no view fits, all of them count
    mean = float(np.average(scale, weights=weight))
    return SeenScale(mean, math.sqrt(float(np.average((scale / mean - 1.0) ** 2, weights=weight))))


def _wideness(lens: Lens) -> tuple[float, float]:
    """Return one over the focal length, per px, and its standard uncertainty.

    Of an unknown lens it is evenly spread from nothing, a camera far off, to that of a wide lens.
    """
    if lens.is_known:
        return 1.0 / lens.focal_px, lens.focal_err_px / lens.focal_px**2
    widest = 1.0 / lens_from_focal(WIDEST_35MM, lens.shape_px).focal_px
    return widest / 2, widest / math.sqrt(12.0)


def _views(
    away_px: Floats, tilt: Floats, focal_px: float, size_mm: tuple[float, float], mm_per_px: float
) -> tuple[Floats, Floats]:
    """Return how a pinhole camera sees a disc under each tilt.

    Parameters
    ----------
    away_px
        (2,) where it is seen, from the picture's middle.
    tilt
        (n, 2) radians: by how much the camera leans about y and about -x.
    focal_px
        Of the camera.
    size_mm
        The disc's diameter and thickness.
    mm_per_px
        About the scale; it sets how far away the camera stands.

    Returns
    -------
    (n, 3) harmonics of the outline's width in px, and (n,) mm per px in the picture's middle at the face's height.
    """
    across, thick = size_mm
    height = focal_px * mm_per_px
    frame = _frames(tilt)
    # The camera stands at `eye` over the plane z = 0, its axis through the origin; z counts towards it.
    eye = height * frame[:, 2] * [-1.0, -1.0, -1.0]
    ray = frame[:, 0] * away_px[0] / focal_px + frame[:, 1] * away_px[1] / focal_px + frame[:, 2]
    face = eye + ray * ((thick - eye[:, 2]) / ray[:, 2])[:, None]
    ways = np.concatenate([DIRECTIONS, DIRECTIONS + math.pi])
    unit = np.stack([np.cos(ways), np.sin(ways)])
    reach = []
    for drop in (0.0, thick):
        at = face - [0.0, 0.0, drop]
        place, stretch = _seen(at - eye, frame, focal_px)
        turned = np.einsum("nij,ik->nkj", stretch, unit)
        reach.append(place @ unit + across / 2 * np.linalg.norm(turned, axis=2))
    outline = np.maximum(*reach)
    middle = np.array([0.0, 0.0, thick]) - eye
    _, stretch = _seen(middle, frame, focal_px)
    half = len(DIRECTIONS)
    return _harmonics(outline[:, :half] + outline[:, half:]), np.abs(np.linalg.det(stretch)) ** -0.5


def _frames(tilt: Floats) -> Floats:
    """Return the camera's axes, right, down and forwards, in the plane's directions, (n, 3, 3)."""
    forwards = np.column_stack([np.tan(tilt), -np.ones(len(tilt))])
    forwards /= np.linalg.norm(forwards, axis=1, keepdims=True)
    right = np.cross(forwards, [0.0, 1.0, 0.0])
    right *= np.sign(right[:, :1])
    right /= np.linalg.norm(right, axis=1, keepdims=True)
    down = np.cross(forwards, right)
    down *= np.sign(down[:, 1:2])
    return np.stack([right, down, forwards], axis=1)


def _seen(from_eye: Floats, frame: Floats, focal_px: float) -> tuple[Floats, Floats]:
    """Return where points are seen, (n, 2) px, and the px that a mm along x and y of the plane takes, (n, 2, 2)."""
    x, y, depth = np.einsum("nij,nj->in", frame, from_eye)
    place = focal_px * np.stack([x / depth, y / depth], axis=1)
    sideways = frame[:, :2, :2] * (focal_px / depth)[:, None, None]
    nearer = place[:, :, None] * (frame[:, 2, :2] / depth[:, None])[:, None, :]
    return place, sideways - nearer


def _harmonics(width: Floats) -> Floats:
    """Return a width's mean and its parts in cos 2a and sin 2a over DIRECTIONS, (..., 3)."""
    return np.stack(
        [
            width.mean(axis=-1),
            2.0 * (width * np.cos(2 * DIRECTIONS)).mean(axis=-1),
            2.0 * (width * np.sin(2 * DIRECTIONS)).mean(axis=-1),
        ],
        axis=-1,
    )
