"""The casting's edge, found to a fraction of a pixel, and its widest span."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

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
DRAWN_IN: Final = 3.0  # times as much as evening once more takes off an end was taken off it (slabs 3.5, lures 2.3)
LEAST_POINTS: Final = 60  # of an outline to which an ellipse is fitted
FITS: Final = 6  # of the ellipse, each without the points that strayed from the one before
STRAY: Final = 3.0  # median distances from the ellipse: what lies farther off strays,
STRAY_PX: Final = 0.3  # and nothing nearer than this does
OVAL: Final = 0.001  # of the long axis: median distance from its ellipse; round castings have up to 0.0006, lures 0.002
LONGER: Final = 1.005  # than the farthest points lie apart no casting is: the ellipse fits its two long sides alone
FOLLOWED: Final = 0.7  # of an outline's points that the ellipse must keep to be its own
OUTERMOST: Final = 0.5  # of the steepest change along the normal: the outermost that is this steep is the edge


@dataclass(frozen=True, eq=False)
class Oval:
    """An ellipse."""

    middle: Points  # (2,) x, y
    along: Points  # (2,) unit vector along its long axis
    long: float  # its axes
    short: float

    @property
    def ends(self) -> tuple[Points, Points]:
        """The ends of the long axis, (2,) x, y each."""
        reach = self.long / 2.0 * self.along
        return self.middle - reach, self.middle + reach


def traced(mask: Mask, step_px: int) -> Points:
    """Return the longest border of a coarse mask as (N, 2) x, y in px of the photograph."""
    found, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    longest = max(found, key=len)[:, 0, :].astype(np.float64)
    return np.asarray((longest + 0.5) * step_px - 0.5)


def covered(points: Points, step_px: int, shape: tuple[int, int]) -> Mask:
    """Return the coarse mask, of `shape`, of what a closed line of (N, 2) x, y in px runs through and what lies within.

    That of a line through the middles of a mask's outermost pixels is the mask again.
    """
    drawn = np.zeros(shape, np.uint8)
    corners = np.rint(((points + 0.5) / step_px - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(drawn, [corners], 1, shift=4)
    return drawn.astype(bool)


def within(points: Points, step_px: int, shape: tuple[int, int]) -> Mask:
    """Return the coarse mask, of `shape`, whose pixels' middles lie within a closed line of (N, 2) x, y in px.

    It has the line's area; that of `covered` is larger by half a coarse pixel all around.

    >>> within(np.array([[0.5, 0.5], [2.5, 0.5], [2.5, 2.5], [0.5, 2.5]]), 1, (4, 4)).astype(int).tolist()
    [[0, 0, 0, 0], [0, 1, 1, 0], [0, 1, 1, 0], [0, 0, 0, 0]]
    """
    rows, cols = shape
    corners = (points + 0.5) / step_px - 0.5
    (x, y), (to_x, to_y) = corners.T, np.roll(corners, -1, axis=0).T
    first, last = (np.clip(np.ceil(end), 0, rows).astype(np.intp) for end in (np.minimum(y, to_y), np.maximum(y, to_y)))
    part = np.repeat(np.arange(len(corners)), last - first)
    row = np.arange(len(part)) - np.repeat(np.cumsum(last - first) - last, last - first)
    crossed = x[part] + (row - y[part]) * (to_x - x)[part] / (to_y - y)[part]
    crossings = np.zeros((rows, cols + 1), np.intp)
    np.add.at(crossings, (row, np.clip(np.ceil(crossed), 0, cols).astype(np.intp)), 1)
    return np.asarray(np.cumsum(crossings, axis=1)[:, :cols] % 2 == 1)


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
    normal = outward(points, NORMAL_OVER)
    reach = REACH_STEPS * step_px
    offsets = np.arange(-reach, reach + 0.25, 0.5)
    at = points[:, None, :] + offsets[None, :, None] * normal[:, None, :]
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
    moved = points + shift[:, None] * normal
    return _evened(moved)


def put_out(points: Points, end: Points, way: Points) -> float:
    """Return by how much evening drew in an `end`, (2,), of an outline of (N, 2) x, y, along a unit vector `way`, px.

    Off a right-angled corner it takes more than a pixel of the coarse picture. The end of an ellipse is none of the
    points: it was fitted and is not drawn in.
    """
    at = np.flatnonzero((points == end).all(axis=1))[:1]
    return max(DRAWN_IN * float(((points[at] - _evened(points)[at]) @ way).sum()), 0.0)


def followed(light: Image, step_px: int, field: Mask, enclosed: Mask | None) -> tuple[Points, Mask]:
    """Return the edge of what is enclosed in px of the photograph, and the coarse mask that it covers, or nothing.

    Parameters
    ----------
    light
        Linear light, (rows, cols).
    step_px
        Side of a coarse pixel.
    field
        (rows, cols) of the coarse picture: its lit part.
    enclosed
        What a coarse outline encloses, same shape.
    """
    if enclosed is None or not enclosed.any():
        return np.empty((0, 2)), np.zeros_like(field)
    edge = refined(light, traced(enclosed, step_px), step_px)
    return edge, covered(edge, step_px, enclosed.shape) & field


def outward(points: Points, over: int) -> Points:
    """Return the outward unit normals of a closed line of (N, 2) x, y, averaged over points to both sides."""
    along = np.roll(points, -over, axis=0) - np.roll(points, over, axis=0)
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1) / length[:, None]
    return -normal if _signed_area(points) < 0 else normal


def across_and_along(edge_px: NDArray[np.floating[Any]]) -> tuple[float, float]:
    """Return the sides of the smallest rectangle around an outline, (N, 2) x, y: the shorter first.

    >>> across_and_along(np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 7.0], [0.0, 7.0]]))
    (3.0, 7.0)
    """
    _, sides, _ = cv2.minAreaRect(edge_px.astype(np.float32))
    across, along = sorted(float(side) for side in sides)
    return across, along


def widest_span(points: Points) -> tuple[Points, Points, float]:
    """Return the two (2,) points of an outline that lie farthest apart, and their distance in px.

    Those of a round or oval casting are the ends of the ellipse fitted to it: the points that lie farthest apart are
    those that noise, a fibre or a ripple of the light has pushed outwards. A corner is what it is:

    >>> widest_span(np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]]))[2]
    5.0
    """
    try:
        hull = points[ConvexHull(points).vertices]
    except QhullError:
        hull = points
    apart = squareform(pdist(hull))
    i, j = np.unravel_index(int(np.argmax(apart)), apart.shape)
    found, farthest = oval(points), float(apart[i, j])
    if found is None or found.long > LONGER * farthest:
        return hull[i], hull[j], farthest
    return *found.ends, found.long


def oval(points: Points) -> Oval | None:
    """Return the ellipse that most of an outline, (N, 2) x, y, follows closely; None for another outline."""
    if len(points) < LEAST_POINTS:
        return None
    kept = np.ones(len(points), bool)
    for _ in range(FITS):
        middle, axes, turn = cv2.fitEllipseDirect(points[kept].astype(np.float32))
        if not np.isfinite([*middle, *axes]).all() or min(axes) <= 0.0:
            return None
        across = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))])
        away = points - np.array(middle)
        share = np.hypot(away @ across * 2.0 / axes[0], away @ [-across[1], across[0]] * 2.0 / axes[1])
        off = np.abs(1.0 - 1.0 / np.maximum(share, 1e-9)) * np.hypot(away[:, 0], away[:, 1])
        usual = float(np.median(off))
        kept = off <= max(STRAY * usual, STRAY_PX)
    if usual > OVAL * max(axes) or kept.mean() < FOLLOWED:
        return None
    along = across if axes[0] >= axes[1] else np.array([-across[1], across[0]])
    return Oval(np.array(middle), along, max(axes), min(axes))


def _evened(points: Points) -> Points:
    """Return a closed line of (N, 2) x, y, each point averaged with its neighbours."""
    return np.asarray(gaussian_filter1d(points, max(2.0, EVENED * len(points)), axis=0, mode="wrap"))


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
