"""The card's plane in a photograph: where each place on it is seen, fitted to the fine marks.

A plane seen through a pinhole is a homography; the lens then moves what it shows towards or away from the picture's
middle by the share k1 r^2 + k2 r^4, with r the distance from the middle over the focal length. Marks in the middle of a
picture say little about k1 and k2: what is known of lenses beforehand goes into the fit as well, so that the fit never
believes more than the marks can tell, and its uncertainty has what is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.photo.lens import Lens

Floats = NDArray[np.float64]

UNIT_MM: Final = 100.0  # keeps the numbers of the fit near 1
LEAST_NOISE_PX: Final = 0.03  # of a fine mark: what is left of interpolation and of the lens's higher terms
FIRST_NOISE_PX: Final = 0.3
OUTLIER: Final = 4.0  # times the noise
STEP: Final = 1e-6  # of a derivative


@dataclass(frozen=True, eq=False)
class Plane:
    """The card's plane in a photograph.

    `numbers` are the eight of the homography, for places over UNIT_MM, and k1, k2; `spread` is their covariance.
    """

    centre_px: Floats  # (2,) x, y of the picture's middle
    focal_px: float
    numbers: Floats
    spread: Floats

    def seen_px(self, places_mm: Floats) -> Floats:
        """Return where (n, 2) places on the card are seen, (n, 2) px."""
        return _seen(self.numbers, places_mm / UNIT_MM, self)

    @property
    def homography(self) -> Floats:
        """Return the (3, 3) homography from mm to px from the middle over the focal length, without distortion."""
        return np.append(self.numbers[:8], 1.0).reshape(3, 3) @ np.diag((1 / UNIT_MM, 1 / UNIT_MM, 1.0))

    def place_mm(self, point_px: Floats) -> Floats:
        """Return the (2,) place on the card that is seen at a point, mm."""
        from scipy.optimize import least_squares  # noqa: PLC0415

        start = self._undistorted_place(point_px)
        solved = least_squares(lambda place: self.seen_px(place[None])[0] - point_px, start, x_scale=UNIT_MM)
        return np.asarray(solved.x)

    def mm_per_px(self, place_mm: Floats) -> tuple[float, float]:
        """Return the scale at a place, the geometric mean over directions, and its uncertainty from the fit alone."""
        scale = _scale_at(self.numbers, place_mm, self)
        slopes = np.array([_scale_at(self.numbers + step, place_mm, self) - scale for step in _steps(self)]) / STEP
        return scale, float(np.sqrt(slopes @ self.spread @ slopes))

    def turn_at(self, place_mm: Floats) -> float:
        """Return the angle in radians by which the card's x axis is turned in the picture near a place."""
        (along_x, along_y) = _axes_at(self.numbers, place_mm, self)
        return float(np.arctan2(along_x[1] - along_y[0], along_x[0] + along_y[1]))

    def view(self, place_mm: Floats) -> tuple[float, float, float]:
        """Return how a place is seen: the cosine of the angle, how far off the camera's axis, and from where, radians.

        The last is the direction on the card along which it is seen, from the x axis to the y axis; -x is as good as x.

        Seen aslant, what lies along the look is that much shorter than what lies across. The tilt, which is told by
        what is nearer looking larger, hangs on the focal length; this does not, but for a place off the picture's
        middle, which a lens draws out by half the square of how far off it is.
        """
        matrix = self.homography
        ray = matrix @ np.append(place_mm, 1.0)
        far = float(np.linalg.norm(ray))
        turning = matrix[:, :2] - np.outer(ray, ray @ matrix[:, :2]) / far**2
        _, (long, short), ways = np.linalg.svd(turning, full_matrices=False)
        off_axis = float(np.arccos(min(1.0, abs(float(ray[2])) / far)))
        return float(short / long), off_axis, float(np.arctan2(ways[1, 1], ways[1, 0]))

    def tilt_and_height(self, place_mm: Floats) -> tuple[float, float]:
        """Return the camera's tilt in degrees and its height over the card in mm, at the assumed focal length."""
        matrix = self.homography
        upright = np.cross(matrix[:, 0], matrix[:, 1])
        size = float(np.linalg.norm(upright))
        to_place = matrix @ np.append(place_mm, 1.0)
        tilt = float(np.degrees(np.arccos(min(1.0, abs(float(upright[2])) / size))))
        return tilt, abs(float(upright @ to_place)) / size**1.5

    def _undistorted_place(self, point_px: Floats) -> Floats:
        x, y = (point_px - self.centre_px) / self.focal_px
        place = np.linalg.solve(self.homography, (x, y, 1.0))
        return np.asarray(place[:2] / place[2])


