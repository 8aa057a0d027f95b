"""A coin, or another opaque disc of known diameter, on the light beside the casting: found, and its edge measured.

Seen from aside a disc is an ellipse. Its long axis is the diameter at the disc's own distance, whatever the tilt, and a
void, being round, keeps its diameter too: so the long axis gives the scale.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates

from bubblegrade.errors import PhotoError
from bubblegrade.photo.light import Light

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

COARSE_SIDE_PX: Final = 400  # discs are looked for in a picture of about this size
OPAQUE: Final = 0.15  # of the bare light: more comes through resin, less through a coin, flare included
LIT_AROUND: Final = 0.5  # of the bare light: what a disc is surrounded by
LEAST_ACROSS: Final = 14.0  # coarse px: a smaller disc gives no scale to 0.5 %
ROUND: Final = 0.93  # area over that of the ellipse through its bounding axes: less is no disc
MOST_TILT: Final = math.radians(25.0)  # as for the scale card
SOLID: Final = (
    0.75  # of its area that is opaque: less is a void, dark around a bright middle; a coin may gleam a little
)
RIVAL: Final = 0.6  # of the largest disc's diameter: a second one this large leaves it open which is meant
RAYS: Final = 360
REACH: Final = 0.25  # of the radius to both sides of the coarse edge in which the edge is looked for
INDEPENDENT: Final = 36  # rays whose errors are independent of each other: neighbours share the coin's dents
MOST_ROUGH: Final = 0.04  # of the radius: how far the edge leaves its ellipse; of a 50p 2 %, of a hexagon 5
EDGE_ERR_PX: Final = 0.3  # of a whole edge, from the camera's own sharpening and from flare


@dataclass(frozen=True, eq=False)
class Disc:
    """An opaque disc in a photograph: an ellipse, px."""

    x_px: float
    y_px: float
    long_px: float  # its axes, whole lengths
    short_px: float
    turn_rad: float  # of the long axis against x, towards y
    long_err_px: float  # one standard uncertainty

    @property
    def ends_px(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Both ends of the long axis, x and y each."""
        dx, dy = self.long_px / 2 * math.cos(self.turn_rad), self.long_px / 2 * math.sin(self.turn_rad)
        return (self.x_px - dx, self.y_px - dy), (self.x_px + dx, self.y_px + dy)

    @property
    def tilt_rad(self) -> float:
        """Angle of the view against the disc's upright."""
        return math.acos(min(self.short_px / self.long_px, 1.0))

    def region(self, shape_px: tuple[int, int], *, margin: float) -> Mask:
        """Return the pixels within the ellipse grown by the factor `margin`, (rows, cols)."""
        drawn = np.zeros(shape_px, np.uint8)
        box = ((self.x_px, self.y_px), (margin * self.long_px, margin * self.short_px), math.degrees(self.turn_rad))
        cv2.ellipse(drawn, box, 1, -1)
        return drawn.astype(bool)


def find_disc(light: Light, *, name: str = "the photograph") -> Disc:
    """Return the opaque disc on the light.

    Parameters
    ----------
    light
        Linear light, (rows, cols).
    name
        Of the photograph, for errors.

    Raises
    ------
    PhotoError
        There is none, there are two, or it is seen from too far aside.
    """
    found = _candidates(light)
    if not found:
        raise PhotoError(
            f"{name}: no coin or disc on the bare light is in view: lay it flat beside the casting, whole in the "
            "frame, or give the scale with --span"
        )
    first, *others = sorted(found, key=lambda disc: -disc[2])
    if others and others[0][2] > RIVAL * first[2]:
        raise PhotoError(f"{name}: {len(found)} discs are in view: leave only the one that is measured")
    disc = _measured(light, *first)
    if disc is None:
        raise PhotoError(
            f"{name}: the edge of what looks like a disc is not clear and round: lay a coin on the bare light, apart "
            "from the casting, with no printed card in view"
        )
    if disc.tilt_rad > MOST_TILT:
        raise PhotoError(
            f"{name}: the disc is seen from {math.degrees(disc.tilt_rad):.0f} degrees aside: photograph from straight "
            f"above, {math.degrees(MOST_TILT):.0f} degrees at most"
        )
    return disc


