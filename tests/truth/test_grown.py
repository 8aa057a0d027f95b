"""Pieces photographed twice: 5 % of growth is told from none and none from 5 %, turned, shifted, from further off."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

from bubblegrade.grading.record import Casting
from bubblegrade.grading.regrowth import compare
from bubblegrade.photo.reading import read_photo

PLACE = Path(__file__).parent / "grown"
Graded = Callable[..., Casting]


def moved(picture: np.ndarray, *, degrees: float, zoom: float, shift: tuple[float, float]) -> np.ndarray:
    """Return a picture turned about its middle, made smaller and shifted, its border carried on."""
    rows, cols = picture.shape[:2]
    turn = cv2.getRotationMatrix2D(((cols - 1) / 2, (rows - 1) / 2), degrees, zoom)
    turn[:, 2] += shift
    return cv2.warpAffine(picture, turn, (cols, rows), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)


@pytest.fixture(scope="module")
def piece(graded: Graded) -> Callable[..., Casting]:
    """Return a function that grades one of the photographs, perhaps moved."""

    @cache
    def of(name: str, degrees: float = 0.0, zoom: float = 1.0, shift: tuple[float, float] = (0.0, 0.0)) -> Casting:
        codes = read_photo(PLACE / f"{name}.jpg").codes
        return graded(codes if zoom == 1.0 and not degrees else moved(codes, degrees=degrees, zoom=zoom, shift=shift))

    return of


@pytest.mark.parametrize("body", ["cup", "lure"])
def test_five_percent_of_growth_is_told_from_none(piece: Callable[..., Casting], body: str) -> None:
    found = compare(piece(f"{body}-first"), piece(f"{body}-grown"))
    assert found.verdict == "grew"
    assert found.growth.low < 0.05 < found.growth.high
    assert found.growth.value == pytest.approx(0.05, abs=0.005 if body == "cup" else 0.015)
    assert len(found.pairs) >= 20


@pytest.mark.parametrize("body", ["cup", "lure"])
def test_none_is_told_from_five_percent_of_growth(piece: Callable[..., Casting], body: str) -> None:
    found = compare(piece(f"{body}-first"), piece(f"{body}-same"))
    assert found.verdict == "did not change"
    assert found.growth.low < 0.0 < found.growth.high
    assert found.growth.high < 0.05


@pytest.mark.parametrize(
    ("name", "verdict", "true"), [("cup-same", "did not change", 0.0), ("cup-grown", "grew", 0.05)]
)
def test_a_piece_seen_turned_shifted_and_from_further_off_is_compared_as_well(
    piece: Callable[..., Casting], name: str, verdict: str, true: float
) -> None:
    later = piece(name, 37.0, 0.93, (12.5, -8.25))
    found = compare(piece("cup-first"), later)
    assert found.verdict == verdict
    assert found.growth.value == pytest.approx(true, abs=0.01)
    assert found.scale == pytest.approx(0.93, abs=0.002)
    assert len(found.gone) <= 1


def test_the_earlier_photograph_after_the_later_tells_the_same_backwards(piece: Callable[..., Casting]) -> None:
    found = compare(piece("cup-grown"), piece("cup-first"))
    assert found.verdict == "shrank"
    assert found.growth.value == pytest.approx(1 / 1.05 - 1, abs=0.005)


def test_another_piece_cannot_be_compared(piece: Callable[..., Casting]) -> None:
    found = compare(piece("cup-first"), piece("lure-first"))
    assert found.verdict == "cannot be told"
    assert "do not show the same voids" in found.reason
    assert np.isnan(found.growth.value)


def test_a_piece_seen_from_its_other_side_cannot_be_compared(piece: Callable[..., Casting], graded: Graded) -> None:
    mirrored = graded(read_photo(PLACE / "cup-same.jpg").codes[:, ::-1])
    assert compare(piece("cup-first"), mirrored).verdict == "cannot be told"
