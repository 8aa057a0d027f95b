"""Dark marks that are no voids get a kind and a reason."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bubblegrade.voids.kinds import dark_marks
from bubblegrade.voids.table import Voids

SIDE = 400


def marks_in(dark: np.ndarray, voids: Voids | None = None) -> tuple[Voids, np.ndarray]:
    """Return the marks in a picture of darkness, all of it judged."""
    everywhere = np.ones(dark.shape, bool)
    return dark_marks(dark, voids or Voids.none(), everywhere, inside=everywhere, casting_px=float(SIDE))


def drawn(shape: str) -> np.ndarray:
    """Return the darkness of one mark."""
    dark = np.zeros((SIDE, SIDE), np.float32)
    if shape == "fibre":
        cv2.ellipse(dark, (200, 200), (40, 30), 20, 0, 140, 0.8, 3)
    elif shape == "flake":
        corners = cv2.boxPoints(((200, 200), (12, 10), 30.0)).astype(np.int32)
        cv2.fillPoly(dark, [corners], 0.95)
    elif shape == "ballast":
        cv2.circle(dark, (200, 200), 30, 1.0, -1)
    elif shape == "wire":
        cv2.line(dark, (40, 150), (360, 260), 1.0, 6)
    elif shape == "smudge":
        cv2.circle(dark, (200, 200), 5, 0.35, -1)
    return dark


@pytest.mark.parametrize(
    ("shape", "kind"),
    [("fibre", "fibre"), ("flake", "flake"), ("ballast", "hardware"), ("wire", "hardware"), ("smudge", "unsure")],
)
def test_a_drawn_mark_gets_its_kind_and_a_reason(shape: str, kind: str) -> None:
    dark = drawn(shape)
    table, aside = marks_in(dark)
    assert table.kind.tolist() == [kind]
    assert all(table.reason)
    np.testing.assert_array_equal(aside, dark > 0.25)


def test_a_counted_void_is_no_mark() -> None:
    dark = np.zeros((SIDE, SIDE), np.float32)
    cv2.circle(dark, (200, 200), 10, 0.9, 4)
    table, aside = marks_in(dark, Voids.of(x_px=[200.0], y_px=[200.0], diameter_px=[24.0]))
    assert len(table) == 0
    assert not aside.any()


def test_clear_resin_has_no_mark() -> None:
    table, aside = marks_in(np.zeros((SIDE, SIDE), np.float32))
    assert len(table) == 0
    assert not aside.any()


def test_marks_outside_the_judged_area_are_left_alone() -> None:
    nowhere = np.zeros((SIDE, SIDE), bool)
    table, _ = dark_marks(drawn("ballast"), Voids.none(), nowhere, inside=nowhere, casting_px=float(SIDE))
    assert len(table) == 0


def test_a_mark_wholly_in_the_shade_of_the_border_has_its_pixels_but_no_row() -> None:
    everywhere, nowhere = np.ones((SIDE, SIDE), bool), np.zeros((SIDE, SIDE), bool)
    table, pixels = dark_marks(drawn("ballast"), Voids.none(), everywhere, inside=nowhere, casting_px=float(SIDE))
    assert len(table) == 0
    assert pixels.any()
