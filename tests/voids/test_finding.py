"""Drawn voids have a candidate at every size; clear resin has none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bubblegrade.drawn.pictures import Scene, bare_light, draw, grid
from bubblegrade.photo.light import grey_light
from bubblegrade.voids import voting
from bubblegrade.voids.finding import Candidates, find_candidates, first_of_twins, noise_of, pyramid_of

LEAST_SEEN = 0.28


def dark_of(scene: Scene) -> np.ndarray:
    """Return the darkness of a drawn scene without a casting, against the light it was drawn with."""
    return (1 - grey_light(draw(scene).picture) / bare_light(scene)).astype(np.float32)


def candidates_of(dark: np.ndarray, judged: np.ndarray | None = None) -> Candidates:
    """Return the candidates of a picture of darkness."""
    return find_candidates(pyramid_of(dark, largest_radius_px=130.0), judged, least_seen=LEAST_SEEN)


def missed(found: Candidates, scene: Scene) -> list[float]:
    """Return the diameters of drawn voids that no candidate is near in place (0.25 d) and size (30 %)."""
    x, y, d = (np.asarray(column) for column in (scene.x_px, scene.y_px, scene.diameter_px))
    off = np.hypot(found.x_px[:, None] - x, found.y_px[:, None] - y) < np.maximum(0.25 * d, 1.5)
    alike = np.abs(np.log(2 * found.edge_radius_px[:, None] / d)) < np.log(1.3)
    return d[~(off & alike).any(axis=0)].tolist()


@pytest.mark.parametrize("theta", [0.15, 0.35, 0.7])
@pytest.mark.parametrize("blur", [0.5, 1.2])
def test_every_drawn_void_from_6_to_120_px_has_a_candidate(theta: float, blur: float) -> None:
    x, y = grid(np.linspace(90, 810, 4), np.linspace(90, 810, 4))
    scene = Scene(
        width_px=900, height_px=900, casting_px=0.0, theta=theta, blur_px=blur,
        x_px=x, y_px=y, diameter_px=np.geomspace(6.0, 120.0, 16),
    )  # fmt: skip
    assert missed(candidates_of(dark_of(scene)), scene) == []


def test_two_voids_that_overlap_by_a_third_have_a_candidate_each() -> None:
    scene = Scene(
        width_px=200, height_px=200, casting_px=0.0, x_px=[88.0, 112.0], y_px=[100.0] * 2, diameter_px=[36.0] * 2
    )
    assert missed(candidates_of(dark_of(scene)), scene) == []


def test_a_faint_void_has_a_candidate() -> None:
    scene = Scene(width_px=200, height_px=200, casting_px=0.0, x_px=[100.0], y_px=[100.0], diameter_px=[24.0])
    assert missed(candidates_of(np.float32(0.3) * dark_of(scene)), scene) == []


def test_clear_resin_has_no_candidate() -> None:
    assert len(candidates_of(np.zeros((300, 300), np.float32)).x_px) == 0


def test_candidates_lie_only_where_they_are_looked_for() -> None:
    scene = Scene(
        width_px=300, height_px=300, casting_px=0.0, x_px=[75.0, 225.0], y_px=[150.0] * 2, diameter_px=[30.0] * 2
    )
    left = np.zeros((300, 300), bool)
    left[:, :150] = True
    found = candidates_of(dark_of(scene), left)
    assert len(found.x_px) > 0
    assert (found.x_px < 150).all()


def test_candidates_come_strongest_first() -> None:
    x, y = grid([60, 160, 260], [60, 160, 260])
    scene = Scene(width_px=320, height_px=320, casting_px=0.0, x_px=x, y_px=y, diameter_px=np.linspace(6, 50, 9))
    seen = candidates_of(dark_of(scene)).seen
    assert (np.diff(seen) <= 0).all()


@pytest.mark.parametrize("noise", [0.005, 0.02, 0.08])
def test_the_noise_of_a_picture_is_found_to_eight_per_cent(noise: float) -> None:
    rough = np.random.default_rng(3).normal(0, noise, (400, 400)).astype(np.float32)
    assert noise_of(rough) == pytest.approx(noise, rel=0.08)


def test_a_pyramid_halves_down_to_where_the_largest_radius_is_looked_for() -> None:
    levels = pyramid_of(np.full((401, 640), 0.25, np.float32), largest_radius_px=30.0)
    assert [level.shape for level in levels] == [(401, 640), (200, 320), (100, 160), (50, 80)]
    assert all(np.allclose(level, 0.25) for level in levels)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 50), st.floats(0, 50), st.floats(2, 9)), min_size=1, max_size=25))
def test_of_twins_the_first_stays_and_nothing_that_stays_is_its_twin(rows: list[tuple[float, float, float]]) -> None:
    x, y, radius = np.array(rows, np.float32).T
    kept = first_of_twins(x, y, radius, centre=0.35, size=1.3)
    assert kept[0] == 0
    for i in kept:
        later = kept[kept > i]
        near = np.hypot(x[later] - x[i], y[later] - y[i]) < 0.35 * radius[i] + 0.5 - 1e-3
        alike = np.abs(np.log(radius[later] / radius[i])) < np.log(1.3) - 1e-3
        assert not (near & alike).any()


@pytest.mark.parametrize("noise", [0.0, 0.02])
def test_candidates_are_the_same_bytes_whatever_the_parts_in_which_edges_and_votes_are_worked_out(
    noise: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    x, y = grid([60, 130, 200, 270], [60, 130, 200])
    scene = Scene(width_px=330, height_px=260, casting_px=0.0, x_px=x, y_px=y, diameter_px=np.geomspace(6.0, 60.0, 12))
    dark = dark_of(scene)
    dark += np.random.default_rng(4).normal(0, noise, dark.shape).astype(np.float32)
    judged = np.zeros((26, 33), bool)
    judged[2:24, 3:30] = True
    whole = sorted(zip(*vars(candidates_of(dark, judged)).values(), strict=True))
    monkeypatch.setattr(voting, "STRIP_PX", 36)
    monkeypatch.setattr(voting, "WIDE_PX", 60)
    assert sorted(zip(*vars(candidates_of(dark, judged)).values(), strict=True)) == whole
