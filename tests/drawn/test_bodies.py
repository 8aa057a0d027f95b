"""Bodies: closed meshes of the right size, and what lies inside them."""

import numpy as np
import pytest

from bubblegrade.drawn.bodies import (
    Mesh,
    ball_mesh,
    bowl_mesh,
    cup_mesh,
    groove_mesh,
    inside,
    lure_mesh,
    on_top,
    polygon_mesh,
    ring_mesh,
    stretching,
    top_mm,
)
from bubblegrade.drawn.spec import Body, Spec

BODIES: tuple[Body, ...] = ("puck", "cup", "lure", "slab")


def _volume(mesh: Mesh) -> float:
    """Return the volume (mm3) that a closed mesh holds, positive if its faces look outward."""
    vertices, faces = mesh
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return float(np.sum(a * np.cross(b, c)) / 6)


def test_a_ball_holds_four_thirds_pi_to_half_a_per_cent() -> None:
    assert _volume(ball_mesh()) == pytest.approx(4 / 3 * np.pi, rel=0.005)


def test_a_ring_holds_the_volume_of_a_torus_to_two_per_cent() -> None:
    assert _volume(ring_mesh(0.2)) == pytest.approx(2 * np.pi**2 * 0.2**2, rel=0.02)


def test_a_lure_is_as_long_wide_and_thick_as_its_spec_to_two_per_cent() -> None:
    spec = Spec("a", 1, body="lure", radius=38, width=22, height=14)
    extent = np.ptp(lure_mesh(spec)[0], axis=0)
    assert extent[0] == pytest.approx(76, rel=0.02)
    assert extent[1] / extent[2] == pytest.approx(22 / 14, rel=0.02)
    assert extent[1] <= 22
    assert _volume(lure_mesh(spec)) > 0


def test_a_cup_stands_on_its_foot_and_creeps_up_at_its_rim() -> None:
    spec = Spec("a", 1, body="cup", radius=20, height=12, gap=2, extra={"meniscus": 1.5})
    vertices, _ = cup_mesh(spec)
    assert vertices[:, 2].min() == pytest.approx(2)
    assert vertices[:, 2].max() == pytest.approx(2 + 12 + 1.5, abs=0.4)
    assert _volume(cup_mesh(spec)) > 0


def test_a_stretched_sphere_keeps_its_volume() -> None:
    axis = np.array([0.6, 0.0, 0.8])
    assert np.linalg.det(stretching(1.7, axis)) == pytest.approx(1.0)
    np.testing.assert_allclose(stretching(1.7, axis) @ axis, 1.7 * axis)


@pytest.mark.parametrize("body", BODIES)
def test_a_dent_lies_wholly_under_the_top_and_holds_half_an_ellipsoid(body: Body) -> None:
    spec = Spec("a", 1, body=body, radius=30, width=24)
    mesh = bowl_mesh(spec, 1.0, 0.5, 0.6, 0.4)
    assert np.all(mesh[0][:, 2] < top_mm(spec, mesh[0][:, 0], mesh[0][:, 1]))
    assert _volume(mesh) == pytest.approx(2 / 3 * np.pi * 0.6**2 * 0.4, rel=0.05)


@pytest.mark.parametrize("body", BODIES)
def test_a_groove_lies_wholly_under_the_top_and_looks_outward(body: Body) -> None:
    spec = Spec("a", 1, body=body, radius=30, width=24)
    path = np.stack([np.linspace(-4, 4, 15), np.linspace(0, 1, 15)], 1)
    mesh = groove_mesh(spec, path, 0.2, 0.1)
    assert np.all(mesh[0][:, 2] < top_mm(spec, mesh[0][:, 0], mesh[0][:, 1]))
    assert 0 < _volume(mesh) < 8.1 * 0.2 * 0.1 / 2


def test_a_square_sheet_has_one_face_a_side() -> None:
    _, faces = polygon_mesh(np.array([[1, 1, 0], [-1, 1, 0], [-1, -1, 0], [1, -1, 0.0]]))
    assert len(faces) == 4


@pytest.mark.parametrize("body", BODIES)
def test_the_middle_is_inside_and_what_lies_beside_or_above_is_not(body: Body) -> None:
    spec = Spec("a", 1, body=body, radius=30, width=24)
    assert inside(spec, np.array([0, 0, spec.middle_mm]), 1.0)
    assert not inside(spec, np.array([29.9, 0, spec.middle_mm]), 1.0)
    assert not inside(spec, np.array([0, 29.9, spec.middle_mm]), 1.0)
    assert not inside(spec, np.array([0, 0, spec.top_mm - 0.5]), 1.0)


def test_near_the_tip_of_a_lure_there_is_no_room() -> None:
    spec = Spec("a", 1, body="lure", radius=30, width=24)
    assert not inside(spec, np.array([27.5, 0, spec.middle_mm]), 3.0)


@pytest.mark.parametrize("body", BODIES)
def test_dents_are_drawn_in_the_middle_of_the_top_and_not_at_its_edge(body: Body) -> None:
    spec = Spec("a", 1, body=body, radius=30, width=24)
    assert on_top(spec, np.array([[0.0, 0.0], [3.0, 2.0]]))
    assert not on_top(spec, np.array([[0.0, 0.0], [29.9, 0.0]]))
