"""How much light voids take, counted ones and those too small to count."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.drawn.pictures import Scene, bare_light, draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.photo.light import grey_light
from bubblegrade.voids import lost
from bubblegrade.voids.finding import noise_of
from bubblegrade.voids.lost import LostLight, discs, lost_light
from bubblegrade.voids.rings import ring_table
from bubblegrade.voids.table import Voids

THETA = 0.4


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
    return lost_light(dark, voids, aside, everywhere, speckable=everywhere, noise=noise_of(dark))


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
def test_cover_is_the_area_share_of_the_drawn_voids_to_a_tenth(count: int, median: float, blur: float) -> None:
    scene = cup_of(population(count, median, 1.4, rng=np.random.default_rng(2)), blur_px=blur)
    lost = lost_in(scene, truth_of(scene))
    assert lost.cover == pytest.approx(area_share(scene), rel=0.10)
    assert lost.veil < 0.05 * lost.cover
    assert 0 <= lost.cover_err < lost.cover


def test_voids_that_are_not_counted_are_veil_and_the_loss_stays_alike() -> None:
    scene = cup_of(np.full(300, 4.0), theta=0.64, wall=0.5)  # the light that is assumed where no counted void tells
    lost = lost_in(scene, Voids.none())
    assert lost.cover == 0.0
    assert lost.veil == pytest.approx(area_share(scene), rel=0.3)


def test_clear_resin_loses_nothing() -> None:
    lost = lost_in(cup_of(np.empty(0)), Voids.none())
    assert (lost.cover, lost.veil) == (0.0, pytest.approx(0.0, abs=1e-5))


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
    lost = lost_light(dark, truth_of(scene), nowhere, everywhere, speckable=nowhere, noise=noise_of(dark))
    assert lost.veil == 0.0
    assert lost.cover == pytest.approx(area_share(scene), rel=0.10)


def test_nothing_judged_leaves_the_loss_unknown() -> None:
    dark = np.zeros((50, 50), np.float32)
    nothing = np.zeros((50, 50), bool)
    lost = lost_light(dark, Voids.none(), nothing, nothing, speckable=nothing, noise=0.01)
    assert np.isnan([lost.cover, lost.cover_err, lost.veil, lost.veil_err]).all()


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