def _candidates(light: Light) -> list[tuple[float, float, float]]:
    """Return x, y and diameter, px, of the round opaque bodies that bare light surrounds."""
    step = max(1, math.ceil(max(light.shape) / COARSE_SIDE_PX))
    rows, cols = light.shape[0] // step, light.shape[1] // step
    small = cv2.resize(light[: rows * step, : cols * step], (cols, rows), interpolation=cv2.INTER_AREA)
    coarse = np.asarray(small, np.float32)
    bare = float(np.percentile(coarse, 90))
    count, labels, stats, middles = cv2.connectedComponentsWithStats((coarse < OPAQUE * bare).astype(np.uint8))
    found = []
    for number in range(1, count):
        left, top, wide, high = (int(value) for value in stats[number, :4])
        inside = left > 0 and top > 0 and left + wide < cols and top + high < rows
        if not inside or min(wide, high) < LEAST_ACROSS:
            continue
        body = (labels[top : top + high, left : left + wide] == number).astype(np.uint8)
        lines, _ = cv2.findContours(body, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        line = max(lines, key=len)
        _, axes, _ = cv2.fitEllipse(line)
        filled = cv2.contourArea(line) + len(line) / 2 + 1  # of the pixels, not of the line through their centres
        ellipse = math.pi / 4 * (axes[0] + 1) * (axes[1] + 1)
        if body.sum() < SOLID * filled:
            continue
        if not (ROUND < filled / ellipse < 1 / ROUND and _lit_around(coarse, labels == number, bare)):
            continue
        x, y = ((middle + 0.5) * step - 0.5 for middle in middles[number])
        found.append((x, y, (max(axes) + 1) * step))
    return found


def _lit_around(coarse: Light, body: Mask, bare: float) -> bool:
    """Say whether bare light surrounds a body on all sides."""
    grown = cv2.dilate(body.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool)
    ring = grown & ~cv2.dilate(body.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    return bool((coarse[ring] > LIT_AROUND * bare).mean() > 0.95)  # noqa: PLR2004 - a casting may touch it at a spot


def _measured(light: Light, x: float, y: float, across: float) -> Disc | None:
    """Return the ellipse through the edge, each point halfway between dark and bright along a ray.

    None where the edge is unclear or not round.
    """
    angle = np.linspace(0.0, 2 * np.pi, RAYS, endpoint=False)
    radius = across / 2 * np.linspace(1 - REACH, 1 + REACH, max(41, round(2 * REACH * across)))
    at = np.stack([y + radius * np.sin(angle[:, None]), x + radius * np.cos(angle[:, None])])
    profiles = map_coordinates(light, at, order=1, mode="nearest")
    tenth = max(2, len(radius) // 10)
    dark, bright = np.median(profiles[:, :tenth], axis=1), np.median(profiles[:, -tenth:], axis=1)
    crossed = profiles > (dark + bright)[:, None] / 2
    # From outside in: the last place that is still bright is the edge, whatever gleams on the coin.
    outer = radius.size - np.argmax(~crossed[:, ::-1], axis=1)
    usable = crossed[:, -1] & ~crossed[:, 0] & (bright > 2.0 * dark)
    if usable.mean() < 2 / 3:
        return None
    rows = np.flatnonzero(usable)
    last = np.clip(outer[rows], 1, radius.size - 1)
    low, high = profiles[rows, last - 1], profiles[rows, last]
    part = ((dark + bright)[rows] / 2 - low) / np.maximum(high - low, 1e-9)
    edge = radius[last - 1] + np.clip(part, 0.0, 1.0) * (radius[1] - radius[0])
    return _ellipse(x + edge * np.cos(angle[rows]), y + edge * np.sin(angle[rows]), (x, y, across / 2))


def _ellipse(x: Floats, y: Floats, start: tuple[float, float, float]) -> Disc | None:
    """Return the ellipse nearest to the points, stray ones hardly counting; None where they are no ellipse.

    A point's distance is measured along the line to the middle, which for the flattest ellipse allowed is within half a
    percent of the distance across.
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  it takes a tenth of a second; most photographs show no disc

    def off(numbers: Floats) -> Floats:
        x0, y0, long, short, turn = numbers
        along = (x - x0) * np.cos(turn) + (y - y0) * np.sin(turn)
        across = (y - y0) * np.cos(turn) - (x - x0) * np.sin(turn)
        share = np.hypot(along / long, across / short)
        return np.asarray((share - 1.0) * np.hypot(along, across) / np.maximum(share, 1e-9))

    spread = np.linalg.eigh(np.cov(np.stack([x, y])))
    turn = math.atan2(spread.eigenvectors[1, 1], spread.eigenvectors[0, 1])
    begin = [start[0], start[1], start[2], start[2], turn]
    solved = least_squares(off, begin, loss="soft_l1", f_scale=1.0)
    x0, y0, one, other, turn = solved.x
    if other > one:
        one, other, turn = other, one, turn + math.pi / 2
    spread_px = 1.4826 * float(np.median(np.abs(off(solved.x))))
    if spread_px > MOST_ROUGH * one:
        return None
    fit_err = (
        2.0 * spread_px / math.sqrt(INDEPENDENT) * math.sqrt(2.0)
    )  # of a diameter: twice a radius, two of five numbers
    return Disc(x0, y0, 2 * one, 2 * other, math.remainder(turn, math.pi), math.hypot(fit_err, EDGE_ERR_PX))
