"""Drawn lures: the truth is where it is said to be."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.drawn.lure_faults import FAULTLESS, FAULTS, LARGEST_PX
from bubblegrade.drawn.lures import LENGTH_PX, WIDTH_PX, Lure, draw_lure, outline_of

VOID = ((0.5, 0.5, 24.0),)


def test_the_same_lure_gives_the_same_picture() -> None:
    lure = Lure(voids=VOID, flakes=3, seed=4)
    assert (draw_lure(lure).picture == draw_lure(lure).picture).all()


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("degrees", "size"), [(0.0, 1.0), (130.0, 0.6)])
def test_a_void_is_dark_where_it_should_be(degrees: float, size: float, *, mirrored: bool) -> None:
    shape = {"turned_degrees": degrees, "size": size, "mirrored": mirrored, "eye": False}
    plain, drawn = draw_lure(Lure(**shape)).picture, draw_lure(Lure(voids=((0.3, 0.6, 24.0),), **shape))
    dark = np.argwhere(plain[..., 1].astype(int) - drawn.picture[..., 1] > 60)
    assert dark.mean(axis=0) == pytest.approx([drawn.y_px[0], drawn.x_px[0]], abs=0.6)
    assert drawn.diameter_px.tolist() == [24.0 * size]
    assert np.ptp(dark, axis=0) + 1 == pytest.approx(24.0 * size, abs=3.0)


def test_the_outline_has_length_and_width_whatever_the_turn() -> None:
    assert np.ptp(outline_of(Lure()), axis=0) == pytest.approx([LENGTH_PX, WIDTH_PX], rel=0.001)
    assert np.ptp(outline_of(Lure(turned_degrees=90.0, size=2.0)), axis=0) == pytest.approx(
        [2 * WIDTH_PX, 2 * LENGTH_PX], rel=0.001
    )


def test_hardware_and_flakes_are_opaque() -> None:
    clear = draw_lure(Lure(eye=False)).picture[..., 1]
    for lure, least in (
        (Lure(), 300),
        (Lure(eye=False, wire=(0.3, 0.5, 0.6, 0.5)), 600),
        (Lure(eye=False, flakes=9), 150),
    ):
        dark = (draw_lure(lure).picture[..., 1] < 90) & (clear > 150)
        assert least < dark.sum() < 3 * least


def test_faults_are_over_their_limits_and_faultless_lures_are_not() -> None:
    for number in range(20):
        rng = np.random.default_rng(number)
        for zone, limit in LARGEST_PX.items():
            assert FAULTS[f"large in {zone}"](rng).voids[0][2] > 1.1 * limit
        assert all(
            void[2] < 0.9 * limit
            for void, limit in zip(FAULTLESS["clean"](rng).voids, LARGEST_PX.values(), strict=True)
        )
        assert len(FAULTS["cluster"](rng).voids) == 3
