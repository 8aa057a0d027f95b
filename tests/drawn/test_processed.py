"""What phones and cameras do to a picture moves nothing in it, and goes unnoticed where there is nothing to see."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.drawn.processed import processed

SIDE = 260


def cup(diameter_px: float) -> np.ndarray:
    return draw(
        Scene(
            casting_px=2000.0, width_px=SIDE, height_px=SIDE, x_px=(130.0,), y_px=(120.0,), diameter_px=(diameter_px,)
        )
    ).picture


@pytest.mark.parametrize("seed", range(12))
def test_a_void_stays_where_it_is_and_as_wide(seed: int) -> None:
    before = cup(60.0)
    after = processed(before, np.random.default_rng(seed))
    assert after.shape == before.shape
    assert after.dtype == np.uint8
    places = []
    for picture in (before, after):
        grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY).astype(np.float64)
        clear = np.median(grey)
        dark = (clear - grey) / (clear - np.percentile(grey, 0.5)) > 0.6
        rows, cols = np.nonzero(dark)
        places.append((cols.mean(), rows.mean(), np.percentile(np.hypot(cols - cols.mean(), rows - rows.mean()), 90)))
    np.testing.assert_allclose(places[1], places[0], atol=1.5)


@pytest.mark.parametrize("seed", range(12))
def test_even_light_stays_even(seed: int) -> None:
    assert np.ptp(processed(np.full((64, 96, 3), 150, np.uint8), np.random.default_rng(seed))) <= 2


def test_seeds_process_alike_and_unlike() -> None:
    one, same, other = (processed(cup(40.0), np.random.default_rng(seed)) for seed in (1, 1, 2))
    np.testing.assert_array_equal(one, same)
    assert (one != other).any()
