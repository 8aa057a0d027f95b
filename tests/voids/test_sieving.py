"""The sieve: which begun rings are worth finishing."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.transmittance import darkness
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.photo.light import grey_light
from bubblegrade.settings import Settings
from bubblegrade.voids.border import Border
from bubblegrade.voids.detecting import Begun, begun_candidates
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.network import Network
from bubblegrade.voids.sieving import LEAST_LIKELY, Sieve, begun_looks, learned_sieve


@pytest.fixture(scope="module")
def scene() -> Scene:
    """Return a cup of 36 voids of 7 to 40 px."""
    x, y = grid(np.linspace(180, 620, 6), np.linspace(180, 620, 6))
    return Scene(casting_px=330.0, x_px=x, y_px=y, diameter_px=np.linspace(7.0, 40.0, 36), theta=0.55)


@pytest.fixture(scope="module")
def begun(scene: Scene) -> Begun:
    """Return the begun candidates of the scene."""
    light = grey_light(draw(scene).picture)
    outline = find_outline(light)
    assert outline is not None
    return begun_candidates(darkness(light), outline, Settings())


def test_every_void_keeps_a_candidate_and_at_least_half_of_all_are_let_go(scene: Scene, begun: Begun) -> None:
    worth = learned_sieve()(begun.looks)
    kept = begun.fits[worth]
    for x, y, d in zip(scene.x_px, scene.y_px, scene.diameter_px, strict=True):
        near = np.hypot(kept.x_px - x, kept.y_px - y) < 0.2 * d
        assert (np.abs(2 * kept.radius_px[near] / d - 1) < 0.2).any()
    assert worth.sum() < 0.5 * len(worth)


def test_the_limit_is_the_stated_probability() -> None:
    limit = np.log(LEAST_LIKELY / (1 - LEAST_LIKELY))
    says = Network(np.zeros(1, np.float32), np.ones(1, np.float32), (((np.ones((1, 1), np.float32), np.zeros(1)),),))
    np.testing.assert_array_equal(Sieve(says)(np.array([[limit - 0.01], [limit + 0.01]])), [False, True])


def test_looks_do_not_change_with_the_scale() -> None:
    rng = np.random.default_rng(3)
    columns = [rng.uniform(1, 2, 5).astype(np.float32) for _ in range(10)]
    fits = Fits(*columns)
    twice = Fits(*[2 * c if i < 5 else c for i, c in enumerate(columns)])  # places, radius, its error, blur
    border = rng.uniform(0, 9, 5).astype(np.float32)
    one = begun_looks(fits, fits, noise=0.01, border_px=border)
    other = begun_looks(twice, twice, noise=0.01, border_px=2 * border)
    scaled = [0, 2]  # the logarithms of radius and blur
    np.testing.assert_allclose(np.delete(one, scaled, axis=1), np.delete(other, scaled, axis=1), rtol=1e-5, atol=1e-6)
    np.testing.assert_allclose(other[:, scaled] - one[:, scaled], np.log(2), rtol=1e-5)


def test_nothing_begun_is_nothing_worth_finishing() -> None:
    none = Fits(*[np.empty(0, np.float32)] * 10)
    looks = begun_looks(none, none, noise=0.01, border_px=np.empty(0, np.float32))
    assert learned_sieve()(looks).shape == (0,)


def test_the_way_to_the_border_is_told_in_px_of_the_photograph() -> None:
    light = grey_light(draw(Scene(casting_px=330.0)).picture)
    outline = find_outline(light)
    assert outline is not None
    border = Border.of(outline)
    middle = np.array([[400.0, 400.0], [400.0, 200.0], [10.0, 10.0]], np.float32)
    at = border.at(middle[:, 0], middle[:, 1])
    np.testing.assert_allclose(at[:2], [330.0, 130.0], rtol=0.02)  # chamfer distances are that good
    assert at[2] < 0
    assert border.at(middle[:0, 0], middle[:0, 1]).shape == (0,)
