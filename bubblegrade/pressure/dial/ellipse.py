"""Where a photograph shows a round dial: the ellipse that one of its rings makes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
Floats = NDArray[np.floating[Any]]

WORK_PX: Final = 480.0  # longer side of the picture that is searched
LEAST_SHARE: Final = 0.12  # of the picture's shorter side that a dial's radius has to have
FLATTEST: Final = 0.8  # of the axes' ratio: cos of 37 degrees, past which a needle hides behind its own height
FEWEST_CORNERS: Final = 12  # of the hull of a round outline
POINTS: Final = 240  # of an ellipse that are looked at
SEARCHED_PX: Final = 2.0  # to each side of it for its edge
SUPPORTED: Final = 0.75  # of the points that need an edge across
EDGE: Final = 0.35  # of the mean edge of an ellipse's best points, from which a point has one
FAINTEST: Final = 4.0  # grey values a px, of the best points of a dial's edge


@dataclass(frozen=True)
class Ellipse:
    """An ellipse in px of its photograph, the larger half axis first."""

    x: float
    y: float
    half_long: float
    half_short: float
    turned_rad: float  # of the longer axis from x towards y

    def points(self, count: int) -> tuple[Floats, Floats]:
        """Return points on it and their outward normals, each of shape (count, 2), x and y."""
        t = np.linspace(0.0, 2.0 * math.pi, count, endpoint=False)
        cos, sin = math.cos(self.turned_rad), math.sin(self.turned_rad)
        turn = np.array([[cos, sin], [-sin, cos]])
        places = np.stack([self.half_long * np.cos(t), self.half_short * np.sin(t)], axis=1) @ turn
        normals = np.stack([np.cos(t) / self.half_long, np.sin(t) / self.half_short], axis=1) @ turn
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        return places + np.array([self.x, self.y]), normals


def find_ellipse(grey: Grey) -> Ellipse | None:
    """Return the best supported large ellipse in a photograph of shape (rows, cols); None where there is none."""
    small = min(WORK_PX / max(grey.shape), 1.0)
    work = cv2.resize(grey, None, fx=small, fy=small, interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(work, (0, 0), 1.2)
    dx, dy = (cv2.Sobel(soft, cv2.CV_32F, *order, ksize=3) / 8.0 for order in ((1, 0), (0, 1)))
    best, most = None, 0.0
    for ellipse in _candidates(np.asarray(soft, np.uint8)):
        score = _support(ellipse, np.asarray(dx), np.asarray(dy))
        if score > most:
            best, most = ellipse, score
    if best is None:
        return None
    shift = (1.0 / small - 1.0) / 2.0  # centres of px, not their corners, are the coordinates
    return Ellipse(
        best.x / small + shift, best.y / small + shift, best.half_long / small, best.half_short / small, best.turned_rad
    )


def _candidates(soft: Grey) -> Iterator[Ellipse]:
    """Yield the ellipses through the outlines of light and dark regions and of edges."""
    pictures = [cv2.threshold(soft, float(level), 255.0, cv2.THRESH_BINARY)[1] for level in range(20, 250, 12)]
    pictures += [
        cv2.dilate(cv2.Canny(soft, 0.5 * high, high), np.ones((3, 3), np.uint8)) for high in (30.0, 60.0, 120.0)
    ]
    least = LEAST_SHARE * min(soft.shape)
    for picture in pictures:
        outlines, _ = cv2.findContours(picture, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        for outline in outlines:
            hull = cv2.convexHull(outline)
            if len(outline) < 4.0 * least or len(hull) < FEWEST_CORNERS:
                continue
            (x, y), (wide, high), deg = cv2.fitEllipse(hull)
            short, long = sorted((wide / 2.0, high / 2.0))
            if short < least or short < FLATTEST * long or long > 0.75 * max(soft.shape):
                continue
            yield Ellipse(x, y, long, short, math.radians(deg if wide > high else deg + 90.0))


def _support(ellipse: Ellipse, dx: Floats, dy: Floats) -> float:
    """Return how well edges lie across an ellipse, from its share of points with one; 0 where too few have."""
    places, normals = ellipse.points(POINTS)
    steps = np.arange(-SEARCHED_PX, SEARCHED_PX + 1.0)
    at = places[:, np.newaxis] + steps[:, np.newaxis] * normals[:, np.newaxis]
    x, y = (at[..., axis].astype(np.float32) for axis in (0, 1))
    slope = sum(
        cv2.remap(part.astype(np.float32), x, y, cv2.INTER_LINEAR, borderValue=0.0) * normals[:, [axis]]
        for axis, part in enumerate((dx, dy))
    )
    edge = np.abs(np.asarray(slope)).max(axis=1)
    strong = float(np.mean(np.sort(edge)[POINTS // 2 :]))
    share = float(np.mean(edge > EDGE * strong))
    if strong < FAINTEST or share < SUPPORTED:
        return 0.0
    return share * math.sqrt(min(strong, 10.0 * FAINTEST)) * math.sqrt(ellipse.half_long)
