"""Light holds a true outline and none that stands off, follows noise or is cut."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.casting.evidence import MARGIN, Evidence, evidence

SIDE, RADIUS, BARE, CLEAR = 300, 90.0, 0.6, 0.55


def circle(radius: float, middle: float = SIDE / 2) -> np.ndarray:
    """Return a circle, (N, 2) x, y."""
    angle = np.linspace(0.0, 2 * np.pi, 600, endpoint=False)
    return np.asarray(middle + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1))


def seen(radius: float, *, middle: float = SIDE / 2, noise: float = 0.004) -> Evidence:
    """Return the evidence for a circle around a disc of RADIUS."""
    y, x = np.mgrid[:SIDE, :SIDE] - middle
    light = np.where(np.hypot(x, y) < RADIUS, CLEAR, BARE) + np.random.default_rng(0).normal(0, noise, (SIDE, SIDE))
    return evidence(light.astype(np.float32), circle(radius, middle), 1)


def test_a_true_outline_is_held_all_around_by_the_step_of_its_light() -> None:
    found = seen(RADIUS)
    assert found.held_share == found.exact_share == 1.0
    assert found.step == pytest.approx(math.log((BARE + MARGIN) / (CLEAR + MARGIN)), rel=0.1)


def test_an_outline_two_pixels_off_is_held_but_not_right_there() -> None:
    found = seen(RADIUS + 2.5)
    assert found.held_share > 0.95
    assert found.exact_share < 0.2


@pytest.mark.parametrize("radius", [RADIUS - 8.0, RADIUS + 8.0])
def test_an_outline_that_stands_off_is_not_held(radius: float) -> None:
    assert seen(radius).held_share < 0.5


def test_noise_alone_holds_no_outline() -> None:
    light = np.random.default_rng(2).normal(BARE, 0.01, (SIDE, SIDE)).astype(np.float32)
    assert evidence(light, circle(RADIUS), 1).held_share < 0.5


def test_where_the_frame_cuts_a_casting_its_outline_is_not_asked_for() -> None:
    assert seen(RADIUS, middle=40.0).held_share == 1.0
    assert math.isnan(evidence(np.full((SIDE, SIDE), BARE, np.float32), circle(5.0, -50.0), 1).held_share)
