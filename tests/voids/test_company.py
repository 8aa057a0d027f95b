"""Finds in company: what stands together is told alike however it is turned, and dirt is hardly ever a void."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bubblegrade.casting.outline import find_outline, whole_field
from bubblegrade.casting.transmittance import darkness
from bubblegrade.drawn.pictures import Scene, draw, grid
from bubblegrade.drawn.smudges import smudges
from bubblegrade.photo.light import encoded, grey_light, linear
from bubblegrade.settings import Settings
from bubblegrade.voids.company import TRUSTED, Company, company_of, learned_company, log_odds
from bubblegrade.voids.detecting import find_voids
from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import OTHER_KINDS, Verdicts
from bubblegrade.voids.network import Network

BESIDE, OVER = slice(-11, -7), slice(-7, None)  # columns: what stands nearest, what lies over


def fits_at(x: list[float], y: list[float], radius: list[float]) -> Fits:
    """Return rings at these places, of usual sharpness and depth."""
    places = [np.array(column, np.float32) for column in (x, y, radius)]
    same = np.ones(len(x), np.float32)
    return Fits(*places, 0.01 * same, same, 0.8 * same, 0 * same, 0.9 * same, 0.9 * same, same)


def said(likely: list[float]) -> Verdicts:
    """Return verdicts of these probabilities."""
    rows = len(likely)
    other = np.full((rows, len(OTHER_KINDS)), 1 / len(OTHER_KINDS), np.float32)
    nothing = np.zeros(rows, np.float32)
    return Verdicts(np.array(likely, np.float32), nothing, nothing + np.float32(0.02), other)


def looks(fits: Fits, verdicts: Verdicts) -> np.ndarray:
    """Return the looks without what the judge was told."""
    return company_of(fits, np.empty((len(fits.x_px), 0), np.float32), verdicts)


def crowd() -> tuple[Fits, Verdicts]:
    """Return thirty rings at random, some in others."""
    rng = np.random.default_rng(8)
    fits = fits_at(*rng.uniform(0, 200, (2, 30)).tolist(), np.exp(rng.uniform(1, 3.5, 30)).tolist())
    return fits, said(rng.uniform(0, 1, 30).tolist())


def test_a_turned_or_mirrored_photograph_has_the_same_company() -> None:
    fits, verdicts = crowd()
    before = looks(fits, verdicts)
    for moved in (replace(fits, x_px=300 - fits.y_px, y_px=fits.x_px), replace(fits, x_px=-fits.x_px)):
        np.testing.assert_allclose(looks(moved, verdicts), before, rtol=1e-4, atol=1e-4)


def test_the_order_of_the_candidates_makes_no_difference() -> None:
    fits, verdicts = crowd()
    order = np.random.default_rng(1).permutation(30)
    np.testing.assert_allclose(looks(fits[order], verdicts[order]), looks(fits, verdicts)[order], rtol=1e-4, atol=1e-5)


def test_who_lies_over_whom_by_hand() -> None:
    fits = fits_at([0, 0, 18, 0], [0, 4, 0, 100], [20, 3, 4, 5])  # large; one in its core; one on its ring; one far off
    large, core, ring, alone = looks(fits, said([0.9, 0.5, 0.5, 0.5]))[:, OVER]
    by_larger, by_smaller, alike, in_core, on_ring, all_over, small_over = range(7)
    assert core[by_larger] == pytest.approx(0.9)  # wholly within
    assert ring[by_larger] == pytest.approx(0.9 * (20 + 4 - 18) / 8)
    assert (core[in_core], core[on_ring]) == (pytest.approx(0.9), 0.0)
    assert (ring[in_core], ring[on_ring]) == (0.0, pytest.approx(0.9))
    assert large[by_smaller] == pytest.approx(0.5)
    assert large[small_over] == pytest.approx(np.log1p(0.5 + 0.5 * 0.75))
    assert large[all_over] == large[small_over]
    assert large[alike] == 0.0
    np.testing.assert_array_equal(alone, 0.0)


def test_the_nearest_neighbours_are_told_in_radii() -> None:
    fits = fits_at([0, 30, 0], [0, 0, 40], [10, 10, 10])
    mean, _, far, nearest = looks(fits, said([0.2, 0.4, 0.8]))[0, BESIDE]
    assert mean == pytest.approx(0.6)
    assert nearest == pytest.approx(np.log1p(3))
    assert far == pytest.approx((np.log1p(3) + np.log1p(4)) / 2)


@pytest.mark.parametrize("number", [0, 1])
def test_one_alone_or_none_at_all_is_an_ordinary_answer(number: int) -> None:
    fits, verdicts = crowd()
    shown = company_of(fits[np.arange(number)], np.zeros((number, 22), np.float32), verdicts[np.arange(number)])
    assert np.isfinite(shown).all()
    assert len(learned_company()(shown, verdicts[np.arange(number)]).likely) == number


def test_log_odds_add_up_by_hand() -> None:
    layer = (np.zeros((1, 1), np.float32), np.array([np.log(3) / TRUSTED], np.float32))
    company = Company(Network(np.zeros(1, np.float32), np.ones(1, np.float32), ((layer,),)))
    verdicts = company(np.zeros((2, 1), np.float32), said([0.5, 0.25]))
    np.testing.assert_allclose(verdicts.likely, [0.75, 0.5], atol=1e-6)  # odds of 1 and of 1 to 3, three times as large
    assert np.isfinite(log_odds(np.array([0.0, 1.0], np.float32))).all()


def smudged(scene: Scene, seed: int) -> tuple[np.ndarray, int]:
    """Return a drawn picture under dirt far out of focus, and the number of its spots."""
    picture = draw(scene).picture
    passed, places = smudges(picture.shape[:2], np.random.default_rng(seed))
    codes = encoded(linear(picture / 255) * (passed if picture.ndim == 2 else passed[..., None]))
    return np.asarray(codes * 255 + 0.5, np.uint8), len(places)


def test_dirt_on_a_bare_panel_is_hardly_ever_a_void() -> None:
    counted = spots = 0
    for seed in range(901, 909):
        codes, number = smudged(Scene(casting_px=2000.0, width_px=700, height_px=700), seed)
        light = grey_light(codes)
        counted += len(find_voids(darkness(light), codes, whole_field(light), Settings()).voids)
        spots += number
    assert spots > 100
    assert counted <= 0.1 * spots


def test_dirt_before_a_casting_hides_no_void_and_adds_none() -> None:
    x, y = grid(np.linspace(240, 560, 5), np.linspace(240, 560, 5))
    scene = Scene(casting_px=330.0, x_px=x, y_px=y, diameter_px=np.linspace(8.0, 40.0, 25), theta=0.55)
    codes, _ = smudged(scene, 77)
    light = grey_light(codes)
    outline = find_outline(light)
    assert outline is not None
    voids = find_voids(darkness(light), codes, outline, Settings()).voids
    off = np.hypot(voids.x_px[:, None] - scene.x_px, voids.y_px[:, None] - scene.y_px).min(axis=0)
    assert (off < 2).sum() == 25
    assert len(voids) == 25
