"""Convex bodies magnify what lies in them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.casting.curved import FLAT, UNKNOWN_THICKNESS_ERR, magnified

ANGLE = np.linspace(0, 2 * np.pi, 400, endpoint=False)


def ellipse(length: float, width: float, turn: float = 0.3) -> np.ndarray:
    """Return the outline of an ellipse about (500, 400)."""
    x, y = length / 2 * np.cos(ANGLE), width / 2 * np.sin(ANGLE)
    return np.stack([500 + x * np.cos(turn) - y * np.sin(turn), 400 + x * np.sin(turn) + y * np.cos(turn)], axis=1)


def test_flat_and_round_castings_magnify_nothing() -> None:
    assert magnified(ellipse(400, 400), judged_share=0.9, thickness_px=100.0, index=1.5) == FLAT
    coffin = np.array([[0.0, 30], [200, 0], [800, 60], [800, 240], [200, 300], [0, 270]])
    assert magnified(coffin, judged_share=1.0, thickness_px=100.0, index=1.5) == FLAT
    slab = np.array([[0.0, 0], [400, 0], [800, 0], [800, 300], [400, 300], [0, 300]])
    assert magnified(slab, judged_share=0.9, thickness_px=100.0, index=1.5) == FLAT
    assert magnified(np.empty((0, 2)), judged_share=0.5, thickness_px=100.0, index=1.5) == FLAT


def test_a_curved_body_of_unknown_thickness_is_not_corrected_but_doubted() -> None:
    found = magnified(ellipse(800, 300), judged_share=0.8, thickness_px=None, index=1.5)
    assert (found.factor, found.err) == (1.0, UNKNOWN_THICKNESS_ERR)


def test_an_oval_without_a_dark_border_may_be_flat_or_curved_and_both_are_within_its_doubt() -> None:
    unknown = magnified(ellipse(60, 22), judged_share=1.0, thickness_px=None, index=1.5)
    assert (unknown.factor, unknown.err) == (1.0, UNKNOWN_THICKNESS_ERR)
    curved = magnified(ellipse(60, 22), judged_share=0.8, thickness_px=14.0, index=1.5)
    either = magnified(ellipse(60, 22), judged_share=1.0, thickness_px=14.0, index=1.5)
    assert either.factor == pytest.approx((1 + curved.factor) / 2)
    assert either.factor - 1.96 * either.err < 1.0
    assert either.factor + 1.96 * either.err > curved.factor


def test_at_mid_depth_the_lens_is_that_of_one_refracting_surface_done_by_hand() -> None:
    # width 22, thickness 14: R = 22^2 / 28 = 17.29; at s = 7: m = 1 / (1 - 0.5 / 1.5 * 7 / 17.29) = 1.156, root 1.075
    found = magnified(ellipse(60, 22), judged_share=0.8, thickness_px=14.0, index=1.5)
    assert found.factor == pytest.approx(1.075, abs=0.01)
    assert 0.03 < found.err < 0.06


@given(st.floats(0.05, 1.2), st.floats(1.35, 1.65))
def test_thicker_bodies_and_higher_indices_magnify_more_and_never_less_than_nothing(share: float, index: float) -> None:
    edge = ellipse(900, 300)
    one = magnified(edge, judged_share=0.8, thickness_px=300 * share, index=index)
    more = magnified(edge, judged_share=0.8, thickness_px=330 * share, index=index)
    denser = magnified(edge, judged_share=0.8, thickness_px=300 * share, index=index + 0.05)
    assert 1.0 <= one.factor <= more.factor
    assert one.factor <= denser.factor
