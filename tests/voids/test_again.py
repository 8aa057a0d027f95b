"""A second photograph of the casting, wiped and turned: what comes again where it must is no dust."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.voids.again import Turn, find_turn, match_pairs, settled
from bubblegrade.voids.table import Voids

MIDDLE, SIZE_PX = 400 + 380j, 500.0
FRAME = (600, 800)  # rows and columns of the second photograph
NEAR_PX = 2.0
STILL = Turn(1.0, 0j, 1.0)  # a camera that did not move


def scattered(seed: int, count: int = 50) -> Voids:
    """Return voids at random places of a round casting."""
    rng = np.random.default_rng(seed)
    away, angle = 260 * np.sqrt(rng.random(count)), rng.uniform(0, 2 * np.pi, count)
    place = MIDDLE + away * np.exp(1j * angle)
    return Voids.of(x_px=place.real, y_px=place.imag, diameter_px=rng.uniform(6, 30, count))


def moved(voids: Voids, degrees: float, *, shift: complex = 0j, off_px: float = 0.0) -> Voids:
    """Return voids turned clockwise about the casting's middle and shifted, each place a little off."""
    rng = np.random.default_rng(1)
    place = MIDDLE + shift + np.exp(1j * np.radians(degrees)) * (voids.x_px + 1j * voids.y_px - MIDDLE)
    place = place + off_px * (rng.normal(size=len(voids)) + 1j * rng.normal(size=len(voids)))
    return Voids.of(
        x_px=place.real, y_px=place.imag, diameter_px=voids.diameter_px, kind=voids.kind, reason=voids.reason
    )


def turn_between(first: Voids, second: Voids, *, shift: complex = 0j) -> Turn | None:
    """Return the turn that is found; the outlines' middles are known to a few px."""
    return find_turn(first, second, begun=Turn(1.0, shift - 3 + 3j, 0.0), middle=MIDDLE + 2 - 1j, size_px=SIZE_PX)


def marks(*places: complex, kind: str = "fibre") -> Voids:
    """Return set-aside finds of 20 px."""
    rows = len(places)
    x, y = np.real(places), np.imag(places)
    return Voids.of(x_px=x, y_px=y, diameter_px=[20.0] * rows, kind=[kind] * rows, reason=["dark and long"] * rows)


@pytest.mark.parametrize("degrees", [0.0, 12.3, 90.0, -155.6, 179.9])
def test_the_turn_is_found_to_a_tenth_of_a_degree_and_every_void_is_matched(degrees: float) -> None:
    first = scattered(2)
    second = moved(first, degrees, shift=14 - 9j, off_px=0.2)
    turn = turn_between(first, second, shift=14 - 9j)
    assert turn is not None
    assert turn.degrees == pytest.approx(degrees, abs=0.1)
    assert abs(turn.scale_turn) == pytest.approx(1.0, abs=0.002)
    pairs = match_pairs(first, second, turn, near_px=NEAR_PX)
    np.testing.assert_array_equal(pairs, np.repeat(np.arange(len(first))[:, None], 2, axis=1))


def test_the_turn_is_found_though_each_photograph_shows_voids_that_the_other_does_not() -> None:
    first = scattered(2)
    turn = turn_between(first[:40], moved(first, 48.0, off_px=0.2)[10:])
    assert turn is not None
    assert turn.degrees == pytest.approx(48.0, abs=0.1)
    assert turn.matched == pytest.approx(0.75, abs=0.1)


@pytest.mark.parametrize("seed", range(3, 8))
def test_two_different_castings_have_no_turn(seed: int) -> None:
    assert turn_between(scattered(2), scattered(seed)) is None


def test_two_voids_are_too_few_to_tell_a_turn() -> None:
    assert turn_between(scattered(2)[:2], scattered(2)) is None


def test_voids_that_would_all_lie_on_one_have_no_turn() -> None:
    near, alone = complex(60.0, 0.0), (complex(-200.0, 90.0), complex(30.0, -250.0))
    crowd, single = MIDDLE + near + np.array([0.0, 2.0, 2.0j]), MIDDLE + np.array([near, *alone])
    first, second = (Voids.of(x_px=at.real, y_px=at.imag, diameter_px=[9.0] * 3) for at in (crowd, single))
    assert find_turn(first, second, begun=Turn(1.0, 0.0, 0.0), middle=MIDDLE, size_px=SIZE_PX) is None


def test_nothing_has_no_pairs() -> None:
    turn = Turn(1 + 0j, 0j, 1.0)
    assert match_pairs(Voids.none(), scattered(2), turn, near_px=NEAR_PX).shape == (0, 2)


def test_voids_are_never_paired_with_others_of_another_size() -> None:
    first = Voids.of(x_px=[50.0], y_px=[50.0], diameter_px=[10.0])
    second = Voids.of(x_px=[50.0], y_px=[50.0], diameter_px=[16.0])
    assert len(match_pairs(first, second, Turn(1 + 0j, 0j, 1.0), near_px=NEAR_PX)) == 0


def test_a_counted_find_that_stays_in_place_is_dust_on_the_light_and_one_that_is_gone_is_unsure() -> None:
    first = Voids.of(x_px=[100.0, 300.0, 200.0], y_px=[100.0, 50.0, 250.0], diameter_px=[20.0, 12.0, 9.0])
    turn = Turn(1j, 400 + 0j, 1.0)
    turned = turn.places(first.x_px[:1], first.y_px[:1])
    later = Voids.of(x_px=[turned[0, 0], 300.0], y_px=[turned[0, 1], 50.0], diameter_px=[20.0, 12.0])
    kept, aside = settled(first, Voids.none(), later, Voids.none(), (turn, STILL), near_px=NEAR_PX, shape_px=FRAME)
    assert kept.reason.tolist() == ["turned with the casting"]
    assert (aside.x_px.tolist(), aside.kind.tolist()) == ([300.0, 200.0], ["fibre", "unsure"])
    assert aside.reason.tolist() == [
        "stayed in place while the casting turned",
        "not seen again after wiping and turning",
    ]


def test_marks_that_stay_or_go_are_dirt_and_those_that_turn_are_in_the_casting() -> None:
    turn = Turn(-1 + 0j, 800 + 760j, 1.0)  # half a turn about the casting's middle
    first = marks(300 + 300j, 500 + 300j, 350 + 500j, kind="unsure")
    later = marks(300 + 300j, 450 + 260j)  # the first stayed, the last turned with the casting
    _, aside = settled(Voids.none(), first, Voids.none(), later, (turn, STILL), near_px=NEAR_PX, shape_px=FRAME)
    assert aside.kind.tolist() == ["fibre", "fibre", "unsure"]
    assert aside.reason.tolist() == [
        "stayed in place while the casting turned", "gone after wiping", "turned with the casting",
    ]  # fmt: skip


def test_a_fibre_that_turned_out_a_void_in_the_second_photograph_is_unsure() -> None:
    turn = Turn(-1 + 0j, 800 + 760j, 1.0)
    void = Voids.of(x_px=[500.0], y_px=[460.0], diameter_px=[20.0])
    _, aside = settled(
        Voids.none(), marks(300 + 300j), void, Voids.none(), (turn, STILL), near_px=NEAR_PX, shape_px=FRAME
    )
    assert aside.kind.tolist() == ["unsure"]
