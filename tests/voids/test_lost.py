"""How much light voids take, counted ones and those too small to count."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.pictures import Scene, bare_light, draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.grading.estimate import NORMAL_95
from bubblegrade.photo.light import grey_light
from bubblegrade.voids import lost
from bubblegrade.voids.finding import noise_of
from bubblegrade.voids.lost import LostLight, discs, lost_light, silhouettes
from bubblegrade.voids.rings import ring_table
from bubblegrade.voids.table import Voids

THETA = 0.4
ONE = Voids.of(x_px=[45.0], y_px=[50.0], diameter_px=[24.0])


def on_plain(dark: np.ndarray, voids: Voids, aside: np.ndarray | None = None) -> LostLight:
    """Return the light lost in a picture of darkness, all of it judged, counted from 5 px on."""
    everywhere = np.ones(dark.shape, bool)
    aside = ~everywhere if aside is None else aside
    return lost_light(dark, voids, aside, everywhere, speckable=everywhere, noise=0.01, smallest_px=5.0)


def specked(*places: tuple[int, int]) -> np.ndarray:
    """Return 200 px of darkness with a speck of 2 px at each (row, column), on a little noise."""
    dark = np.random.default_rng(4).normal(0.0, 0.01, (200, 200)).astype(np.float32)
    for row, col in places:
        dark[row : row + 2, col : col + 2] += 0.6
    return dark


def cup_of(sizes: np.ndarray, **fields: object) -> Scene:
    """Return a cup of 800 px with voids of these diameters in px, in resin as clear as the light."""
    held = {"clear": 1.0, "vignette": 0.0, "casting_px": 380.0, "theta": THETA, **fields}
    scene = cup(sizes, mm_per_px=1.0, rng=np.random.default_rng(1), **held)
    return replace(scene, casting_px=0.0)


def lost_in(scene: Scene, voids: Voids, aside: np.ndarray | None = None) -> LostLight:
    """Return the light lost in a drawn scene, all of it judged."""
    dark = (1 - grey_light(draw(scene).picture) / bare_light(scene)).astype(np.float32)
    aside = np.zeros(dark.shape, bool) if aside is None else aside
    everywhere = np.ones(dark.shape, bool)
    return lost_light(dark, voids, aside, everywhere, speckable=everywhere, noise=noise_of(dark), smallest_px=5.0)


def truth_of(scene: Scene) -> Voids:
    """Return the drawn voids as a table."""
    rows = np.size(scene.x_px)
    darkness = ring_table(scene.theta, scene.wall).mean_darkness
    return Voids.of(x_px=scene.x_px, y_px=scene.y_px, diameter_px=scene.diameter_px, contrast=np.full(rows, darkness))


def area_share(scene: Scene) -> float:
    """Return the share of the frame that the silhouettes cover."""
    return float(np.pi / 4 * np.sum(np.asarray(scene.diameter_px) ** 2)) / scene.width_px / scene.height_px


@pytest.mark.parametrize(("count", "median"), [(20, 12.0), (120, 12.0), (40, 30.0)])
@pytest.mark.parametrize("blur", [0.6, 1.5])
def test_cover_is_the_area_share_of_the_drawn_voids(count: int, median: float, blur: float) -> None:
    scene = cup_of(population(count, median, 1.4, rng=np.random.default_rng(2)), blur_px=blur)
    lost = lost_in(scene, truth_of(scene))
    assert lost.cover == pytest.approx(area_share(scene), rel=0.02)
    assert lost.veil < 0.05 * lost.cover


def test_the_doubt_of_the_cover_is_that_of_all_diameters_together() -> None:
    voids = Voids.of(x_px=[20.0, 70.0], y_px=[20.0, 70.0], diameter_px=[20.0, 20.0], diameter_err_px=[0.4, 0.4])
    lost = on_plain(np.zeros((100, 100), np.float32), voids)
    assert lost.cover_err == pytest.approx(2 * 0.02 * lost.cover)


def test_what_darkens_a_void_from_beside_it_adds_nothing_to_what_it_covers() -> None:
    dark = np.zeros((100, 100), np.float32)
    dark[:, 58:70] = 0.9  # as a casting's rim
    assert on_plain(dark, ONE).cover == on_plain(np.zeros_like(dark), ONE).cover


def test_voids_that_are_not_counted_are_veil_and_the_loss_stays_alike() -> None:
    scene = cup_of(np.full(300, 4.0), theta=0.64, wall=0.5)  # the light that is assumed where no counted void tells
    lost = lost_in(scene, Voids.none())
    assert lost.cover == 0.0
    assert lost.veil == pytest.approx(area_share(scene), rel=0.3)


def test_clear_resin_loses_nothing() -> None:
    lost = lost_in(cup_of(np.empty(0)), Voids.none())
    assert (lost.cover, lost.veil) == (0.0, pytest.approx(0.0, abs=1e-5))


@pytest.mark.parametrize("hollow", [True, False])
def test_a_ring_or_a_wire_that_nothing_set_aside_is_no_veil(*, hollow: bool) -> None:
    dark, bare = specked((20, 20), (150, 160)), specked((20, 20), (150, 160))
    if hollow:
        cv2.circle(dark, (100, 100), 30, 0.8, thickness=6)
        dark[100:102, 100:102] += 0.6  # within a ring nothing is told
    else:
        cv2.line(dark, (60, 30), (180, 120), 0.8, thickness=5)
    with_it, without = on_plain(dark, Voids.none()), on_plain(bare, Voids.none())
    assert without.veil > 0
    assert with_it.veil == pytest.approx(without.veil, rel=0.02)


def test_a_speck_beside_hardware_is_veil_as_one_away_from_it() -> None:
    aside = np.zeros((200, 200), bool)
    aside[80:120, :] = True
    beside, away = ((specked((row, 100)) + 0.9 * aside).astype(np.float32) for row in (128, 170))
    near, far = (on_plain(dark, Voids.none(), aside).veil for dark in (beside, away))
    assert far > 0
    assert near == pytest.approx(far, rel=0.1)


def test_the_veil_may_be_none_or_twice_as_much() -> None:
    lost = on_plain(specked((20, 20), (150, 160)), Voids.none())
    assert 0.95 < NORMAL_95 * lost.veil_err / lost.veil < 1.1


def test_what_is_set_aside_counts_on_neither_side() -> None:
    scene = cup_of(np.full(40, 20.0))
    aside = np.zeros((800, 800), bool)
    aside[:, :400] = True
    truth = truth_of(scene)
    right = truth.x_px > 400
    share = float(np.pi / 4 * np.sum(truth.diameter_px[right] ** 2)) / (400 * 800)
    assert lost_in(scene, truth, aside).cover == pytest.approx(share, rel=0.15)


def test_what_lies_in_the_shade_of_the_border_is_no_veil_but_covers() -> None:
    scene = cup_of(np.full(40, 20.0))
    dark = (1 - grey_light(draw(scene).picture) / bare_light(scene)).astype(np.float32)
    nowhere, everywhere = np.zeros(dark.shape, bool), np.ones(dark.shape, bool)
    lost = lost_light(
        dark, truth_of(scene), nowhere, everywhere, speckable=nowhere, noise=noise_of(dark), smallest_px=5.0
    )
    assert lost.veil == 0.0
    assert lost.cover == pytest.approx(area_share(scene), rel=0.10)


def test_nothing_judged_leaves_the_loss_unknown() -> None:
    dark = np.zeros((50, 50), np.float32)
    nothing = np.zeros((50, 50), bool)
    lost = lost_light(dark, Voids.none(), nothing, nothing, speckable=nothing, noise=0.01, smallest_px=5.0)
    assert np.isnan([lost.cover, lost.cover_err, lost.veil, lost.veil_err]).all()


def test_silhouettes_hold_the_pixels_whose_middles_lie_in_them_and_end_with_the_picture() -> None:
    x, y, size = np.random.default_rng(6).uniform([-9.0, -9.0, 0.3], [69.0, 89.0, 30.0], (40, 3)).T
    row, col = np.indices((80, 60))
    apart = np.hypot(row - y[:, None, None], col - x[:, None, None])
    drawn = silhouettes((80, 60), Voids.of(x_px=x, y_px=y, diameter_px=size))
    np.testing.assert_array_equal(drawn, np.any(apart <= size[:, None, None] / 2, axis=0))


@pytest.mark.parametrize("factor", [1.0, 1.25])
def test_discs_end_within_a_pixel_of_their_circles(factor: float) -> None:
    voids = Voids.of(x_px=[50.3], y_px=[49.6], diameter_px=[60.0])
    drawn = discs((100, 100), voids, factor)
    y, x = np.indices(drawn.shape)
    away = np.hypot(x - 50.3, y - 49.6)
    assert drawn[away < 30 * factor - 1].all()
    assert not drawn[away > 30 * factor + 1].any()


def test_specks_and_cover_do_not_hang_on_how_many_lines_are_worked_on_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    sizes = population(60, 12.0, 1.6, rng=np.random.default_rng(3))
    scene = cup_of(sizes)
    large = truth_of(scene)[np.asarray(scene.diameter_px) > 12.0]
    whole = vars(lost_in(scene, large))
    monkeypatch.setattr(lost, "STRIP_PX", 48)
    assert vars(lost_in(scene, large)) == pytest.approx(whole, rel=1e-12)
    assert whole["veil"] > 0
