"""The dark rim of a drawn disc: its width, what bulges from it, and what is hardware."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.inspection.rim import rim_of

Y, X = np.indices((300, 300))
AWAY = np.hypot(X - 150, Y - 150)
PIECE = AWAY <= 120
RIM = PIECE & (AWAY > 110)
LIT = np.where(RIM, np.float32(0.2), np.float32(1.0))


def disc(x: float, y: float, diameter: float) -> np.ndarray:
    return np.asarray(np.hypot(X - x, Y - y) <= diameter / 2)


def test_the_rim_is_what_is_dark_along_the_outline() -> None:
    found = rim_of(PIECE, RIM, RIM, LIT)
    assert (found.mask == RIM).mean() > 0.999
    assert found.bulges.shape == found.breaks.shape == (0, 3)


def test_a_ring_that_touches_the_rim_bulges_from_it() -> None:
    ring = disc(150, 50, 36) & ~disc(150, 52, 20) & PIECE
    found = rim_of(PIECE, RIM | ring, RIM, LIT)
    ((x, y, diameter),) = found.bulges
    assert (x, y) == pytest.approx((150, 50), abs=8)
    assert diameter == pytest.approx(36, rel=0.3)
    assert not found.mask[60:70, 145:155].any()


def test_a_solid_body_that_touches_the_rim_is_hardware_and_no_bulge() -> None:
    body = disc(150, 50, 36) & PIECE
    found = rim_of(PIECE, RIM | body, RIM | body, LIT)
    assert not len(found.bulges)
    assert not found.mask[58:66, 148:152].any()


@pytest.mark.parametrize("thick", [2, 4, 6])
def test_a_thread_that_reaches_in_from_the_rim_is_no_void_as_wide_as_it_is_long(thick: int) -> None:
    thread = PIECE & (abs(X - 150) < thick) & (Y < 100)
    found = rim_of(PIECE, RIM | thread, RIM, LIT)
    assert not len(found.bulges)


@pytest.mark.parametrize("turn", np.linspace(0.0, 6.0, 5))
@pytest.mark.parametrize(("level", "largest"), [(0.05, 2 * 10), (0.2, 5 / 0.8)], ids=["black", "grey"])
def test_what_shines_in_the_rim_may_be_as_wide_as_two_rims_where_no_dark_ring_would_show(
    turn: float, level: float, largest: float
) -> None:
    x, y = 150 + 115 * np.cos(turn), 150 + 115 * np.sin(turn)
    lit = np.where(disc(x, y, 5), np.float32(0.6), np.where(RIM, np.float32(level), LIT))
    ((at_x, at_y, diameter),) = rim_of(PIECE, RIM & ~disc(x, y, 5), RIM, lit).breaks
    assert (at_x, at_y) == pytest.approx((x, y), abs=1.5)
    assert diameter == pytest.approx(largest, abs=3)


@pytest.mark.parametrize("turn", np.linspace(0.0, 6.0, 5))
@pytest.mark.parametrize("wide", [9.0, 13.0, 17.0])
def test_a_void_in_the_rim_is_bounded_by_the_length_of_its_ring_along_the_outline(turn: float, wide: float) -> None:
    x, y = 150 + 110 * np.cos(turn), 150 + 110 * np.sin(turn)
    rim = PIECE & (AWAY > 100)
    lit = np.where(rim, np.float32(0.3), np.float32(1.0))
    lit = np.where(disc(x, y, wide), np.float32(0.05), lit)
    lit = np.where(disc(x, y, 0.5 * wide), np.float32(0.9), lit)
    diameters = rim_of(PIECE, rim & ~disc(x, y, 5), rim, lit).breaks[:, 2]
    assert len(diameters)
    assert ((diameters >= wide) & (diameters <= 1.3 * wide + 3)).all()


def test_a_wire_behind_clear_resin_makes_the_rim_no_wider_and_is_none_of_it() -> None:
    wire = PIECE & (abs(Y - 150) < 6)
    dark, lit = RIM | wire, np.where(disc(150, 35, 5), np.float32(0.6), np.where(wire, np.float32(0.1), LIT))
    found = rim_of(PIECE, dark & ~disc(150, 35, 5), dark, lit)
    assert found.breaks[:, 2] == pytest.approx([5 / 0.8], abs=3)
    assert not found.mask[wire & (AWAY < 90)].any()
    assert not len(found.bulges)


def test_a_rim_that_is_bright_for_long_is_not_broken() -> None:
    bright = np.where(RIM & (X > 150), np.float32(0.5), LIT)
    assert not len(rim_of(PIECE, RIM, RIM, bright).breaks)


def test_dark_marks_away_from_the_border_are_neither() -> None:
    found = rim_of(PIECE, RIM | disc(150, 150, 30), RIM, LIT)
    assert not found.mask[130:170, 130:170].any()
    assert not len(found.bulges)


@pytest.mark.parametrize("piece", [np.zeros_like(PIECE), PIECE], ids=["no piece", "no dark"])
def test_without_a_piece_or_anything_dark_there_is_no_rim(piece: np.ndarray) -> None:
    found = rim_of(piece, np.zeros_like(piece), np.zeros_like(piece), LIT)
    assert not found.mask.any()
    assert not len(found.bulges)
