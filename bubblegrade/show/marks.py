"""Marks on a photograph: thin outlines beside what they mark, never over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.show.size_classes import Colour, Style

Picture = NDArray[np.uint8]  # (rows, cols, 3) blue, green, red
Points = NDArray[np.float64]  # (N, 2) x, y in px

SIDE_PER_LINE_PX: Final = 2400  # of the photograph's longer side for each px of line width
BITS: Final = 4  # of a pixel's fraction that marks are placed to
LEAST_RADIUS_PX: Final = 4.0  # of a mark, in line widths
UNSURE: Final[Colour] = (150, 90, 0)
SET_ASIDE: Final[Colour] = (150, 90, 0)
LARGEST_SQUARE: Final = 24.0  # half its side in line widths; a larger body is seen without one around it
DARK, PALE = (25, 25, 25), (250, 250, 250)
SMOOTHED_OVER: Final = 7  # points of an outline, to take the stairs of the coarse picture off
BREAKS: Final = 4  # of an unsure find's circle


def line_px(side_px: int) -> int:
    """Return the width of a line that suits a photograph with the longer side `side_px`."""
    return max(1, round(side_px / SIDE_PER_LINE_PX))


@dataclass(frozen=True)
class Pen:
    """A picture to draw on and the width of a thin line."""

    picture: Picture
    line_px: int

    def void(self, x: float, y: float, diameter: float, style: Style) -> None:
        """Draw a void's outline, just outside of it."""
        width = self.line_px * (2 if style.heavy else 1)
        radius = max(diameter / 2 + self.line_px + width, LEAST_RADIUS_PX * self.line_px)
        self._circle(x, y, radius, style.colour, width)
        if style.double:
            radius += 2.5 * self.line_px
            self._circle(x, y, radius, style.colour, width)
        if style.ticks:
            for across, along in ((1, 0), (0, 1), (-1, 0), (0, -1)):
                ends = np.array([[radius + width, radius + width + 5.0 * self.line_px]]).T * [across, along] + [x, y]
                self.line(ends, style.colour, 2 * self.line_px)

    def unsure(self, x: float, y: float, diameter: float) -> None:
        """Draw a broken circle."""
        radius = max(diameter / 2 + 2 * self.line_px, LEAST_RADIUS_PX * self.line_px)
        gap = 360 / BREAKS
        for start in np.arange(0.0, 360.0, gap):
            cv2.ellipse(
                self.picture, _fixed(x, y), _fixed(radius, radius), 0.0, start + gap / 4, start + gap,
                _bgr(UNSURE), self.line_px, cv2.LINE_AA, BITS,
            )  # fmt: skip

    def set_aside(self, x: float, y: float, diameter: float) -> None:
        """Draw a small dotted square."""
        half = max(diameter / 2 + 2 * self.line_px, LEAST_RADIUS_PX * self.line_px)
        half = min(half, LARGEST_SQUARE * self.line_px)
        across = max(2, round(2 * half / (4 * self.line_px)))
        steps = np.linspace(-half, half, across + 1)
        ends = np.full_like(steps, half)
        sides = [(steps, -ends), (ends, steps), (-steps, ends), (-ends, -steps)]
        for dx, dy in (np.stack(side, axis=1)[:-1].T for side in sides):
            for px, py in zip(x + dx, y + dy, strict=True):
                cv2.circle(
                    self.picture, _fixed(px, py), _fixed(0.7 * self.line_px, 0)[0], _bgr(SET_ASIDE), -1,
                    cv2.LINE_AA, BITS,
                )  # fmt: skip

    def border(self, points: Points) -> None:
        """Draw a closed dashed line, dark and pale in turn so that it shows on any ground."""
        if len(points) < SMOOTHED_OVER:
            return
        smooth = _smoothed(points)
        for dash, colour in _dashes(np.concatenate([smooth, smooth[:1]]), 6.0 * self.line_px):
            self.line(dash, colour, self.line_px)

    def span(self, one: Points, other: Points) -> None:
        """Draw the two ends of a measured span: a stop across each and a short shaft, the middle left free."""
        along = (other - one) / max(float(np.hypot(*(other - one))), 1.0)
        across = np.array([-along[1], along[0]])
        stop, shaft = 14.0 * self.line_px, 40.0 * self.line_px
        for end, inward in ((one, along), (other, -along)):
            for points in ([end - stop * across, end + stop * across], [end, end + shaft * inward]):
                self.line(np.array(points), PALE, 4 * self.line_px)
                self.line(np.array(points), DARK, 2 * self.line_px)

    def line(self, points: Points, colour: Colour, width: int) -> None:
        """Draw a line through (N, 2) points."""
        fixed = np.round(points * (1 << BITS)).astype(np.int32)
        cv2.polylines(self.picture, [fixed], isClosed=False, color=_bgr(colour), thickness=width, lineType=cv2.LINE_AA,
                      shift=BITS)  # fmt: skip

    def _circle(self, x: float, y: float, radius: float, colour: Colour, width: int) -> None:
        cv2.circle(self.picture, _fixed(x, y), _fixed(radius, 0)[0], _bgr(colour), width, cv2.LINE_AA, BITS)


def _fixed(x: float, y: float) -> tuple[int, int]:
    """Return a place with its fraction in BITS bits."""
    return round(x * (1 << BITS)), round(y * (1 << BITS))


def _bgr(colour: Colour) -> Colour:
    return colour[::-1]


def _smoothed(points: Points) -> Points:
    """Return a closed line as its running mean."""
    half = SMOOTHED_OVER // 2
    around = np.concatenate([points[-half:], points, points[:half]])
    return np.asarray(np.lib.stride_tricks.sliding_window_view(around, SMOOTHED_OVER, axis=0).mean(axis=-1))


def _dashes(points: Points, dash_px: float) -> list[tuple[Points, Any]]:
    """Return a line cut into dashes of equal length, each with its colour."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    run = np.concatenate([[0.0], np.cumsum(steps)])
    count = max(2, 2 * round(run[-1] / dash_px / 2))
    places = np.linspace(0.0, run[-1], 3 * count + 1)
    x, y = (np.interp(places, run, column) for column in points.T)
    line = np.stack([x, y], axis=1)
    return [(line[3 * i : 3 * i + 4], DARK if i % 2 else PALE) for i in range(count)]
