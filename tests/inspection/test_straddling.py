"""What lies across the inner border of a drawn disc's dark rim: bright within it, dark beyond, side by side."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bubblegrade.inspection.extent import Along
from bubblegrade.inspection.rim import rim_of
from bubblegrade.inspection.straddling import straddling

Y, X = np.indices((300, 300))
AWAY = np.hypot(X - 150, Y - 150)
PIECE = AWAY <= 120
RIM = PIECE & (AWAY > 110)
LIT = np.where(RIM, np.float32(0.2), np.float32(1.0))
SEAM = -math.pi / 2  # where the outline is unrolled from
TURNS = [SEAM, *np.linspace(0.0, 6.0, 4)]


def disc(turn: float, diameter: float, away: float = 110.0) -> np.ndarray:
    x, y = 150 + away * math.cos(turn), 150 + away * math.sin(turn)
    return np.asarray(np.hypot(X - x, Y - y) <= diameter / 2)


def found(bright: np.ndarray, dark: np.ndarray) -> np.ndarray:
    """Return what is found where the rim is `bright` here and the resin `dark` there."""
    lit = np.where(RIM & bright, np.float32(0.7), np.where(dark & ~RIM, np.float32(0.4), LIT))
    return straddling(Along.of(PIECE, lit, 20.0), (RIM & ~bright) | (dark & PIECE & ~RIM))


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("wide", [8.0, 12.0, 16.0])
def test_a_void_half_in_the_rim_is_found_with_the_largest_diameter_it_may_have(turn: float, wide: float) -> None:
    ((x, y, diameter),) = found(disc(turn, wide), disc(turn, wide))
    assert (x, y) == pytest.approx((150 + 110 * math.cos(turn), 150 + 110 * math.sin(turn)), abs=2)
    assert wide <= diameter <= (wide + 3) / 0.8  # two ends and a step, and no more than 0.8 of it may show


@pytest.mark.parametrize("turn", TURNS)
def test_where_a_void_shows_over_half_its_length_its_depth_tells_how_large_it_may_be(turn: float) -> None:
    across = np.abs((X - 150) * math.sin(turn) - (Y - 150) * math.cos(turn))
    middle = disc(turn, 16.0) & (across <= 4)
    ((_, _, diameter),) = found(middle, middle)
    assert 16.0 <= diameter <= (16.0 + 3) / 0.8


@pytest.mark.parametrize("turn", TURNS)
def test_light_in_the_rim_alone_or_dark_beyond_it_alone_is_no_void_across_its_border(turn: float) -> None:
    nothing = np.zeros_like(PIECE)
    assert not len(found(disc(turn, 12.0), nothing))
    assert not len(found(nothing, disc(turn, 12.0)))


@pytest.mark.parametrize("turn", TURNS)
def test_the_two_must_lie_side_by_side_and_be_alike_in_length(turn: float) -> None:
    assert not len(found(disc(turn, 12.0), disc(turn + 12.0 / 110, 12.0)))
    assert not len(found(disc(turn, 7.0), disc(turn, 18.0)))


@pytest.mark.parametrize("turn", TURNS)
def test_what_is_dark_must_begin_at_the_border_of_the_rim(turn: float) -> None:
    assert not len(found(disc(turn, 12.0), disc(turn, 12.0, away=98.0)))


@pytest.mark.parametrize("turn", TURNS)
def test_what_is_a_few_squares_long_is_noise(turn: float) -> None:
    assert not len(found(disc(turn, 4.0), disc(turn, 5.0)))


@pytest.mark.parametrize(("rim", "many"), [(0.5, 1), (0.65, 0)])
def test_only_where_the_rim_is_dark_does_light_in_it_tell(rim: float, many: int) -> None:
    void = disc(0.0, 12.0)
    lit = np.where(RIM, np.where(void, np.float32(rim + 0.2), np.float32(rim)), np.where(void, np.float32(0.4), LIT))
    assert len(straddling(Along.of(PIECE, lit, 20.0), (RIM & ~void) | (void & PIECE & ~RIM))) == many


def test_what_is_longer_than_two_rims_are_wide_is_an_image() -> None:
    bow = abs(np.arctan2(Y - 150, X - 150)) < 20 / 110
    assert not len(found(bow & (AWAY > 112), bow & (AWAY > 106)))


def breaks_where(bright: np.ndarray, void: np.ndarray) -> np.ndarray:
    """Return the breaks of a rim that is `bright` here, of a void whose ring is dark beyond it."""
    lit = np.where(RIM & bright, np.float32(0.7), np.where(void & ~RIM, np.float32(0.4), LIT))
    return rim_of(PIECE, (RIM & ~bright) | (void & PIECE & ~RIM), RIM & ~bright, lit).breaks


@pytest.mark.parametrize("turn", TURNS)
def test_the_rim_lists_it_once(turn: float) -> None:
    assert len(breaks_where(disc(turn, 9.0), disc(turn, 9.0))) == 1


@pytest.mark.parametrize("turn", TURNS)
def test_a_void_whose_light_in_the_rim_is_parted_by_a_dark_line_is_listed_once(turn: float) -> None:
    void = disc(turn, 16.0)
    ((x, y, diameter),) = breaks_where(void & (abs(AWAY - 115.0) > 0.8), void)
    assert math.hypot(x - 150 - 110 * math.cos(turn), y - 150 - 110 * math.sin(turn)) < 8
    assert diameter >= 16.0
