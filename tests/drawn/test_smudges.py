"""Smudges: they take light where they lie, and nowhere give any."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.drawn.smudges import COUNT, DEPTH, smudges


@pytest.mark.parametrize("seed", range(5))
def test_a_smudge_takes_light_where_it_lies_and_nowhere_gives_any(seed: int) -> None:
    passed, places = smudges((300, 400), np.random.default_rng(seed))
    assert COUNT[0] <= len(places) <= COUNT[1]
    assert passed.max() <= 1.0
    x, y = places[:, :2].astype(int).T
    assert (passed[y, x] < 1.0 - DEPTH[0] / 2).all()
    rows, cols = np.indices(passed.shape)
    far = np.ones(passed.shape, bool)
    for x_px, y_px, wide in places:
        far &= np.hypot(cols - x_px, rows - y_px) > 2.5 * wide
    np.testing.assert_allclose(passed[far], 1.0, atol=1e-3)


def test_the_same_seed_draws_the_same_smudges() -> None:
    one, other = (smudges((50, 60), np.random.default_rng(3)) for _ in range(2))
    np.testing.assert_array_equal(one[0], other[0])
    np.testing.assert_array_equal(one[1], other[1])
