"""Sharpness in the casting: how wide its edges are, motion, and a second exposure."""

from __future__ import annotations

import math
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from bubblegrade.casting.outline import Mask
from bubblegrade.fitness.check import Limit, Measured, Place, Test
from bubblegrade.fitness.places import box
from bubblegrade.fitness.smear import LENGTHS, smear_of
from bubblegrade.fitness.view import View
from bubblegrade.photo.light import Light
from bubblegrade.quantiles import median

LEAST_SHIFT_PX, MOST_SHIFT_PX = 4, 48  # of a second picture
CORED, SATURATED = 4.0, 12.0  # of the noise: smaller detail counts for nothing, larger no more than this
LEAST_DETAIL: Final = 300  # px of it that tell
AROUND_PX: Final = 4  # of a peak: what is as high there belongs to a ridge
MAD: Final = 1.4826  # standard deviation over median absolute deviation
DARKEST: Final = 1e-3  # light that clear resin is taken to pass at least
FADE_PX, FADE_OVER_PX = 17, 5.0  # along the border of what is judged
TILES: Final = 10  # each way, over which a likeness must be spread
NOTED: Final = 0.004  # of all detail that a tile must have to count
ALIKE: Final = 0.12  # of a tile's detail that is found again, shifted
LEAST_PLACES: Final = 6  # tiles alike: of voids of one size by chance up to 4 are, of a second exposure 13 and more
MOVED_PX: Final = (4.5, 14.0)  # motion, and
COUNTABLE_PX: Final = (6.0, 20.0)  # the diameters from which on 90 % of the voids are found in such photographs
BLURRED_PX: Final = (3.5, 5.0)  # edge width as measured, which blur of 2.5 and 4 px makes (standard deviation), and
COUNTABLE_BLURRED_PX: Final = (
    6.0,
    9.0,
)  # the diameters from which on sizes hold there: below, they read 10 to 30 % large
TOO_LITTLE: Final = "too little detail is seen in the casting"


def edge_width(view: View) -> Measured:
    """Measure the 10 to 90 % width of the sharper edges in the casting."""
    edges = view.edges
    width = edges.width_px
    if math.isnan(width):
        return Measured(width, TOO_LITTLE)
    corners = (float(edges.x_px.min()), float(edges.y_px.min()), float(edges.x_px.max()), float(edges.y_px.max()))
    return Measured(width, f"edges in the casting are {width:.1f} px wide or more", box(*corners))


def motion(view: View) -> Measured:
    """Measure the length over which the casting moved during the exposure."""
    if not view.outline.judged.any():
        return Measured(math.nan, TOO_LITTLE)
    light, inside = _window(view)
    fade = cv2.erode(inside.astype(np.uint8), np.ones((FADE_PX, FADE_PX)), borderValue=0).astype(np.float32)
    clear = max(median(light[inside][::5]) if inside.any() else 0.0, DARKEST)
    smear = smear_of((light / clear - 1.0) * cv2.GaussianBlur(fade, (0, 0), FADE_OVER_PX))
    if math.isnan(smear.direction):
        return Measured(math.nan, TOO_LITTLE)
    if math.isnan(smear.length_px):
        return Measured(math.nan, "what is seen in the casting lies along one direction, as motion would draw it")
    top, left, side = view.window
    half = side / 4 * np.array([math.cos(smear.direction), math.sin(smear.direction)])
    middle = np.array([left + side / 2, top + side / 2])
    more = "" if smear.notched and smear.length_px < LENGTHS[-1] else " or more"
    said = f"the casting moved by about {smear.length_px:.0f} px{more} during the exposure"
    return Measured(smear.length_px, said, Place("line", (np.stack([middle - half, middle + half]),)))


def countable_in_motion_px(motion_px: float) -> float:
    """Return the diameter in px from which on 90 % of the voids are found in a photograph with this motion.

    0 where motion, or what it cannot be told by, leaves that to contrast, noise and blur.

    >>> round(countable_in_motion_px(9.0), 1), countable_in_motion_px(3.0), countable_in_motion_px(math.nan)
    (10.6, 0.0, 0.0)
    """
    if not motion_px > MOVED_PX[0]:
        return 0.0
    return float(np.exp(np.interp(motion_px, MOVED_PX, np.log(COUNTABLE_PX))))


def countable_in_blur_px(edge_width_px: float) -> float:
    """Return the diameter in px from which on voids are found, and of the size they have, where edges are so wide.

    0 where edges are sharper, or cannot be told. Beyond that blur the photograph is unfit, and the limit stays.

    >>> countable_in_blur_px(5.5), countable_in_blur_px(3.0), countable_in_blur_px(math.nan)
    (9.0, 0.0, 0.0)
    """
    if not edge_width_px > BLURRED_PX[0]:
        return 0.0
    return float(round(np.exp(np.interp(edge_width_px, BLURRED_PX, np.log(COUNTABLE_BLURRED_PX))), 6))


