"""The casting's edge, found to a fraction of a pixel, and its widest span."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d
from scipy.spatial import ConvexHull, QhullError
from scipy.spatial.distance import pdist, squareform

Image = NDArray[np.float32]
Mask = NDArray[np.bool_]
Points = NDArray[np.float64]

REACH_STEPS: Final = 3.5  # coarse px to both sides of the coarse outline in which the edge is looked for
SMOOTHED_OVER: Final = 2.0  # half px along each profile and points along the outline, a standard deviation
SMOOTHED_STEPS: Final = 0.25  # coarse px along each profile: fine pixels have more noise, and more of them to even it
NORMAL_OVER: Final = 7  # outline points over which a normal is averaged
EVENED: Final = (
    0.0025  # of the outline's length: its points are averaged over so much, or the widest span grows by noise
)
OUTERMOST: Final = 0.5  # of the steepest change along the normal: the outermost that is this steep is the edge

ROUND: Final = 0.005  # of the radius: outlines of which nine tenths lie so near a circle are round
BUMP: Final = 0.01  # of the radius over that circle: no casting's own edge, a fibre across it


def traced(mask: Mask, step_px: int) -> Points:
    """Return the longest border of a coarse mask as (N, 2) x, y in px of the photograph."""
    found, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    longest = max(found, key=len)[:, 0, :].astype(np.float64)
    return np.asarray((longest + 0.5) * step_px - 0.5)


def covered(points: Points, step_px: int, shape: tuple[int, int]) -> Mask:
    """Return the coarse mask, of `shape`, of what lies within a closed line of (N, 2) x, y in px of the photograph."""
    drawn = np.zeros(shape, np.uint8)
    corners = np.rint(((points + 0.5) / step_px - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(drawn, [corners], 1, shift=4)
    return drawn.astype(bool)


def refined(light: Image, points: Points, step_px: int) -> Points:
    """Return the outline moved along its normals to where the light changes, (N, 2) x, y in px.

    Parameters
    ----------
    light
        Linear light, (rows, cols).
    points
        As found in the coarse picture, (N, 2) x, y in px of the photograph.
    step_px
        Side of a coarse pixel.
    """
    if len(points) < 2 * NORMAL_OVER:
        return points
    ahead, behind = np.roll(points, -NORMAL_OVER, axis=0), np.roll(points, NORMAL_OVER, axis=0)
    along = ahead - behind
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
    if _signed_area(points) < 0:
        outward = -outward
    reach = REACH_STEPS * step_px
    offsets = np.arange(-reach, reach + 0.25, 0.5)
    at = points[:, None, :] + offsets[None, :, None] * outward[:, None, :]
    profile = cv2.remap(
        light, at[..., 0].astype(np.float32), at[..., 1].astype(np.float32), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    sigma = max(SMOOTHED_OVER, 2.0 * SMOOTHED_STEPS * step_px)
    profile = cv2.GaussianBlur(
        np.log(profile + 0.01), (0, 0), sigmaX=sigma, sigmaY=SMOOTHED_OVER, borderType=cv2.BORDER_REPLICATE
    )
    steep = np.abs(np.gradient(profile, axis=1))
    shift = _steady(_outermost(steep, offsets))
    moved = points + shift[:, None] * outward
    return np.asarray(gaussian_filter1d(moved, max(2.0, EVENED * len(moved)), axis=0, mode="wrap"))


def widest_span(points: Points) -> tuple[Points, Points, float]:
    """Return the two (2,) points of an outline that lie farthest apart, and their distance in px.

    Of a round outline what stands out narrowly, such as a fibre that lies across the edge, is left out.

    >>> widest_span(np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]]))[2]
    5.0
    """
    points = _without_bumps(points)
    try:
        hull = points[ConvexHull(points).vertices]
    except QhullError:
        hull = points
    apart = squareform(pdist(hull))
    i, j = np.unravel_index(int(np.argmax(apart)), apart.shape)
    return hull[i], hull[j], float(apart[i, j])


def _without_bumps(points: Points) -> Points:
    """Return the points of a round outline without those that stand out of its circle; of any other all points."""
    x, y = points.T
    design = np.column_stack([2.0 * points, np.ones(len(points))])
    across, down, _ = np.linalg.lstsq(design, x**2 + y**2, rcond=None)[0]
    from_middle = np.hypot(x - across, y - down)
    radius = float(np.median(from_middle))
    over = from_middle / radius - 1.0
    if len(points) < 2 * NORMAL_OVER or np.quantile(np.abs(over), 0.9) > ROUND:
        return points
    return np.asarray(points[over <= BUMP])


def _signed_area(points: Points) -> float:
    """Return twice the area of the polygon, positive if it runs clockwise as seen on the screen."""
    after = np.roll(points, -1, axis=0)
    return float(np.sum(points[:, 0] * after[:, 1] - after[:, 0] * points[:, 1]))


def _outermost(steep: NDArray[np.float32], offsets: Points) -> Points:
    """Return for each profile the outermost place at which the light changes about as steeply as anywhere on it."""
    peak = np.zeros_like(steep, bool)
    peak[:, 1:-1] = (steep[:, 1:-1] >= steep[:, :-2]) & (steep[:, 1:-1] > steep[:, 2:])
    peak &= steep >= OUTERMOST * steep.max(axis=1, keepdims=True)
    last = steep.shape[1] - 1 - np.argmax(peak[:, ::-1], axis=1)
    return np.where(peak.any(axis=1), offsets[last], 0.0)


def _steady(shift: Points) -> Points:
    """Return shifts with those that jump away from their neighbours put right: a running median around the outline."""
    half = NORMAL_OVER
    around = np.concatenate([shift[-half:], shift, shift[:half]])
    windows = np.lib.stride_tricks.sliding_window_view(around, 2 * half + 1)
    return np.asarray(np.median(windows, axis=1))
