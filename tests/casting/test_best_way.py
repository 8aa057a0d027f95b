"""The best closed way around is the one that was drawn."""

from __future__ import annotations

import numpy as np

from bubblegrade.casting.best_way import best_way


def test_a_way_of_full_strength_is_found_at_every_angle_wherever_it_begins() -> None:
    angle = np.arange(90)
    drawn = np.rint(20 + 9 * np.sin(2 * np.pi * angle / 90)).astype(int)
    strength = np.random.default_rng(1).uniform(-0.3, 0.3, (2, 90, 40)).astype(np.float32)
    strength[0, angle, drawn] = 1.0
    strength[1, angle, np.roll(drawn, 37)] = 1.0
    found = best_way(strength)
    np.testing.assert_array_equal(found[0], drawn)
    np.testing.assert_array_equal(found[1], np.roll(drawn, 37))
