"""What hardware covers of a void widens the uncertainty of its diameter."""

import numpy as np
import pytest

from bubblegrade.voids.beside_hardware import BEFORE, DOUBT, doubt_beside, unsure_before
from bubblegrade.voids.table import Voids

SOLID = np.zeros((200, 300), bool)
SOLID[:, 150:170] = True


def voids(*x_px: float, diameter: float = 20.0) -> Voids:
    return Voids.of(x_px=x_px, y_px=[100.0] * len(x_px), diameter_px=[diameter] * len(x_px))


def test_far_from_hardware_nothing_is_added() -> None:
    assert doubt_beside(SOLID, voids(50.0, 130.0)).tolist() == [0.0, 0.0]


def test_no_hardware_adds_nothing() -> None:
    assert doubt_beside(np.zeros((200, 300), bool), voids(50.0)).tolist() == [0.0]


def test_the_share_of_the_surroundings_that_is_hardware_counts() -> None:
    # a wire's edge at h from the centre covers acos(h / r) / pi of the circle of radius r
    at = 142.0
    expected = np.mean([np.arccos(8.0 / (10.0 * r)) / np.pi for r in (1.3, 1.4, 1.5)])
    assert doubt_beside(SOLID, voids(at))[0] == pytest.approx(DOUBT * expected, abs=0.012)


def test_the_nearer_the_wire_the_larger_the_doubt() -> None:
    assert np.all(np.diff(doubt_beside(SOLID, voids(136.0, 140.0, 144.0, 149.0))) > 0)


def test_it_goes_with_the_picture_when_that_is_turned_and_mirrored() -> None:
    one = doubt_beside(SOLID, voids(141.0))
    turned = Voids.of(x_px=[100.0], y_px=[141.0], diameter_px=[20.0])
    mirrored = voids(300.0 - 1.0 - 141.0)
    assert doubt_beside(SOLID.T, turned) == pytest.approx(one)
    assert doubt_beside(SOLID[:, ::-1], mirrored) == pytest.approx(one, abs=0.005)


def test_outside_the_picture_there_is_no_hardware() -> None:
    edge = np.zeros((50, 50), bool)
    edge[:, :3] = True
    at_the_edge = Voids.of(x_px=[1.0], y_px=[25.0], diameter_px=[20.0])
    assert 0.0 < doubt_beside(edge, at_the_edge)[0] < DOUBT / 2


def test_what_lies_before_a_wide_body_is_unsure_with_its_reason() -> None:
    kept, others = unsure_before(np.array([False, True]), voids(50.0, 160.0), voids(20.0)[:0])
    assert kept.x_px.tolist() == [50.0]
    assert (others.x_px.tolist(), others.kind.tolist(), others.reason.tolist()) == ([160.0], ["unsure"], [BEFORE])
