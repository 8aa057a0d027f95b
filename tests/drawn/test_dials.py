"""Drawn photographs of gauges."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.drawn.dials import DialFace, Shot, photograph, varied_face, varied_shot

PLAIN = Shot(needle_deg=135.0, radius_px=160.0, noise=0.0, shadow=0.0, quality=95)


def test_the_same_seed_gives_the_same_photograph() -> None:
    assert np.array_equal(photograph(DialFace(), PLAIN, 1), photograph(DialFace(), PLAIN, 1))


@pytest.mark.parametrize("deg", [45.0, 135.0, 225.0])
def test_the_needle_points_where_it_is_told(deg: float) -> None:
    photo = photograph(DialFace(), Shot(**{**PLAIN.__dict__, "needle_deg": deg}), 1)[..., 0]
    middle = (photo.shape[0] - 1) / 2.0
    angle = math.radians(deg - 135.0)
    row, col = (round(middle + 0.45 * 160.0 * part) for part in (-math.cos(angle), math.sin(angle)))
    assert photo[row, col] < 130
    assert photo[2 * round(middle) - row, 2 * round(middle) - col] > 200


def test_faces_and_shots_differ_and_stay_within_what_is_stated() -> None:
    random = np.random.default_rng(1)
    assert len({varied_face(random) for _ in range(20)}) == 20
    shots = [varied_shot(random, 100.0) for _ in range(50)]
    assert all(0.0 <= shot.tilt_deg <= 20.0 for shot in shots)
    assert 10 < sum(shot.glare > 0.0 for shot in shots) < 40
    assert not any(varied_shot(random, 100.0, glare=False).glare for _ in range(10))


def test_a_reflection_brightens_and_a_rim_stands_around_the_face() -> None:
    plain = photograph(DialFace(ground=0.3), PLAIN, 1).astype(float)
    glaring = photograph(DialFace(ground=0.3), Shot(**{**PLAIN.__dict__, "glare": 0.5}), 1).astype(float)
    assert (glaring - plain).max() > 40.0
    assert (glaring - plain).mean() > 0.5
