"""A lens out of focus draws each point as a disc: voids are sized as what they are, or said to be too small for it."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.drawn import spoiled
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

DISCS_PX = (5.0, 6.0)  # radius


def seen(radius_px: float) -> tuple[Casting, np.ndarray, np.ndarray]:
    """Return a casting whose photograph is out of focus, with true and measured diameters of its voids, px."""
    x, y = grid(np.linspace(180, 820, 8), np.linspace(180, 820, 8))
    true = np.tile(np.linspace(9.0, 40.0, 8), 8)
    picture = draw(
        Scene(width_px=1000, height_px=1000, casting_px=490.0, x_px=x, y_px=y, diameter_px=true, blur_px=0.7)
    ).picture
    casting = grade(Photo("cup.png", spoiled.out_of_focus(picture, radius_px), "0" * 64), Request(), Settings())
    voids = casting.voids
    nearest = np.argmin(np.hypot(voids.x_px[:, None] - x, voids.y_px[:, None] - y), axis=1)
    return casting, true[nearest], voids.diameter_px


@pytest.mark.parametrize("radius_px", DISCS_PX)
def test_voids_that_count_are_sized_to_two_per_cent(radius_px: float) -> None:
    casting, true, measured = seen(radius_px)
    counted = measured >= casting.sizes_px.smallest
    assert counted.sum() >= 20
    assert np.median(measured[counted] / true[counted]) == pytest.approx(1.0, abs=0.02)


@pytest.mark.parametrize("radius_px", DISCS_PX)
def test_the_stated_interval_holds_the_true_diameter(radius_px: float) -> None:
    casting, true, measured = seen(radius_px)
    inside = np.abs(measured - true) < 1.96 * casting.voids.diameter_err_px
    assert inside.mean() > 0.9


@pytest.mark.parametrize("radius_px", DISCS_PX)
def test_voids_narrower_than_the_disc_do_not_count(radius_px: float) -> None:
    assert seen(radius_px)[0].sizes_px.smallest > 2.0 * radius_px
