"""What is judged and what is hardware, in drawn lures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.errors import PhotoError, SettingsError
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.limits import Limits
from bubblegrade.inspection.reference import carried_over
from bubblegrade.inspection.seen import Seen, coarse_light, seen
from bubblegrade.inspection.shapes import Polygon
from bubblegrade.voids.table import Voids


def test_light_is_averaged_over_squares_that_fit_the_picture() -> None:
    light = np.random.default_rng(1).uniform(0.0, 1.0, (1000, 1601)).astype(np.float32)
    coarse, step = coarse_light(light)
    assert (step, coarse.shape) == (3, (334, 534))
    assert coarse[10, 20] == pytest.approx(light[30:33, 60:63].mean(), abs=1e-4)
    assert coarse_light(light[:300, :400])[1] == 1


def test_a_thick_opaque_body_is_hardware_and_a_thin_one_cannot_be_judged_through(
    piece: Callable[..., Casting], drop: np.ndarray
) -> None:
    light = np.full((200, 300), 0.6, np.float32)
    y, x = np.indices(light.shape)
    eye, flake = np.hypot(x - 80, y - 90) <= 10, (abs(x - 160) <= 2) & (abs(y - 80) <= 2)
    void = np.hypot(x - 120, y - 95) <= 12
    light[eye | flake | void] = 0.02
    found = seen(piece((120.0, 95.0, 24.0, 0.1)), light)
    assert found.solid.sum() == pytest.approx(np.pi * 100.0, rel=0.05)
    assert found.hardware_px == pytest.approx(np.array([[80.0, 90.0]]), abs=0.2)
    assert not found.judged[flake].any()
    assert found.judged[void].all()
    away = found.at(found.from_solid, np.array([[110.0, 90.0]]))
    assert away == pytest.approx([20.0], abs=0.6)
    assert np.isinf(found.at(replace(found, solid=found.solid & False).from_solid, drop)).all()


def test_a_long_wire_that_was_not_named_is_hardware_and_a_short_one_is_not(piece: Callable[..., Casting]) -> None:
    """In a piece of 200 by 100 px; wire 4 px thick is less than what is hardware by its thickness, 7."""
    light = np.full((200, 300), 0.6, np.float32)
    light[95:99, 110:190] = 0.02
    light[120:124, 130:160] = 0.02
    found = seen(piece(), light)
    assert found.solid[95:99, 112:188].all()
    assert not found.solid[118:126].any()


@pytest.mark.parametrize("kind", ["fibre", "scratch", "unsure"])
def test_a_long_dark_body_that_was_named_otherwise_is_no_wire_and_may_hide_voids(
    piece: Callable[..., Casting], kind: str
) -> None:
    light = np.full((200, 300), 0.6, np.float32)
    light[95:99, 110:190] = 0.02
    aside = Voids.of(x_px=[150.0], y_px=[96.5], diameter_px=[4.0], kind=[kind])
    found = seen(replace(piece(), set_aside=aside), light)
    assert not found.solid.any()
    assert found.unseen[97, 150] > 4.0


def test_wood_at_the_outline_is_hardware_and_no_dark_rim_that_may_hide_voids(piece: Callable[..., Casting]) -> None:
    light = np.full((200, 300), 0.6, np.float32)
    light[:, 165:] = 0.003
    found = seen(piece(), light)
    assert found.solid.sum() == pytest.approx(found.piece[:, 165:].sum(), rel=0.02)
    assert found.judged.sum() == pytest.approx(found.piece[:, :165].sum(), rel=0.02)
    assert (len(found.bulges_px), len(found.breaks_px), len(found.beside_px)) == (0, 0, 0)
    assert found.unseen.max() < 4.0


@pytest.mark.parametrize(
    ("void", "told"),
    [
        ((150.0, 86.0, 10.0, 0.8), 1),  # an arc counted as a small void
        ((150.0, 86.0, 10.0, 0.1), 0),  # a void of sure size is none
        ((150.0, 97.0, 24.0, 2.0), 0),  # the whole ring, counted
    ],
)
def test_a_void_of_doubtful_size_may_be_an_arc_of_a_larger_one(
    piece: Callable[..., Casting], void: tuple[float, float, float, float], told: int
) -> None:
    y, x = np.indices((200, 300))
    away, around = np.hypot(x - 150, y - 97), np.degrees(np.arctan2(y - 97, x - 150)) % 360
    arcs = ((around >= 10) & (around <= 130)) | ((around >= 190) & (around <= 310))
    noise = np.random.default_rng(1).normal(1.0, 0.01, x.shape)
    light = (0.6 * np.where((away <= 12) & (away > 9) & arcs, 0.4, 1.0) * noise).astype(np.float32)
    rings = seen(piece(void), light).rings_px
    assert len(rings) == told
    if told:
        assert rings[0] == pytest.approx([150.0, 97.0, 24.0], abs=4.0)


def test_a_polygon_on_the_reference_becomes_fractions(
    piece: Callable[..., Casting], seen_piece: Callable[..., Seen], limits: Callable[[str], Limits]
) -> None:
    text = 'reference = "a.jpg"\n[zones.spot]\nshape = "polygon"\nlargest = "1mm"\ncorners_px = {}'
    held = limits(text.format("[[90, 70], [150, 70], [150, 100]]"))
    shape = carried_over(held, piece(), seen_piece()).zones[0].shape
    assert isinstance(shape, Polygon)
    assert not shape.on_reference
    assert shape.border()[:, 0] == pytest.approx([0.25, 0.5, 0.5], abs=0.03)
    with pytest.raises(SettingsError, match="spot lies outside the piece"):
        carried_over(limits(text.format("[[0, 0], [9, 0], [9, 9]]")), piece(), seen_piece())
    untold = replace(held, head=("up",))
    with pytest.raises(SettingsError, match=r'does not tell its head, for it lies across "up": lay it and every'):
        carried_over(untold, piece(), seen_piece())
    around = np.linspace(0.0, 2.0 * np.pi, 90, endpoint=False)
    disc = 100.0 + 60.0 * np.stack([np.cos(around), np.sin(around)], axis=1)
    with pytest.raises(SettingsError, match="too round to tell its length"):
        carried_over(held, piece(outline_px=disc), seen_piece())


def test_a_piece_without_an_outline_is_refused(piece: Callable[..., Casting]) -> None:
    with pytest.raises(PhotoError, match=r"cup\.jpg: no outline was found"):
        seen(piece(outline_px=np.empty((0, 2))), np.full((200, 300), 0.6, np.float32))


def test_no_larger_void_may_lie_unseen_than_fits_within_the_outline() -> None:
    """Where a strip of 20 squares with a rim of 4 is dark all across, its own width limits a void, not twice it."""
    piece = np.zeros((40, 200), bool)
    piece[10:30, 10:190] = True
    judged = np.zeros_like(piece)
    judged[14:26, 14:100] = True
    held = Seen(2, piece, judged, judged & False, breaks_px=np.array([[300.0, 40.0, 90.0], [100.0, 24.0, 16.0]]))
    assert held.unseen[:, 150].max() == pytest.approx(2 * 20, abs=2)
    assert held.unseen[:, 50].max() == pytest.approx(2 * 2 * 4, abs=5)
    assert held.fitting_breaks_px[:, 2] == pytest.approx([2 * 20, 16], abs=2)


def test_light_that_falls_off_leaves_as_much_judged_as_even_light(piece: Callable[..., Casting]) -> None:
    light = np.full((200, 300), 0.8, np.float32)
    y, x = np.indices(light.shape)
    light[np.hypot(x - 80, y - 90) <= 10] *= 0.02  # an eye
    light[np.hypot(x - 200, y - 85) <= 6] *= 0.6  # shaded
    uneven = light * np.linspace(1.0, 0.45, 300, dtype=np.float32)
    even, found = seen(piece(), light), seen(piece(), uneven)
    assert (even.judged != found.judged).mean() < 1e-3
    np.testing.assert_array_equal(even.solid, found.solid)
    assert not found.judged[85, 200]
    room = np.ones(light.shape, bool)
    room[40:160, 20:280] = False
    assert (even.judged != seen(piece(), np.where(room, np.float32(0.05), uneven)).judged).mean() < 1e-3