def fit_plane(places_mm: Floats, points_px: Floats, lens: Lens) -> Plane:
    """Return the plane of (n, 2) places seen at (n, 2) points.

    Parameters
    ----------
    places_mm, points_px
        At least four, not on one line; some may be wrong.
    lens
        What is known of the lens.
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  it takes a tenth of a second; most photographs show no card

    centre = np.array(lens.centre_px)
    first = _first_numbers(places_mm, (points_px - centre) / lens.focal_px, lens)
    shell = Plane(centre, lens.focal_px, first, np.eye(first.size))

    def misfit(numbers: Floats, noise: float, used: NDArray[np.bool_]) -> Floats:
        off = (_seen(numbers, places_mm[used] / UNIT_MM, shell) - points_px[used]) / noise
        beliefs = ((numbers[8] - lens.k1) / lens.k1_err, (numbers[9] - lens.k2) / lens.k2_err)
        return np.append(off.ravel(), beliefs)

    every = np.ones(len(points_px), bool)
    # The first fit lets single points lie anywhere, the second leaves them out.
    rough = least_squares(misfit, first, args=(FIRST_NOISE_PX, every), x_scale="jac", loss="cauchy").x
    used = agreeing(Plane(centre, lens.focal_px, rough, shell.spread), places_mm, points_px)
    squares = float(np.sum(misfit(rough, 1.0, used)[:-2] ** 2))
    noise = max(LEAST_NOISE_PX, (squares / max(2 * int(used.sum()) - 8, 1)) ** 0.5)
    solved = least_squares(misfit, rough, args=(noise, used), x_scale="jac")
    spread = np.linalg.pinv(solved.jac.T @ solved.jac)
    return Plane(centre, lens.focal_px, np.asarray(solved.x), np.asarray(spread))


def agreeing(plane: Plane, places_mm: Floats, points_px: Floats) -> NDArray[np.bool_]:
    """Return which points lie where the plane has them, but for noise as most of them show it."""
    off = np.linalg.norm(plane.seen_px(places_mm) - points_px, axis=1)
    noise = max(float(np.median(off)) / 1.18, LEAST_NOISE_PX)  # the median of a Rayleigh distribution is 1.18 sigma
    return np.asarray(off < OUTLIER * noise)


def _first_numbers(places_mm: Floats, points: Floats, lens: Lens) -> Floats:
    """Return the homography that fits most points, and the lens's own distortion."""
    r2 = np.sum(points**2, axis=1, keepdims=True)
    straight = points / (1.0 + lens.k1 * r2 + lens.k2 * r2**2)
    matrix, _ = cv2.findHomography(places_mm / UNIT_MM, straight, cv2.RANSAC, 8.0 / lens.focal_px, maxIters=5000)
    assert matrix is not None  # noqa: S101 - the callers see to it that four points are not on one line
    return np.append(matrix.ravel()[:8] / matrix[2, 2], (lens.k1, lens.k2))


def _seen(numbers: Floats, places: Floats, plane: Plane) -> Floats:
    """Return where (n, 2) places over UNIT_MM are seen, px."""
    matrix = np.append(numbers[:8], 1.0).reshape(3, 3)
    lifted = places @ matrix[:, :2].T + matrix[:, 2]
    flat = lifted[:, :2] / lifted[:, 2:]
    r2 = np.sum(flat**2, axis=1, keepdims=True)
    return np.asarray(plane.centre_px + plane.focal_px * flat * (1.0 + numbers[8] * r2 + numbers[9] * r2**2))


def _axes_at(numbers: Floats, place_mm: Floats, plane: Plane) -> Floats:
    """Return the px that one mm along x and one along y take at a place, (2, 2)."""
    step = 0.01  # mm
    around = np.asarray(place_mm) + step * np.array([(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)])
    seen = _seen(numbers, around / UNIT_MM, plane)
    return np.asarray((seen[[0, 2]] - seen[[1, 3]]) / (2 * step))


def _scale_at(numbers: Floats, place_mm: Floats, plane: Plane) -> float:
    return float(abs(np.linalg.det(_axes_at(numbers, place_mm, plane))) ** -0.5)


def _steps(plane: Plane) -> Floats:
    return STEP * np.eye(plane.numbers.size)