def second_exposure(view: View) -> Measured:
    """Measure the share of the light that a second, shifted picture of the casting has."""
    if not view.outline.judged.any():
        return Measured(math.nan, TOO_LITTLE)
    peak, (x, y) = twin_peak(*_window(view))
    if math.isnan(peak):
        return Measured(peak, TOO_LITTLE)
    # Two pictures whose strengths stand as 1 to q have a side peak of q / (1 + q^2) of the middle one.
    ratio = 2.0 * peak / (1.0 + math.sqrt(max(1.0 - 4.0 * peak**2, 0.0)))
    top, left, side = view.window
    where = box(left, top, left + side - 1, top + side - 1)
    return Measured(ratio / (1.0 + ratio), f"everything is seen twice, {math.hypot(x, y):.0f} px apart", where)


def twin_peak(light: Light, inside: Mask) -> tuple[float, tuple[int, int]]:
    """Return the strongest side peak of a square picture's autocorrelation over its middle, and its shift, x and y.

    Fine detail `inside` alone counts, and a peak only where it stands out over all around it: the ridges of straight
    edges and the rings of round voids do not.
    """
    fine = cv2.GaussianBlur(light, (0, 0), 1.0) - cv2.GaussianBlur(light, (0, 0), 2.0)
    noise = MAD * median(np.abs(fine[inside][::5])) if inside.any() else 0.0
    size = np.clip(np.abs(fine) - CORED * noise, 0.0, SATURATED * noise)
    fine = np.asarray(np.where(inside, np.sign(fine) * size, 0.0), np.float32)
    if np.count_nonzero(fine) < LEAST_DETAIL:
        return math.nan, (0, 0)
    length = fft.next_fast_len(len(fine) + MOST_SHIFT_PX, real=True)
    correlation = fft.irfft2(np.abs(fft.rfft2(fine, (length, length))) ** 2, (length, length))
    reach = MOST_SHIFT_PX + AROUND_PX
    near = np.roll(correlation, (reach, reach), (0, 1))[: 2 * reach + 1, : 2 * reach + 1] / correlation[0, 0]
    hollow = np.ones((2 * AROUND_PX + 1,) * 2, np.uint8)
    hollow[1:-1, 1:-1] = 0
    over = near - np.maximum(cv2.dilate(near, hollow), 0.0)
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    away = np.hypot(x, y)
    over[(away < LEAST_SHIFT_PX) | (away > MOST_SHIFT_PX)] = 0.0
    at = np.unravel_index(int(np.argmax(over)), over.shape)
    shift = (int(x[at]), int(y[at]))
    detailed, alike = _places(fine, shift)
    if detailed < LEAST_PLACES:
        return math.nan, (0, 0)
    return (float(over[at]), shift) if alike >= LEAST_PLACES else (0.0, (0, 0))


def _places(fine: Light, shift: tuple[int, int]) -> tuple[int, int]:
    """Return how many places of the picture have detail, and at how many of them it is like itself shifted.

    A second exposure shows at every detail. A void's own rings, or three voids of one size, are alike at few places.
    """
    x, y = shift
    alike = _by_tile(fine * np.roll(fine, (-y, -x), (0, 1)))
    detail = _by_tile(fine * fine)
    noted = detail > NOTED * detail.sum()
    return int(noted.sum()), int((noted & (alike > ALIKE * detail)).sum())


def _by_tile(values: Light) -> NDArray[np.float64]:
    """Return the sum over each tile of a square picture, (TILES, TILES)."""
    side = len(values) // TILES
    square = values[: side * TILES, : side * TILES].reshape(TILES, side, TILES, side)
    return np.asarray(square.sum(axis=(1, 3), dtype=np.float64))


def _window(view: View) -> tuple[Light, Mask]:
    """Return the light in the window, and what of it is judged and well inside."""
    top, left, side = view.window
    box = np.s_[top : top + side, left : left + side]
    return view.light[box], view.outline.full(view.outline.well_inside, box)


TESTS: Final = (
    Test(
        "edge_width", "width of edges, 10 to 90 %", "px", Limit(3.5, 5.0),
        "voids under 9 px come out up to 8 % too large and the smallest are not found",
        "focus on the casting's middle and close the aperture", edge_width,
    ),
    Test(
        "motion", "motion during the exposure", "px", Limit(5.5, 12.0),
        "voids come out longer along it and the smallest are not found",
        "put the camera on a stand and use its timer", motion,
    ),
    Test(
        "second_exposure", "light of a second, shifted picture", "share", Limit(0.15, 0.15),
        "every void is counted twice or taken for another kind",
        "put the camera on a stand and switch its stacking and wide-range modes off", second_exposure,
    ),
)  # fmt: skip
