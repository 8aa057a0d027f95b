"""Round castings seen aslant: by how much they are drawn out, and what of them is as long as they are wide."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.roundness import across, rounded

RADIUS = 440.0
CORNERS = ((-1, -1), (1, -1), (1, 1), (-1, 1))  # of a slab
ANGLES = np.arange(1400) * 2 * np.pi / 1400


def grainy(points: np.ndarray) -> np.ndarray:
    """Return an outline as far off as those of photographs are."""
    return points + np.random.default_rng(3).normal(0.0, 0.3, points.shape)


def polar(radius: np.ndarray) -> np.ndarray:
    """Return an outline by its distance from the middle, clear of the picture's corner."""
    return grainy(600.0 + radius[:, None] * np.stack([np.cos(ANGLES), np.sin(ANGLES)], axis=1))


def circle(degrees: float) -> np.ndarray:
    """Return a flat circle as a camera far away sees it that leans."""
    x, y = np.cos(ANGLES) * math.cos(math.radians(degrees)), np.sin(ANGLES)
    return grainy(600.0 + RADIUS * np.stack([x, y], axis=1))


def cylinder(degrees: float, depth: float, foot: float = 0.97) -> np.ndarray:
    """Return straight walls, `depth` diameters deep, as a leaning camera sees them: the hull of face and foot.

    The foot is farther away, and smaller by `foot`. Orthographic projection otherwise: any textbook of descriptive
    geometry.
    """
    lean = math.radians(degrees)
    ring = np.stack([np.cos(ANGLES) * math.cos(lean), np.sin(ANGLES)], axis=1)
    below = foot * ring + np.array([2 * depth * math.sin(lean), 0.0])
    ways = np.stack([np.cos(ANGLES), np.sin(ANGLES)])
    both = np.concatenate([ring, below])
    hull = both[(both @ ways).argmax(axis=0)]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*(np.roll(hull, -1, axis=0) - hull).T))])
    even = np.linspace(0.0, along[-1], len(ANGLES), endpoint=False)
    line = np.stack([np.interp(even, along, np.append(part, part[0])) for part in hull.T], axis=1)
    return grainy(600.0 + RADIUS * line)


@pytest.mark.parametrize("degrees", [6.0, 12.0, 18.0])
def test_a_flat_circle_tells_how_far_the_camera_leans_and_keeps_its_diameter(degrees: float) -> None:
    found = rounded(circle(degrees))
    assert found is not None
    assert found.is_ellipse
    assert math.degrees(found.lean) == pytest.approx(degrees, abs=0.3)
    seen = across(circle(degrees))
    assert (seen.long_px, seen.err_share) == (pytest.approx(2 * RADIUS, rel=0.001), 0.0)


@pytest.mark.parametrize(("degrees", "depth"), [(8.0, 0.6), (12.0, 0.4), (18.0, 0.3), (6.0, 1.0)])
def test_straight_walls_draw_a_round_casting_out_and_the_diameter_is_its_width(degrees: float, depth: float) -> None:
    points = cylinder(degrees, depth)
    found = rounded(points)
    assert found is not None
    assert not found.is_ellipse
    # four waves round off where the straight sides begin
    assert found.short_px == pytest.approx(2 * RADIUS, rel=0.008)
    assert found.long_px == pytest.approx(np.ptp(points[:, 0]), rel=0.008)
    assert math.dist(*found.ends_px) == pytest.approx(found.long_px, rel=1e-6)
    seen = across(points)
    for diameter in (found.short_px, found.long_px):
        assert abs(diameter / seen.long_px - 1.0) == pytest.approx(seen.err_share, rel=1e-6)


def test_a_level_camera_sees_a_round_casting_as_long_as_wide() -> None:
    found = rounded(circle(0.0))
    assert found is not None
    assert found.drawn_out < 0.001


def test_a_fibre_and_a_bump_at_the_edge_leave_the_width_what_it_is() -> None:
    points = cylinder(8.0, 0.6)
    points[100:130] += np.array([40.0, 5.0])
    seen, clean = across(points), across(cylinder(8.0, 0.6))
    assert seen.long_px == pytest.approx(clean.long_px, rel=0.002)


@pytest.mark.parametrize(
    "radius",
    [
        1 / np.maximum(np.abs(np.cos(ANGLES)), np.abs(np.sin(ANGLES))),
        (np.abs(np.cos(ANGLES)) ** 4 + np.abs(np.sin(ANGLES)) ** 4) ** -0.25,
        (np.abs(np.cos(ANGLES)) ** 2.5 + np.abs(np.sin(ANGLES)) ** 2.5) ** -0.4,
        1 / np.cos((ANGLES + np.pi / 6) % (np.pi / 3) - np.pi / 6),
        1 + 0.25 * np.cos(ANGLES) * np.abs(np.cos(ANGLES)),
        1 + 0.05 * np.cos(3 * ANGLES),
        1 + 0.02 * np.cos(2 * ANGLES) + 0.015 * np.sin(3 * ANGLES),
        1 / np.hypot(np.cos(ANGLES), np.sin(ANGLES) / 0.9),
    ],
    ids=["square", "squircle", "rounded square", "hexagon", "drop", "three lobes", "lopsided", "oval"],
)
def test_another_shape_is_not_taken_for_a_round_one(radius: np.ndarray) -> None:
    points = polar(400.0 * radius)
    assert rounded(points) is None
    assert across(points).err_share == 0.0


@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0])
def test_the_corners_that_evening_an_outline_takes_off_a_slab_count_in_its_span(degrees: float) -> None:
    # drawn, not evened beforehand: 700 by 420 px and a fall of the light over its border, the coarse pixel 4 px
    turn = cv2.getRotationMatrix2D((600.0, 500.0), degrees, 1.0)
    light = np.full((1000, 1200), 0.6, np.float32)
    for size, level in (((700, 420), 0.3), ((688, 408), 0.55)):
        corners = np.array([[sx * size[0] / 2 + 600.0, sy * size[1] / 2 + 500.0] for sx, sy in CORNERS])
        line = np.rint((np.c_[corners, np.ones(4)] @ turn.T) * 16).astype(np.int32)
        cv2.fillPoly(light, [line], level, lineType=cv2.LINE_AA, shift=4)
    outline = find_outline(cv2.GaussianBlur(light, (0, 0), 1.0))
    assert outline is not None
    assert across(outline.edge_px).long_px == pytest.approx(math.hypot(700.0, 420.0), rel=0.004)


def test_too_few_points_are_no_round_casting() -> None:
    assert rounded(circle(0.0)[::30]) is None
