"""How many voids lie unseen behind nearer ones, against discs thrown at random."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.voids import missed
from bubblegrade.voids.missed import COVERED, hidden_share

SIDE_PX = 600.0


def overlap(one: np.ndarray, other: np.ndarray, apart: np.ndarray) -> np.ndarray:
    """Return the area that two discs of these radii have in common, their centres so far apart."""
    apart = np.maximum(apart, 1e-9)
    cos_one = np.clip((apart**2 + one**2 - other**2) / (2 * apart * one), -1, 1)
    cos_other = np.clip((apart**2 + other**2 - one**2) / (2 * apart * other), -1, 1)
    kite = (one + other - apart) * (apart + one - other) * (apart - one + other) * (apart + one + other)
    return one**2 * np.arccos(cos_one) + other**2 * np.arccos(cos_other) - np.sqrt(np.maximum(kite, 0)) / 2


def share_covered(diameter: np.ndarray, *, throws: int) -> float:
    """Return the share of discs that lie COVERED behind one nearer disc, thrown at random; a square without borders."""
    rng = np.random.default_rng(9)
    radius, hidden = diameter / 2, 0.0
    for _ in range(throws):
        x, y, height = rng.uniform(0, SIDE_PX, (3, len(radius)))
        off_x, off_y = (np.abs(c[:, None] - c) for c in (x, y))
        apart = np.hypot(np.minimum(off_x, SIDE_PX - off_x), np.minimum(off_y, SIDE_PX - off_y))
        shared = overlap(radius[:, None], radius[None, :], apart)
        behind = (shared > COVERED * np.pi * radius[:, None] ** 2) & (height[None, :] > height[:, None])
        hidden += behind.any(axis=1).mean()
    return hidden / throws


@pytest.mark.parametrize(
    ("median", "gsd"),
    [
        (14.0, 1.05),
        (14.0, 1.3),
        (14.0, 1.7),
        (14.0, 2.0),
        (10.0, 2.2),
    ],
)
def test_the_share_is_that_of_discs_thrown_at_random_to_a_fifth(median: float, gsd: float) -> None:
    diameter = median * gsd ** np.random.default_rng(4).normal(size=150)
    assert hidden_share(diameter, SIDE_PX**2) == pytest.approx(share_covered(diameter, throws=150), rel=0.2)


@given(st.lists(st.floats(2.0, 80.0), min_size=2, max_size=30), st.floats(1e4, 1e6), st.floats(1.01, 10.0))
def test_more_room_hides_fewer(diameter: list[float], area: float, factor: float) -> None:
    assert 0 <= hidden_share(diameter, factor * area) <= hidden_share(diameter, area) <= 1


def test_a_tiny_void_hides_nothing_and_is_hidden_where_the_edge_leaves_0_4_of_it() -> None:
    # Behind a nearly straight edge 0.6 of a disc is covered when its centre lies 0.158 of its radius inside.
    apart = 5.0 - 0.158 * 0.05
    assert hidden_share([10.0, 0.1], 1e6) == pytest.approx(0.5 * (1 - np.exp(-0.5 * np.pi * apart**2 / 1e6)), rel=1e-3)


@pytest.mark.parametrize(("diameter", "area"), [([], 100.0), ([9.0], 100.0), ([9.0, 9.0], 0.0)])
def test_nothing_is_hidden_where_nothing_can_be(diameter: list[float], area: float) -> None:
    assert hidden_share(diameter, area) == 0.0


def test_of_many_voids_the_share_is_that_of_all_pairs_within_a_thousandth(monkeypatch: pytest.MonkeyPatch) -> None:
    diameter = np.exp(np.random.default_rng(3).normal(2.5, 0.5, missed.MANY + 200))
    classed = hidden_share(diameter, 4e5)
    monkeypatch.setattr(missed, "MANY", len(diameter))
    assert classed == pytest.approx(hidden_share(diameter, 4e5), rel=1e-3)
    assert classed != hidden_share(diameter, 4e5)
