"""The ring of a back-lit void against Snell's law, Fresnel's equations and the tables that follow from them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.optics import core_share, darkness, passed, ring_share, turned, widest_light

INDICES = st.floats(1.3, 1.7)

# Computed from Snell's law by root finding, n = 1.5: theta in degrees, core b_c, outer edge of the dark ring b_o, and
# the area share of the disc between the two.
RINGS = [
    (1.0, 0.0174, 1.0000, 0.9996),
    (5.0, 0.0867, 0.9990, 0.9906),
    (10.0, 0.1705, 0.9962, 0.9633),
    (15.0, 0.2486, 0.9914, 0.9212),
    (20.0, 0.3194, 0.9848, 0.8678),
    (30.0, 0.4361, 0.9659, 0.7428),
    (41.81, 0.5334, 0.9342, 0.5881),
]
# The same for other resins: n, theta in degrees, core.
CORES = [(1.57, 5.0, 0.0762), (1.57, 10.0, 0.1502), (1.57, 20.0, 0.2845), (1.57, 30.0, 0.3938), (1.57, 39.56, 0.4738)]
# Half-angle in air in degrees (sin theta = sin(theta in air) / n), core at n = 1.5.
CORES_FROM_AIR = [(18.0, 0.201), (28.0, 0.295), (42.0, 0.399)]
# 1/n and asin(1/n) in degrees, computed; any optics text gives the critical angle so.
CRITICAL = [
    (1.333, 0.7502, 48.607),
    (1.49, 0.6711, 42.155),
    (1.50, 0.6667, 41.810),
    (1.55, 0.6452, 40.178),
    (1.57, 0.6369, 39.564),
    (1.59, 0.6289, 38.971),
]
# Fresnel at normal incidence, R = ((n - 1) / (n + 1))^2.
REFLECTED = [(1.333, 0.02037), (1.49, 0.03873), (1.50, 0.04000), (1.55, 0.04652), (1.57, 0.04919), (1.59, 0.05189)]
# b, then the angle inside the void asin(n b), then the turn in degrees, all worked by hand at n = 1.5.
BY_HAND = [
    (0.0, 0.0, 0.0),
    (0.2, 17.4576, 11.8413),  # sin 0.3 -> 17.4576; sin 0.2 -> 11.5370; twice the difference
    (0.4, 36.8699, 26.5834),  # the 3-4-5 triangle; sin 0.4 -> 23.5782
    (0.6, 64.1581, 54.5765),  # sin 0.9 -> 64.1581; sin 0.6 -> 36.8699
]


@pytest.mark.parametrize(("theta", "core", "ring", "dark"), RINGS)
def test_core_and_ring_are_those_of_the_table_to_its_last_digit(
    theta: float, core: float, ring: float, dark: float
) -> None:
    inner, outer = core_share(math.radians(theta), index=1.5), ring_share(math.radians(theta))
    assert inner == pytest.approx(core, abs=6e-5)
    assert outer == pytest.approx(ring, abs=6e-5)
    assert outer**2 - inner**2 == pytest.approx(dark, abs=1.2e-4)


@pytest.mark.parametrize(("index", "theta", "core"), CORES)
def test_cores_in_other_resins_are_those_of_the_table(index: float, theta: float, core: float) -> None:
    assert core_share(math.radians(theta), index=index) == pytest.approx(core, abs=6e-5)


@pytest.mark.parametrize(("in_air", "core"), CORES_FROM_AIR)
def test_a_light_seen_through_the_flat_bottom_is_narrower_inside_the_resin(in_air: float, core: float) -> None:
    theta = math.asin(math.sin(math.radians(in_air)) / 1.5)
    assert core_share(theta, index=1.5) == pytest.approx(core, abs=6e-4)


@pytest.mark.parametrize(("index", "share", "angle"), CRITICAL)
def test_no_flat_light_is_wider_than_the_critical_angle(index: float, share: float, angle: float) -> None:
    assert 1 / index == pytest.approx(share, abs=6e-5)
    assert math.degrees(widest_light(index=index)) == pytest.approx(angle, abs=6e-4)


def test_in_the_widest_light_the_core_reaches_0_533_and_the_ring_ends_at_0_934() -> None:
    widest = widest_light(index=1.5)
    assert core_share(widest, index=1.5) == pytest.approx(0.533, abs=6e-4)
    assert ring_share(widest) == pytest.approx(0.934, abs=6e-4)


@pytest.mark.parametrize(("b", "inside", "turn"), BY_HAND)
def test_a_ray_is_turned_as_snells_law_says_by_hand(b: float, inside: float, turn: float) -> None:
    assert math.degrees(math.asin(1.5 * b)) == pytest.approx(inside, abs=1e-4)
    assert float(np.degrees(turned(b, index=1.5))) == pytest.approx(turn, abs=2e-4)


def test_a_ray_traced_as_vectors_through_both_faces_is_turned_alike() -> None:
    index = 1.52
    for b in np.linspace(0.01, 0.99 / index, 25):
        assert float(turned(b, index=index)) == pytest.approx(_traced(b, index), abs=1e-9)


@given(INDICES)
def test_the_turn_does_not_jump_where_total_reflection_begins(index: float) -> None:
    through, reflected = turned([1 / index - 1e-12, 1 / index + 1e-12], index=index)
    assert through == pytest.approx(reflected, abs=1e-5)


def test_the_largest_turn_at_1_5_is_96_38_degrees() -> None:
    assert math.degrees(float(turned(1 / 1.5, index=1.5))) == pytest.approx(96.38, abs=0.005)


def test_a_grazing_ray_is_not_turned() -> None:
    assert float(turned(1.0)) == 0.0


@given(INDICES, st.floats(1e-6, 0.02))
def test_a_narrow_light_makes_a_core_of_theta_over_twice_n_minus_1(index: float, theta: float) -> None:
    assert core_share(theta, index=index) == pytest.approx(theta / (2 * (index - 1)), rel=2e-3)


@given(INDICES, st.floats(0.01, 1.0))
def test_the_core_ends_where_the_turn_equals_the_light(index: float, part: float) -> None:
    theta = part * widest_light(index=index)
    assert float(turned(core_share(theta, index=index), index=index)) == pytest.approx(theta, abs=1e-9)


@given(INDICES, st.floats(0.01, 1.0))
def test_the_ring_ends_where_the_reflected_turn_equals_the_light(index: float, part: float) -> None:
    theta = part * widest_light(index=index)
    assert float(turned(ring_share(theta), index=index)) == pytest.approx(theta, abs=1e-9)


@given(INDICES, st.floats(0.01, 0.98), st.floats(0.01, 0.02))
def test_a_wider_light_makes_a_wider_core_and_a_smaller_ring(index: float, part: float, more: float) -> None:
    theta, wider = part * widest_light(index=index), (part + more) * widest_light(index=index)
    assert core_share(wider, index=index) > core_share(theta, index=index)
    assert ring_share(wider) < ring_share(theta)
    assert core_share(wider, index=index) < 1 / index < ring_share(wider)


@given(INDICES)
def test_the_turn_grows_to_where_total_reflection_begins_and_falls_from_there(index: float) -> None:
    below, above = np.linspace(0, 1 / index, 200), np.linspace(1 / index, 1, 200)
    assert (np.diff(turned(below, index=index)) > 0).all()
    assert (np.diff(turned(above, index=index)) < 0).all()


@pytest.mark.parametrize(("index", "reflected"), REFLECTED)
def test_two_faces_at_normal_incidence_pass_what_fresnel_leaves(index: float, reflected: float) -> None:
    assert float(passed(0.0, index=index)) == pytest.approx((1 - reflected) ** 2, abs=2e-5)


def test_fresnel_at_1_5_reflects_0_04_a_face_and_passes_0_9216() -> None:
    assert float(passed(0.0, index=1.5)) == pytest.approx(0.9216, abs=1e-12)
    assert 1 - math.sqrt(float(passed(0.0, index=1.5))) == pytest.approx(0.04, abs=1e-12)


@given(INDICES, st.floats(0.0, 1.0))
def test_no_ray_passes_more_than_all_or_less_than_nothing(index: float, b: float) -> None:
    assert 0.0 <= float(passed(b, index=index)) <= 1.0


@given(INDICES)
def test_what_is_totally_reflected_loses_nothing(index: float) -> None:
    assert (passed(np.linspace(1 / index + 1e-9, 1.0, 50), index=index) == 1.0).all()


def test_a_ring_is_light_in_the_core_dark_between_and_light_in_the_rim() -> None:
    theta = math.radians(20.0)
    core, ring = core_share(theta), ring_share(theta)
    dark = darkness([0.0, core - 0.03, core + 0.03, 0.7, ring - 0.01, 0.9999, 1.001], theta, soft=1e-6)
    np.testing.assert_allclose(dark, [0.0784, dark[1], 1, 1, 1, 0, 0], atol=1e-3)
    assert dark[1] < 0.1


def test_the_edge_of_the_core_and_of_the_ring_are_half_dark() -> None:
    theta = math.radians(20.0)
    half = darkness([core_share(theta), ring_share(theta)], theta)
    assert half[1] == pytest.approx(0.5, abs=1e-9)
    assert half[0] == pytest.approx(1 - 0.5 * float(passed(core_share(theta))), abs=1e-9)


def test_light_through_the_wall_greys_the_ring_between_0_74_and_0_913_radii() -> None:
    # 0.913 = cos(48.19 / 2 degrees), where rays leave through the wall; near 0.707 they turn by a right angle
    plain, walled = (darkness([0.8, 0.86, 0.925], widest_light(index=1.5), wall=w, soft=0.01) for w in (0.0, 0.5))
    np.testing.assert_allclose(plain, [1, 1, 1], atol=1e-9)
    np.testing.assert_allclose(walled, [0.5, 0.5, 1], atol=1e-9)


@given(INDICES, st.floats(0.02, 1.0), st.floats(0.0, 1.0), st.floats(0.0, 1.5))
def test_darkness_is_a_share(index: float, part: float, wall: float, b: float) -> None:
    assert 0.0 <= float(darkness(b, part * widest_light(index=index), wall=wall, index=index)) <= 1.0


def _traced(b: float, index: float) -> float:
    """Return the turn of one ray, in radians, from Snell's law as vectors at both faces of a unit sphere of gas."""
    at = np.array([b, -math.sqrt(1 - b**2)])
    ray = np.array([0.0, 1.0])
    ray = _refracted(ray, -at, index)
    at = at - 2 * (at @ ray) * ray
    ray = _refracted(ray, -at, 1 / index)
    return math.acos(ray[1])


def _refracted(ray: np.ndarray, normal: np.ndarray, ratio: float) -> np.ndarray:
    """Return the unit `ray` after a face; `normal` points along it, `ratio` is the index before over that behind."""
    normal = normal if normal @ ray > 0 else -normal
    along = ray - (ray @ normal) * normal
    along = ratio * along
    return along + math.sqrt(1 - along @ along) * normal
