"""One of two castings in a frame is outlined as if alone, and the other one is said; other things are none."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from bubblegrade.casting.beside import further
from bubblegrade.casting.edge import widest_span
from bubblegrade.casting.held_line import Flood
from bubblegrade.casting.outline import coarse_picture, find_outline, lit_field
from tests.casting.two import disc_light

ONE = (350.0, 400.0, 250.0, 0.93)


@pytest.mark.parametrize(
    ("other", "lie"),
    [
        ((950.0, 400.0, 250.0, 0.93), np.asarray), ((950.0, 400.0, 250.0, 0.93), np.transpose),
        ((852.0, 400.0, 250.0, 0.93), np.asarray), ((950.0, 400.0, 250.0, 0.5), np.asarray),
        ((800.0, 500.0, 130.0, 0.9), np.asarray),
    ],
    ids=["side by side", "one above the other", "touching", "dark", "small"],
)  # fmt: skip
def test_a_second_casting_is_seen_and_the_first_outlined_as_if_alone(
    other: tuple[float, float, float, float], lie: Callable[[np.ndarray], np.ndarray]
) -> None:
    outline = find_outline(np.ascontiguousarray(lie(disc_light(800, 1300, ONE, other))))
    assert outline is not None
    (beside,) = outline.beside
    near, far = sorted((ONE[2], other[2]), key=lambda radius: abs(np.pi * radius**2 - outline.area_px))
    assert outline.area_px == pytest.approx(np.pi * near**2, rel=0.02)
    assert widest_span(outline.edge_px)[2] == pytest.approx(2 * near, rel=0.01)
    assert np.sqrt(beside.sum() / np.pi) * outline.step_px == pytest.approx(far, abs=3 * outline.step_px)


@pytest.mark.parametrize(
    "other", [(1290.0, 400.0, 200.0, 0.9), (1200.0, 90.0, 200.0, 0.93), (950.0, 790.0, 250.0, 0.6)],
    ids=["side", "corner", "dark, below"],
)  # fmt: skip
def test_a_second_casting_that_the_frame_cuts_is_seen(other: tuple[float, float, float, float]) -> None:
    outline = find_outline(disc_light(800, 1300, ONE, other))
    assert outline is not None
    (beside,) = outline.beside
    y, x = (np.indices(beside.shape) + 0.5) * outline.step_px
    shown = np.hypot(x - other[0], y - other[1]) < other[2]
    assert (beside & shown).sum() > 0.9 * shown.sum()
    assert beside.sum() < 1.1 * shown.sum()
    assert outline.area_px == pytest.approx(np.pi * ONE[2] ** 2, rel=0.02)


def test_a_sheet_along_a_whole_side_is_no_casting() -> None:
    light = disc_light(800, 1300, ONE)
    light[:, 1000:] *= 0.9
    outline = find_outline(light)
    assert outline is not None
    assert outline.beside == ()


@pytest.mark.parametrize(
    "thing",
    [
        (950.0, 400.0, 150.0, 0.02), (950.0, 400.0, 60.0, 0.9), (1300.0, 400.0, 150.0, 0.02),
        (1300.0, 400.0, 60.0, 0.9),
    ],
    ids=["coin", "small piece", "coin, cut", "small piece, cut"],
)  # fmt: skip
def test_what_is_opaque_or_small_is_no_second_casting(
    thing: tuple[float, float, float, float],
) -> None:
    outline = find_outline(disc_light(800, 1300, ONE, thing))
    assert outline is not None
    assert outline.beside == ()
    assert outline.area_px == pytest.approx(np.pi * ONE[2] ** 2, rel=0.02)


def test_a_casting_around_a_line_that_was_taken_for_it_is_found_whole() -> None:
    light = disc_light(800, 800, (400.0, 400.0, 300.0, 0.93), (400.0, 400.0, 150.0, 0.8))
    coarse, step = coarse_picture(light)
    y, x = np.mgrid[: coarse.shape[0], : coarse.shape[1]]
    inner = np.hypot(x - 400 / step, y - 400 / step) < 150 / step
    (whole,) = further(Flood.over(coarse, lit_field(coarse)), coarse, inner)
    assert (whole & inner).sum() == inner.sum()
    assert whole.sum() * step**2 == pytest.approx(np.pi * 300.0**2, rel=0.05)
