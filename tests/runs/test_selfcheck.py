"""A drawn casting held against its truth."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.runs.selfcheck import TRUTH_PX, checked_drawing, compared
from bubblegrade.voids.table import Voids

X, Y, DIAMETER = np.array(TRUTH_PX).T


def test_the_drawn_casting_comes_out_right() -> None:
    drawn = checked_drawing()
    assert drawn.passed
    assert (drawn.found, drawn.drawn) == (5, 5)
    assert 0.0 < drawn.largest_off_share < 0.03


def test_the_truth_itself_is_right_in_any_order() -> None:
    drawn = compared(Voids.of(x_px=X[::-1], y_px=Y[::-1], diameter_px=DIAMETER[::-1]))
    assert (drawn.passed, drawn.largest_off_share) == (True, 0.0)


@pytest.mark.parametrize(
    ("voids", "found", "off"),
    [
        (Voids.none(), 0, math.nan),
        (Voids.of(x_px=X[1:], y_px=Y[1:], diameter_px=DIAMETER[1:]), 4, math.nan),
        (Voids.of(x_px=X + 1.5, y_px=Y, diameter_px=DIAMETER), 5, math.nan),
        (Voids.of(x_px=X, y_px=Y, diameter_px=DIAMETER * 1.1), 5, 0.1),
    ],
    ids=["nothing", "one too few", "elsewhere", "too large"],
)
def test_what_is_not_the_truth_does_not_pass(voids: Voids, found: int, off: float) -> None:
    drawn = compared(voids)
    assert not drawn.passed
    assert drawn.found == found
    assert drawn.largest_off_share == pytest.approx(off, nan_ok=True)
