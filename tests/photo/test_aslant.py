"""A ball in resin, seen from aside and squared, looks as much larger as rays drawn from its silhouette say."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.photo.aslant import enlarged_aslant


@given(st.floats(0.0, 60.0), st.floats(1.0, 1.7))
def test_it_is_what_rays_from_the_silhouette_mark_on_the_flat_top(degrees: float, index: float) -> None:
    # Rays that touch a ball of radius 1 leave it along b inside; where they meet the top is what a far camera sees
    # there, and squaring to the top's plane gives back its true shape.
    inside = math.asin(math.sin(math.radians(degrees)) / index)
    along = np.array([math.sin(inside), 0.0, math.cos(inside)])
    aside, level = np.array([math.cos(inside), 0.0, -math.sin(inside)]), np.array([0.0, 1.0, 0.0])
    turn = np.linspace(0.0, 2 * np.pi, 2000, endpoint=False)[:, None]
    silhouette = np.cos(turn) * aside + np.sin(turn) * level
    on_top = silhouette + (10.0 - silhouette[:, 2:]) / along[2] * along
    area = cv2.contourArea(on_top[:, :2].astype(np.float32))
    assert enlarged_aslant(math.cos(math.radians(degrees)), 0.0, index=index)[0] == pytest.approx(
        math.sqrt(area / math.pi), rel=1e-4
    )


def test_from_straight_above_nothing_is_larger_and_the_doubt_is_that_of_the_cosine() -> None:
    assert enlarged_aslant(1.0, 0.0, index=1.5) == (1.0, 0.0)
    above, at = (enlarged_aslant(cosine, 0.001, index=1.5) for cosine in (0.9405, 0.9395))
    assert (at[0] - above[0]) == pytest.approx(at[1], rel=0.01)
