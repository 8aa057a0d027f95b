"""What the step that finds voids adds of its own to their uncertainties."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import cv2
import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.transmittance import darkness
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.photo.light import grey_light
from bubblegrade.settings import Settings
from bubblegrade.voids.border import amid_resin
from bubblegrade.voids.detecting import find_voids
from bubblegrade.voids.table import Voids

# Clear casting resins: index 1.49 to 1.57 (common practice); by how much diameters in lures and tapered cups move with
# it was measured on traced ones: up to 0.41 % per 0.01 (tests/benchmarks/README.md).
OF_THE_INDEX: Final = 0.03 * 0.41


def voids_of(*, bent: bool, index: float) -> Voids:
    """Return the voids of one drawn casting, taken for one whose border bends the view or not."""
    x, y = grid(np.linspace(240, 400, 3), np.linspace(240, 400, 3))
    scene = Scene(casting_px=260.0, x_px=x, y_px=y, diameter_px=np.linspace(10.0, 40.0, 9), width_px=640, height_px=640)
    codes = draw(scene).picture
    light = grey_light(codes)
    outline = find_outline(light)
    assert outline is not None
    assert not outline.bent
    settings = Settings(index=index)
    return find_voids(darkness(light, outline), codes, replace(outline, bent=bent), settings).voids


def test_where_the_border_bends_the_view_sizes_are_less_sure_if_the_index_is_not_told() -> None:
    plain, bent_view = (voids_of(bent=bent, index=1.50) for bent in (False, True))
    assert len(bent_view) == 9
    more = np.sqrt(bent_view.diameter_err_px**2 - plain.diameter_err_px**2) / bent_view.diameter_px
    assert more == pytest.approx(OF_THE_INDEX, rel=0.05)


def test_with_the_index_told_they_are_as_sure_as_any() -> None:
    plain, bent_view = (voids_of(bent=bent, index=1.53) for bent in (False, True))
    assert (bent_view.diameter_err_px == plain.diameter_err_px).all()


@pytest.mark.parametrize(("outer_px", "wire_px"), [(10, 5), (12, 8), (14, 8), (17, 11)])
def test_a_loop_of_wire_that_stands_out_of_the_casting_is_no_void(outer_px: int, wire_px: int) -> None:
    x, y = grid(np.linspace(240, 400, 3), np.linspace(240, 400, 3))
    scene = Scene(casting_px=260.0, x_px=x, y_px=y, diameter_px=np.linspace(10.0, 40.0, 9), width_px=640, height_px=640)
    codes, middle = draw(scene).picture.copy(), (round(319.5 + 260.0 + outer_px - wire_px), 320)
    cv2.circle(codes, middle, outer_px - wire_px // 2, (8, 8, 8), wire_px, cv2.LINE_AA)
    light = grey_light(codes)
    outline = find_outline(light)
    assert outline is not None
    assert outline.holds(outline.casting, np.array([middle[0] + outer_px - 3.0]), np.array([320.0])).all()
    voids = find_voids(darkness(light, outline), codes, outline, Settings()).voids
    assert len(voids) == 9


def test_a_void_at_a_corner_and_a_small_ring_at_an_edge_lie_in_resin_and_a_large_ring_on_the_edge_does_not() -> None:
    light = np.full((800, 800), 0.6, np.float32)
    light[200:600, 200:600] = 0.55
    outline = find_outline(light)
    assert outline is not None
    corner, small, beyond = (230.0, 230.0, 30.0), (198.0, 400.0, 4.0), (185.0, 400.0, 30.0)
    x, y, radius = np.array([corner, small, beyond], np.float32).T
    assert amid_resin(outline, x, y, radius).tolist() == [True, True, False]
