"""Contents: voids and clutter lie in the casting, apart, and the same spec gives the same ones."""

import numpy as np
import pytest

from bubblegrade.drawn.bodies import inside
from bubblegrade.drawn.contents import casting
from bubblegrade.drawn.spec import EYE_KINDS, FLAKE_KINDS, HARDWARE_KINDS, Spec

FULL = {
    "body": "lure",
    "radius": 34.0,
    "width": 24.0,
    "voids": 60,
    "flakes": 30,
    "flake_kinds": FLAKE_KINDS,
    "coloured": 0.5,
    "rods": 10,
    "hardware": HARDWARE_KINDS,
    "wire": True,
    "ballast": True,
    "eye": True,
    "dust": 6,
    "specks": 5,
    "pits": 8,
    "scratches": 4,
}


def test_every_void_lies_inside_and_touches_no_other() -> None:
    spec = Spec("a", 5, **FULL)
    voids = casting(spec).voids
    assert len(voids) == 60
    assert all(inside(spec, v.place_mm, v.radius_mm) for v in voids)
    places, radii = np.array([v.place_mm for v in voids]), np.array([v.radius_mm for v in voids])
    apart = np.linalg.norm(places[:, None] - places, axis=2) - radii[:, None] - radii
    np.fill_diagonal(apart, np.inf)
    assert apart.min() > 0


def test_clutter_of_every_kind_is_there_in_the_number_asked_for() -> None:
    cast = casting(Spec("a", 5, **FULL))
    kinds = [item.kind for item in cast.embedded + cast.loose]
    assert kinds.count("flake") == 30
    assert kinds.count("pit") == 8
    assert kinds.count("scratch") == 4
    assert kinds.count("hardware") >= 3
    assert sum(item.where == "light" for item in cast.loose) == 5
    assert sum(item.where == "top" and item.kind in ("fibre", "speck") for item in cast.loose) == 6


@pytest.mark.parametrize("kind", EYE_KINDS)
def test_an_eye_of_any_kind_is_one_item_of_its_size(kind: str) -> None:
    cast = casting(Spec("a", 5, body="lure", radius=34, eye=True, eye_kind=kind, voids=0))
    assert [(item.kind, item.size_mm) for item in cast.embedded] == [("hardware", 3.6)]


def test_the_same_spec_gives_the_same_casting() -> None:
    first, again = casting(Spec("a", 5, **FULL)), casting(Spec("b", 5, **FULL))
    np.testing.assert_array_equal([v.place_mm for v in first.voids], [v.place_mm for v in again.voids])
    np.testing.assert_array_equal([i.place_mm for i in first.loose], [i.place_mm for i in again.loose])


def test_pressure_squeezes_every_void_that_finds_the_same_place() -> None:
    open_air, pressed = (casting(Spec("a", 5, voids=1, psig=p)).voids[0] for p in (0.0, 7 * 14.696))
    assert pressed.radius_mm == pytest.approx(open_air.radius_mm / 2)


def test_a_turned_and_grown_casting_has_the_same_voids_elsewhere() -> None:
    before, after = (casting(Spec("a", 5, turn=t, grow=g)).voids for t, g in ((0, 1), (90, 1.1)))
    assert after[0].radius_mm == pytest.approx(1.1 * before[0].radius_mm)
    x, y, z = before[0].place_mm
    np.testing.assert_allclose(after[0].place_mm, [-y, x, z], atol=1e-9)


def test_a_casting_with_flakes_cannot_be_turned() -> None:
    with pytest.raises(ValueError, match="turn is 10"):
        casting(Spec("a", 5, flakes=3, turn=10))


def test_misshapen_voids_come_in_their_share_to_a_tenth() -> None:
    voids = casting(Spec("a", 5, voids=200, misshapen=0.4)).voids
    assert np.mean([v.shape is not None for v in voids]) == pytest.approx(0.4, abs=0.1)


def test_floated_voids_lie_just_under_the_top() -> None:
    spec = Spec("a", 5, voids=0, surface_voids=10)
    assert all(v.place_mm[2] + v.radius_mm == pytest.approx(spec.top_mm - 0.27) for v in casting(spec).voids)


def test_a_casting_with_no_room_is_left_with_less() -> None:
    cast = casting(Spec("a", 5, radius=2.5, height=2, voids=60, median_mm=2.0, flakes=40, flake_mm=(1.0, 1.3), pits=60))
    assert len(cast.voids) < 60
    assert len(cast.embedded) < 40
