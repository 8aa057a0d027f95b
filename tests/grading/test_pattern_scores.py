"""Scores of voids' places: nearest neighbours, circles, bands and strips against published and computed values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import cdist
from scipy.stats import poisson

from bubblegrade.grading.pattern_chance import Scatter, scattered
from bubblegrade.grading.pattern_ground import Ground
from bubblegrade.grading.pattern_lines import Lines
from bubblegrade.grading.pattern_scores import Bands, Circles, Nearest, Sides, excess

SQUARE = Ground(np.ones((200, 200), bool), 5.0)  # 1000 x 1000 px
FRAMED = Ground(np.pad(np.ones((180, 180), bool), 10), 5.0)


def random_squares(voids: int, *, patterns: int = 1, seed: int = 1) -> Scatter:
    """Return voids at random over SQUARE."""
    return Scatter(np.random.default_rng(seed).uniform(-0.5, 999.5, (patterns, voids, 2)))


def grid(spacing: float, rise: float, *, shift: float) -> Scatter:
    """Return voids in rows of one spacing, `rise` apart, every other row shifted along."""
    row, col = np.mgrid[0 : round(1000 / rise), 0 : round(1000 / spacing)].astype(float)
    x, y = spacing * col + shift * (row % 2), rise * row
    return Scatter(np.stack([x.ravel(), y.ravel()], axis=1)[np.newaxis])


def test_voids_at_random_have_the_ratio_of_clark_and_evans_and_its_standard_error() -> None:
    # Clark and Evans, Ecology 35 (1954) 445: mean distance 0.5 / sqrt(density), standard error 0.26136 / sqrt(n
    # density) far from edges. K. P. Donnelly, in Simulation Studies in Archaeology, 1978, from memory: along edges the
    # mean gains (0.0514 + 0.041 / sqrt(n)) perimeter / n.
    voids, patterns = 1500, 150
    ratios = -Nearest(SQUARE).score(random_squares(voids, patterns=patterns))
    gained = (0.0514 + 0.041 / math.sqrt(voids)) * 4000.0 / voids * 2.0 * math.sqrt(voids / 1e6)
    error = 2.0 * 0.26136 / math.sqrt(voids)
    assert ratios.mean() == pytest.approx(1.0 + gained, abs=4.0 * error / math.sqrt(patterns))
    assert ratios.std(ddof=1) == pytest.approx(error, rel=0.25)


def test_away_from_edges_the_mean_distance_is_half_the_root_of_the_room_a_void_has() -> None:
    # Clark and Evans 1954: 0.5 / sqrt(density); a void's neighbours are looked for beyond the middle too
    points = random_squares(3000, patterns=20)
    distance, _ = points.tree.query(points.stacked, k=2)
    middle = np.all(np.abs(points.stacked[:, :2] - 500.0) < 400.0, axis=1)
    assert distance[middle, 1].mean() == pytest.approx(0.5 / math.sqrt(3000 / 1e6), rel=0.01)


def test_the_ratio_of_a_square_lattice_is_2_and_that_of_the_widest_spacing_2_1491() -> None:
    # Clark and Evans 1954: a hexagonal lattice has the largest ratio there is, 2.1491
    assert -Nearest(SQUARE).score(grid(20.0, 20.0, shift=0.0))[0] == pytest.approx(2.0, rel=0.001)
    rise = 20.0 * math.sqrt(3.0) / 2.0
    hexagons = grid(20.0, rise, shift=10.0)
    room = Ground(np.ones((1, 1), bool), math.sqrt(hexagons.shape[1] * 20.0 * rise))
    assert -Nearest(room).score(hexagons)[0] == pytest.approx(2.1491, abs=0.0001)


@given(st.integers(0, 60), st.floats(0.05, 40.0))
def test_an_excess_is_the_signed_root_of_a_poisson_likelihood_ratio(count: int, expected: float) -> None:
    ratio = poisson.logpmf(count, max(count, 1e-300)) - poisson.logpmf(count, expected)
    root = math.sqrt(max(2.0 * float(ratio), 0.0)) if count > expected else 0.0
    assert float(excess(count, expected)) == pytest.approx(root, abs=1e-5)


def test_neighbours_are_those_that_a_table_of_all_distances_shows() -> None:
    circles, scatter = Circles(SQUARE, np.full(150, 1.0)), random_squares(150, patterns=3)
    counted = circles.neighbours(scatter)
    for pattern, points in zip(counted, scatter.points, strict=True):
        apart = cdist(points, points)
        for size in range(pattern.shape[1]):
            radius = math.sqrt(np.geomspace(0.5, 15.0, 7)[size] * 1e6 / (150 * math.pi))
            assert (pattern[:, size] == (apart < radius).sum(axis=1) - 1).all()


def test_pairs_at_random_are_as_many_as_ripleys_k_says() -> None:
    # B. D. Ripley, J. Appl. Prob. 13 (1976) 255: K(r) = pi r^2 at random; circles in the middle, away from edges
    scatter = random_squares(400, patterns=100)
    near = Circles(SQUARE, np.full(400, 0.1)).neighbours(scatter)
    middle = np.all(np.abs(scatter.points - 500.0) < 350.0, axis=2)
    expected = np.geomspace(0.5, 20.0, 7) * 399 / 400
    np.testing.assert_allclose(near[middle].mean(axis=0), expected, rtol=0.03)


def test_no_more_pairs_are_expected_than_the_sizes_of_voids_leave_room_for() -> None:
    # pairs of 40 px voids nearer than 20 px are never seen: pi 20^2 / 10^6 of all, most of the smallest circle's
    sizes = np.full(300, 40.0)
    scores = Circles(SQUARE, sizes).pairs(scattered(SQUARE, sizes, 60, np.random.default_rng(8)))
    careless = Circles(SQUARE, np.full(300, 0.01)).pairs(scattered(SQUARE, sizes, 60, np.random.default_rng(8)))
    assert 0.3 < scores.mean() < 1.5
    assert careless.mean() < scores.mean() / 4.0


def test_a_circle_at_the_edge_holds_less_of_the_ground() -> None:
    # a disc about a corner lies on the ground by a quarter, one about an edge's middle by half, computed
    share = SQUARE.disc_share(100.0) / (math.pi * 100.0**2 / 1e6)
    assert share[100, 100] == pytest.approx(1.0, rel=0.02)
    assert share[0, 100] == pytest.approx(0.5, abs=0.04)
    assert share[0, 0] == pytest.approx(0.25, abs=0.04)


def test_a_small_disc_holds_its_part_of_the_ground_however_rough_the_picture() -> None:
    for radius in (1.0, 4.0, 9.0, 17.0):
        assert SQUARE.disc_share(radius)[100, 100] == pytest.approx(math.pi * radius**2 / 1e6, rel=0.02)


def test_the_fullest_circle_is_where_voids_were_planted() -> None:
    points = random_squares(100).points[0]
    points[:12] = [300.0, 700.0] + 15.0 * np.random.default_rng(2).normal(size=(12, 2))
    circles, scatter = Circles(SQUARE, np.full(100, 5.0)), Scatter(points[np.newaxis])
    place, *others = circles.places(scatter, least=5.0)
    assert not others
    assert set(range(12)) <= {*place.voids} | {int(np.argmax(np.hypot(*(points[:12] - [300.0, 700.0]).T)))}
    assert (place.x_px, place.y_px) == pytest.approx((300.0, 700.0), abs=12.0)
    assert place.reach_px < 80.0
    assert 0.0 < place.expected < 3.0


def test_a_band_holds_what_is_nearest_and_expects_its_part_of_the_ground() -> None:
    points = random_squares(80).points[0]
    points[:20, 0] = np.linspace(0.0, 40.0, 20)  # x from 0 to 40 of 1000 px
    x = np.tile(SQUARE.middles_px[0], (200, 1))
    band = Bands(SQUARE, x, widest=0.3).place(Scatter(points[np.newaxis]))
    assert len(set(range(20)) & set(band.voids)) >= 18
    assert band.reach_px == pytest.approx(40.0, abs=25.0)
    assert band.expected == pytest.approx(80 * band.reach_px / 1000.0, abs=1.0)


def test_a_band_wider_than_allowed_is_none() -> None:
    points = random_squares(60).points
    points[..., 0] = 0.6 * points[..., 0] + 350.0  # nothing in the third at the left
    x = np.tile(SQUARE.middles_px[0], (200, 1))
    assert Bands(SQUARE, x, widest=0.3).score(Scatter(points))[0] == 0.0


def test_the_fullest_side_is_the_one_that_was_filled() -> None:
    points = random_squares(80).points
    points[0, :25, 1] = np.random.default_rng(3).uniform(950.0, 999.0, 25)
    place = Sides(SQUARE, widest=0.3).place(Scatter(points))
    assert place.y_px > 930.0
    assert len(set(range(25)) & set(place.voids)) >= 23


@pytest.mark.parametrize("degrees", [0.0, 17.0, 45.0, 90.0, 133.0, 179.0])
def test_the_fullest_strip_is_the_line_that_was_planted_whatever_its_angle(degrees: float) -> None:
    points = random_squares(80).points[0]
    turn = math.radians(degrees)
    along = np.linspace(-260.0, 260.0, 20)[:, np.newaxis]
    points[:20] = [500.0, 480.0] + along * [math.cos(turn), math.sin(turn)]
    place = Lines(SQUARE).place(Scatter(points[np.newaxis]))
    off = abs(place.angle_degrees - degrees)
    assert min(off, 180.0 - off) < 2.5
    assert len(set(range(20)) & set(place.voids)) >= 17
    assert (place.x_px, place.y_px) == pytest.approx((500.0, 480.0), abs=45.0)
    assert place.reach_px == pytest.approx(260.0, abs=60.0)


def test_with_a_pour_point_only_lines_toward_it_count() -> None:
    points = random_squares(80).points
    points[0, :15] = np.stack([np.linspace(100.0, 900.0, 15), np.full(15, 300.0)], axis=1)
    toward = Ground(SQUARE.judged, 5.0, pour_px=(500.0, 300.0))
    beside = Ground(SQUARE.judged, 5.0, pour_px=(500.0, 900.0))
    assert Lines(toward).score(Scatter(points))[0] > Lines(beside).score(Scatter(points))[0] + 1.0


def test_the_wall_is_the_border_within_the_frame_and_hardware_makes_no_wall() -> None:
    hardware = np.zeros((200, 200), bool)
    hardware[80:120, 80:120] = True
    holed = FRAMED.judged & ~hardware
    assert SQUARE.from_wall_px is None
    for ground in (FRAMED, Ground(holed, 5.0), Ground(holed, 5.0, hardware)):
        assert ground.from_wall_px is not None
        assert ground.from_wall_px[100, 15] == pytest.approx(30.0)
        assert ground.from_wall_px[100, 79] == pytest.approx(350.0)
    assert Ground(holed, 5.0, hardware).from_hardware_px is not None


def test_thick_resin_is_expected_to_hold_more_voids() -> None:
    thickness = np.tile(np.repeat([1.0, 3.0], 100), (200, 1))
    ground = Ground(SQUARE.judged, 5.0, thickness=thickness)
    assert ground.share[:, 100:].sum() == pytest.approx(0.75)
    x = np.tile(ground.middles_px[0], (200, 1))
    assert ground.nearer_share(x)[0, 99] == pytest.approx(0.25)


@pytest.mark.parametrize("name", ["hardware", "thickness"])
def test_a_mask_of_another_shape_is_a_broken_promise(name: str) -> None:
    other: dict[str, np.ndarray] = {name: np.zeros((2, 3))}
    with pytest.raises(AssertionError, match=rf"{name} of \(2, 3\) cells does not fit"):
        Ground(np.ones((2, 2), bool), 1.0, **other)  # type: ignore[arg-type]


def test_up_without_a_direction_is_a_broken_promise() -> None:
    with pytest.raises(AssertionError, match="up has no length"):
        Ground(np.ones((2, 2), bool), 1.0, up=(0.0, 0.0))
