"""The dark line around a tapered cup's bottom: inside of it nothing is seen twice."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bubblegrade.casting.foot import within_foot

SIDE, MIDDLE = 400, (200, 200)
NOTHING = np.zeros((SIDE, SIDE), bool)


def disc(radius: int) -> np.ndarray:
    """Return a round mask about the middle."""
    mask = np.zeros((SIDE, SIDE), np.uint8)
    cv2.circle(mask, MIDDLE, radius, 1, -1)
    return mask.astype(bool)


def light(*rings: tuple[int, float], gaps: int = 0) -> np.ndarray:
    """Return even light with dark rings of a radius and a level; voids shine through at `gaps` places of each."""
    picture = np.full((SIDE, SIDE), 0.5, np.float32)
    for radius, level in rings:
        cv2.circle(picture, MIDDLE, radius, level, 3)
        for angle in np.arange(gaps) * 2 * np.pi / max(gaps, 1):
            spot = (round(200 + radius * np.cos(angle)), round(200 + radius * np.sin(angle)))
            cv2.circle(picture, spot, 7, 0.15, 3)
            cv2.circle(picture, spot, 2, 0.5, -1)
    return cv2.GaussianBlur(picture, (0, 0), 0.8)


def share_within(picture: np.ndarray, radius: int, judged_radius: int = 150) -> float:
    """Return the area kept over that of a disc of `radius`."""
    return float(within_foot(picture, disc(judged_radius), NOTHING).sum() / disc(radius).sum())


@pytest.mark.parametrize(("level", "gaps"), [(0.1, 0), (0.3, 0), (0.4, 0), (0.1, 12)])
def test_a_closed_dark_line_bounds_what_is_judged_also_where_voids_lie_on_it(level: float, gaps: int) -> None:
    assert share_within(light((110, level), gaps=gaps), 110) == pytest.approx(0.96, abs=0.04)  # inside of the line


def test_of_two_lines_the_inner_one_counts() -> None:
    assert share_within(light((130, 0.1), (100, 0.3)), 100) == pytest.approx(1.0, abs=0.06)


def test_a_casting_without_such_a_line_is_judged_whole() -> None:
    assert share_within(light(), 150) == 1.0
    assert share_within(light((20, 0.1)), 150) == 1.0  # a large void


def test_a_wire_across_a_casting_is_no_foot() -> None:
    picture = light((150, 0.1))
    cv2.line(picture, (40, 190), (360, 210), 0.05, 5)
    assert share_within(picture, 150) > 0.9


def test_one_side_of_a_wire_within_a_slender_outline_is_no_foot() -> None:
    y, x = np.mgrid[:SIDE, :SIDE]
    within = np.hypot((x - 200) / 190, (y - 200) / 80)
    picture = np.full((SIDE, SIDE), 0.5, np.float32)
    picture[(within > 0.85) & (within < 0.9) & (y > 200)] = 0.3
    picture[(np.abs(y - 200) < 3) & (within < 0.9)] = 0.1
    judged = within < 1.0
    assert within_foot(cv2.GaussianBlur(picture, (0, 0), 0.8), judged, NOTHING).sum() == judged.sum()


def test_a_line_that_is_open_on_one_side_is_no_foot() -> None:
    picture = np.full((SIDE, SIDE), 0.5, np.float32)
    cv2.ellipse(picture, MIDDLE, (110, 110), 0, 0, 250, 0.1, 3)
    assert share_within(picture, 150) == 1.0


def test_noise_and_voids_make_no_foot() -> None:
    rng = np.random.default_rng(4)
    picture = light() + rng.normal(0, 0.01, (SIDE, SIDE)).astype(np.float32)
    for x, y in rng.uniform(80, 320, (60, 2)):
        cv2.circle(picture, (round(x), round(y)), 6, 0.15, 3)
    assert share_within(picture, 150) == 1.0
