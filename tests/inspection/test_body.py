"""The body of a piece, known exactly: an ellipse or a drop with a loop of wire or without, 100 px across at size 1."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.inspection.body import body_of
from bubblegrade.inspection.frame import lie_of

LONG, WIDE = 150.0, 50.0  # half axes
NOTHING = np.empty((0, 2))


def ellipse() -> np.ndarray:
    turn = np.linspace(0.0, 2 * math.pi, 400, endpoint=False)
    return np.stack([LONG * np.cos(turn), WIDE * np.sin(turn)], axis=1)


def joined(body: np.ndarray, *parts: np.ndarray) -> np.ndarray:
    """Return the outline of a body and what touches it, as a photograph shows it: corners rounded by 2 px."""
    area = np.zeros((500, 500), np.uint8)
    for part in (body, *parts):
        cv2.fillPoly(area, [np.round((part + 250.0) * 256).astype(np.int32)], 255, cv2.LINE_AA, 8)
    soft = cv2.GaussianBlur(area, (0, 0), 2.0) > 127
    (line,), _ = cv2.findContours(soft.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    line = line[:, 0, :] - 250.0
    kernel = np.hanning(7)[1:-1] / np.hanning(7).sum()
    around = np.concatenate([line[-2:], line, line[:2]])
    return np.stack([np.convolve(column, kernel, "valid") for column in around.T], axis=1)


def disc(x: float, y: float, diameter: float) -> np.ndarray:
    turn = np.linspace(0.0, 2 * math.pi, 100, endpoint=False)
    return np.array([x, y]) + diameter / 2 * np.stack([np.cos(turn), np.sin(turn)], axis=1)


def bar(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])


# Of a lure 15 mm wide: a loop of 3, 4 or 5 mm, or 4 mm of a wire of 0.7 mm (common practice).
STANDING_OUT = {
    "nose": (disc(-LONG - 9.0, 0.0, 20.0),),
    "tail": (disc(LONG + 14.0, 0.0, 33.0),),
    "belly": (disc(30.0, 60.0, 27.0),),
    "all": (disc(-LONG - 12.0, 0.0, 27.0), disc(LONG + 12.0, 0.0, 27.0), disc(30.0, 60.0, 27.0)),
    "cut wire": (bar(-LONG - 27.0, -2.5, -LONG + 2.0, 2.5),),
    "bent wire": (bar(-3.0, 40.0, 3.0, 75.0), bar(-3.0, 69.0, 27.0, 75.0)),
}


@pytest.mark.parametrize("where", STANDING_OUT)
def test_a_loop_moves_no_zone(where: str) -> None:
    """It lengthened the outline by 6 to 33 px; 2 px are 2 % of the width, the outline's own rounding at the neck."""
    bare, looped = joined(ellipse()), joined(ellipse(), *STANDING_OUT[where])
    places = np.stack(np.meshgrid([0.0, 0.5, 1.0], [0.0, 0.5, 1.0]), axis=-1).reshape(-1, 2)
    before, after = (lie_of(line, NOTHING, ("left",), ("down",)).frames[0].points_px(places) for line in (bare, looped))
    assert np.abs(after - before).max() < 2.0
    grown = np.ptp(looped, axis=0) - np.ptp(bare, axis=0)
    assert grown.max() > 15.0


@given(st.floats(0, 360), st.floats(0.3, 5.0), st.booleans())
def test_how_a_piece_lies_does_not_matter(degrees: float, size: float, mirrored: bool) -> None:  # noqa: FBT001
    turn = math.radians(degrees)
    matrix = size * np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    matrix = np.diag([-1.0 if mirrored else 1.0, 1.0]) @ matrix
    line = joined(ellipse(), *STANDING_OUT["all"])
    spans = [np.ptp(found, axis=0) for found in (body_of(line), body_of(line @ matrix) @ np.linalg.inv(matrix))]
    assert spans[1] == pytest.approx(spans[0], abs=1.0)


def star(points: int) -> np.ndarray:
    turn = np.linspace(0.0, 2 * math.pi, 2 * points, endpoint=False)
    reach = np.where(np.arange(2 * points) % 2, 60.0, 130.0)
    return np.stack([reach * np.cos(turn), reach * np.sin(turn)], axis=1)


@pytest.mark.parametrize(
    "line",
    [
        ellipse(),
        joined(bar(-LONG, -WIDE, LONG, WIDE)),
        joined(star(5)),
        joined(ellipse(), np.array([[100.0, 0.0], [200.0, -55.0], [200.0, 55.0]])),
        joined(np.array([[-80.0, -50.0], [-80.0, 50.0], [200.0, 0.0]])),
    ],
    ids=["ellipse", "bar", "star", "fish", "wedge"],
)
def test_a_piece_without_wire_keeps_its_outline(line: np.ndarray) -> None:
    assert body_of(line) is line


def test_a_drop_keeps_its_outline(drop: np.ndarray) -> None:
    assert body_of(drop) is drop
