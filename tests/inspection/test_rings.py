"""Rings drawn in arcs, and what only looks like one: flakes side by side, a solid disc, bare clear resin."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.inspection.rings import rings_of

Y, X = np.indices((160, 160))
AWAY, AROUND = np.hypot(X - 80, Y - 80), np.degrees(np.arctan2(Y - 80, X - 80)) % 360
CLEAR = 0.6
NOISE = np.random.default_rng(1).normal(1.0, 0.01, X.shape)


def picture(dark: np.ndarray) -> np.ndarray:
    """Return light in which the mask is dark."""
    return np.asarray(CLEAR * np.where(dark, 0.4, 1.0) * NOISE, np.float32)


def arcs(radius: float, *spans: tuple[float, float]) -> np.ndarray:
    ring = (radius >= AWAY) & (0.75 * radius < AWAY)
    return np.asarray(ring & np.any([(a <= AROUND) & (b >= AROUND) for a, b in spans], axis=0))


def mark(radius: float, degrees: float, diameter: float) -> np.ndarray:
    turn = np.radians(degrees)
    return np.array([[80 + 0.87 * radius * np.cos(turn), 80 + 0.87 * radius * np.sin(turn), diameter]])


@pytest.mark.parametrize("radius", [7.0, 12.0, 22.0])
@pytest.mark.parametrize("turned", [0, 100, 250])
def test_two_arcs_that_go_two_thirds_around_are_one_ring_from_either(radius: float, turned: int) -> None:
    light = picture(np.roll(arcs(radius, (10, 130), (190, 310)), turned % 3, axis=1))
    for degrees in (70, 250):
        ((x, y, diameter),) = rings_of(light, CLEAR, mark(radius, degrees, 0.9 * radius))
        assert (x, y) == pytest.approx((80 + turned % 3, 80), abs=0.2 * radius)
        assert diameter == pytest.approx(2 * radius, rel=0.25)


@pytest.mark.parametrize("radius", [10.0, 16.0])
def test_a_ring_whose_light_core_is_small_is_told_too(radius: float) -> None:
    wide = (radius >= AWAY) & (0.3 * radius < AWAY) & ((AROUND < 140) | ((AROUND > 170) & (AROUND < 330)))
    ((x, y, diameter),) = rings_of(picture(wide), CLEAR, mark(radius, 70, 0.9 * radius))
    assert (x, y) == pytest.approx((80, 80), abs=0.25 * radius)
    assert diameter == pytest.approx(2 * radius, rel=0.25)


def test_a_ring_is_told_once_whichever_arcs_show_it() -> None:
    both = np.concatenate([mark(12, 70, 10), mark(12, 250, 10)])
    assert len(rings_of(picture(arcs(12, (10, 130), (190, 310))), CLEAR, both)) == 1


@pytest.mark.parametrize(
    "dark",
    [
        np.zeros_like(X, bool),
        AWAY <= 12,  # solid
        arcs(12, (10, 130)),  # one arc
        ((abs(X - 70) <= 4) | (abs(X - 90) <= 4)) & (abs(Y - 80) <= 4),  # two flakes
    ],
    ids=["nothing", "a disc", "one arc", "two flakes"],
)
def test_what_shows_no_ring_from_most_sides_is_none(dark: np.ndarray) -> None:
    for degrees in (0, 70, 180):
        assert rings_of(picture(dark), CLEAR, mark(12, degrees, 9)).shape == (0, 3)


def test_a_mark_at_the_border_of_the_picture_is_looked_at_too() -> None:
    light = picture(arcs(12, (10, 130), (190, 310)))[66:]
    ((_, y, _),) = rings_of(light, CLEAR, mark(12, 70, 10) - [0, 66, 0])
    assert y == pytest.approx(14, abs=3)
