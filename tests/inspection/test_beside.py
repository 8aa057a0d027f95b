"""Arcs of a void beside hardware are told; hardware's own border and what lies farther off are not."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.grading_run import Casting
from bubblegrade.inspection.beside import beside_of
from bubblegrade.inspection.finds import finds_of
from bubblegrade.inspection.seen import Seen, seen

Y, X = np.indices((400, 800))
EYE = np.hypot(X - 200, Y - 200) <= 30
LONG = 700.0


def arcs(x: float, y: float, radius: float) -> np.ndarray:
    """Return two opposite arcs of a void's dark ring."""
    away, along = np.hypot(X - x, Y - y), np.arctan2(Y - y, X - x)
    return (np.abs(away - radius) <= 1.0) & (np.abs(np.sin(along)) > 0.7)


def test_arcs_beside_hardware_are_told_with_place_and_width() -> None:
    found = beside_of(arcs(237.0, 200.0, 5.0) & ~EYE, EYE, LONG)
    assert len(found) == 2
    assert found[:, 0] == pytest.approx([237.0, 237.0], abs=1.5)
    assert sorted(found[:, 1]) == pytest.approx([195.0, 205.0], abs=1.5)
    assert (found[:, 2] >= 4.0).all()


@pytest.mark.parametrize(
    "dark",
    [
        (np.hypot(X - 200, Y - 200) <= 32) & ~EYE,  # the blur of its border
        arcs(320.0, 200.0, 5.0),  # far off
        (X == 236) & (np.abs(Y - 200) <= 1),  # three squares of noise
        np.zeros(X.shape, bool),
    ],
    ids=["border", "far", "noise", "nothing"],
)
def test_border_noise_and_what_is_far_off_are_not_told(dark: np.ndarray) -> None:
    assert len(beside_of(dark, EYE, LONG)) == 0


def test_nothing_is_beside_hardware_where_there_is_none() -> None:
    assert beside_of(arcs(237.0, 200.0, 5.0), np.zeros(X.shape, bool), LONG).shape == (0, 3)


@pytest.mark.parametrize("unsure", ["look again", "ignore"])
def test_it_is_an_unsure_find_unless_these_are_ignored_and_a_counted_void_is_none(
    piece: Callable[..., Casting], unsure: str
) -> None:
    y, x = np.indices((200, 300))
    light = np.full(x.shape, 0.6, np.float32)
    light[np.hypot(x - 120, y - 95) <= 14] = 0.02
    light[(np.abs(x - 120) <= 4) & (np.abs(y - 113) <= 1)] = 0.2
    told: Seen = seen(piece(), light)
    assert told.beside_px == pytest.approx(np.array([[120.0, 113.0, 9.0]]), abs=1.5)
    finds = finds_of(piece(), told, unsure)  # type: ignore[arg-type]
    assert finds.sure.tolist() == ([False] if unsure == "look again" else [])
    assert len(seen(piece((120.0, 113.0, 9.0, 0.1)), light).beside_px) == 0
