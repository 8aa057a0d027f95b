"""An outline that stands off its casting is drawn to it; one that is held stays as it is."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.casting.edge import covered, followed
from bubblegrade.casting.outline import coarse_picture
from bubblegrade.casting.tightened import drawn_in
from tests.casting.two import BARE, disc_light

SIDE, RADIUS = 800, 260.0


def fringed(off_px: float) -> np.ndarray:
    """Return a closed line that wanders up to `off_px` outside a circle of RADIUS in the middle."""
    angle = np.linspace(0.0, 2 * np.pi, 1200, endpoint=False)
    reach = RADIUS + off_px * (0.6 + 0.2 * np.sin(9 * angle) + 0.2 * np.sin(23 * angle + 1.0))
    return np.asarray(SIDE / 2 + reach[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1))


def test_a_line_that_wanders_outside_a_casting_is_drawn_to_its_edge() -> None:
    light = disc_light(SIDE, SIDE, (SIDE / 2, SIDE / 2, RADIUS, 0.93))
    coarse, step = coarse_picture(light)
    field = np.ones(coarse.shape, bool)
    line = fringed(22.0)
    edge, casting = drawn_in(light, coarse, step, field, (line, covered(line, step, field.shape)))
    away = np.hypot(*(edge - SIDE / 2).T)
    assert abs(away - RADIUS).max() < 2.0
    assert casting.sum() * step**2 == pytest.approx(np.pi * RADIUS**2, rel=0.01)


def test_an_outline_that_is_held_stays_the_same() -> None:
    light = disc_light(SIDE, SIDE, (SIDE / 2, SIDE / 2, RADIUS, 0.93))
    coarse, step = coarse_picture(light)
    field = np.ones(coarse.shape, bool)
    seen = followed(light, step, field, covered(fringed(0.0), step, field.shape))
    assert drawn_in(light, coarse, step, field, seen) is seen


def test_where_there_is_no_casting_a_line_stays_where_it_is() -> None:
    light = disc_light(SIDE, SIDE)
    coarse, step = coarse_picture(light)
    field = np.ones(coarse.shape, bool)
    seen = fringed(22.0), covered(fringed(22.0), step, field.shape)
    assert coarse.mean() == pytest.approx(BARE, rel=0.01)
    assert drawn_in(light, coarse, step, field, seen) is seen
