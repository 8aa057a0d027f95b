"""Shapes of zones, against matplotlib and scikit-image."""

from __future__ import annotations

import math

import numpy as np
import pytest
from matplotlib.path import Path as Outline
from skimage.draw import ellipse, polygon2mask

from bubblegrade.inspection.shapes import Box, Oval, Polygon, inside

PLACES = np.random.default_rng(1).uniform(-0.1, 1.1, (2000, 2))


@pytest.mark.parametrize("corners", [3, 4, 7, 40])
def test_a_point_lies_in_a_polygon_where_matplotlib_says_so(corners: int) -> None:
    rng = np.random.default_rng(corners)
    turn = np.sort(rng.uniform(0, 2 * math.pi, corners))
    line = 0.5 + rng.uniform(0.1, 0.5, (corners, 1)) * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    assert (inside(PLACES, line) == Outline(line).contains_points(PLACES)).all()
    assert (Polygon(tuple(map(tuple, line))).holds(PLACES) == Outline(line).contains_points(PLACES)).all()


def test_the_area_of_a_polygon_is_that_of_scikit_image() -> None:
    line = np.array([[10.2, 20.4], [180.7, 33.1], [120.3, 160.8], [60.9, 90.2]])
    y, x = np.indices((200, 200))
    held = inside(np.stack([x.ravel(), y.ravel()], axis=1).astype(np.float64), line).sum()
    assert abs(int(held) - int(polygon2mask((200, 200), line[:, ::-1]).sum())) <= 2  # px on the line itself


def test_a_box_holds_what_a_polygon_through_its_corners_holds() -> None:
    box = Box((0.2, 0.7), (0.1, 0.9))
    assert (box.holds(PLACES) == inside(PLACES, box.border())).all()


def test_an_oval_is_the_ellipse_of_scikit_image() -> None:
    y, x = np.indices((100, 200))
    held = Oval((100.3, 50.2), (80.0, 30.0)).holds(np.stack([x.ravel(), y.ravel()], axis=1).astype(np.float64))
    rows, _ = ellipse(50.2, 100.3, 30, 80, shape=(100, 200))  # without px on the line itself
    assert int(held.sum()) == len(rows)
    assert Oval((0.5, 0.5), (0.3, 0.2)).holds(Oval((0.5, 0.5), (0.299, 0.199)).border()).all()
