"""A void's ring that lies in the light by the rim, beyond what is judged, is told; lines, flakes and noise are not."""

from __future__ import annotations

from collections.abc import Callable

import cv2
import numpy as np
import pytest

from bubblegrade.grading_run import Casting
from bubblegrade.inspection.finds import finds_of
from bubblegrade.inspection.seen import seen
from bubblegrade.inspection.unsought import unsought

Y, X = np.indices((200, 300))
JUDGED = Y > 100
NONE = np.zeros(X.shape, bool)


def ring(y: float) -> np.ndarray:
    """Return a ring of 20 squares."""
    away = np.hypot(X - 150, Y - y)
    return np.asarray((away <= 10) & (away >= 7))


@pytest.mark.parametrize("y", [80, 98])
def test_a_ring_that_reaches_beyond_what_is_judged_is_told_with_place_and_diameter(y: int) -> None:
    assert unsought(ring(y), NONE, JUDGED) == pytest.approx(np.array([[150.0, y, 20.0]]), abs=1.5)


def test_a_crescent_of_it_is_told_with_its_length() -> None:
    found = unsought(ring(90) & (Y < 92), NONE, JUDGED)
    assert found[:, 2] == pytest.approx([20.0], abs=1.5)


@pytest.mark.parametrize(
    ("dark", "opaque"),
    [
        (ring(150), NONE),  # there marks were looked for
        (cv2.ellipse(np.zeros(X.shape, np.uint8), (150, 300), (280, 230), 0, 240, 300, 1, 3) > 0, NONE),
        (np.hypot(X - 150, Y - 80) <= 10, np.hypot(X - 150, Y - 80) <= 10),
        ((X == 150) & (np.abs(Y - 80) <= 1), NONE),
        (NONE, NONE),
    ],
    ids=["judged", "line along the rim", "flake", "noise", "nothing"],
)
def test_what_was_looked_at_and_lines_and_flakes_and_noise_are_not_told(dark: np.ndarray, opaque: np.ndarray) -> None:
    assert unsought(dark, opaque, JUDGED).shape == (0, 3)


def test_it_is_an_unsure_find_and_a_counted_void_is_none(piece: Callable[..., Casting]) -> None:
    judged = piece().judged_px[0]
    lower = np.stack([judged[:, 0], np.maximum(judged[:, 1], 90.0)], axis=1)
    light = np.where(ring(85), 0.3, 0.6).astype(np.float32)
    told = seen(piece(judged_px=(lower,)), light)
    assert told.beside_px == pytest.approx(np.array([[150.0, 85.0, 20.0]]), abs=1.5)
    assert finds_of(piece(), told, "look again").sure.tolist() == [False]
    assert len(seen(piece((150.0, 85.0, 20.0, 0.1), judged_px=(lower,)), light).beside_px) == 0
