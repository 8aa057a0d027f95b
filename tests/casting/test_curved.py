"""Convex bodies magnify what lies in them."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bubblegrade.casting.curved import FLAT, DrawnOut, magnified, mean_depth
from bubblegrade.drawn.bodies import lure_mesh
from bubblegrade.drawn.spec import Spec

ANGLE = np.linspace(0, 2 * np.pi, 400, endpoint=False)


def ellipse(length: float, width: float, turn: float = 0.3) -> np.ndarray:
    """Return the outline of an ellipse about (500, 400)."""
    x, y = length / 2 * np.cos(ANGLE), width / 2 * np.sin(ANGLE)
    return np.stack([500 + x * np.cos(turn) - y * np.sin(turn), 400 + x * np.sin(turn) + y * np.cos(turn)], axis=1)


def test_flat_and_round_castings_magnify_nothing() -> None:
    assert magnified(ellipse(400, 400), judged_share=0.9, thickness_px=100.0, index=1.5) == FLAT
    coffin = np.array([[0.0, 30], [200, 0], [800, 60], [800, 240], [200, 300], [0, 270]])
    assert magnified(coffin, judged_share=1.0, thickness_px=100.0, index=1.5) == FLAT
    slab = np.array([[0.0, 0], [400, 0], [800, 0], [800, 300], [400, 300], [0, 300]])
    assert magnified(slab, judged_share=0.9, thickness_px=100.0, index=1.5) == FLAT
    assert magnified(np.empty((0, 2)), judged_share=0.5, thickness_px=100.0, index=1.5) == FLAT


@pytest.mark.parametrize("share", [0.8, 1.0])
def test_a_body_of_unknown_thickness_is_taken_for_any_and_all_of_them_are_within_its_doubt(share: float) -> None:
    unknown = magnified(ellipse(60, 22), judged_share=share, thickness_px=None, index=1.5)
    assert unknown.filled == 1.0
    for thickness in np.linspace(22 / 3, 22, 7):
        one = magnified(ellipse(60, 22), judged_share=0.8, thickness_px=float(thickness), index=1.5)
        assert unknown.factor - 1.96 * unknown.err < one.factor < unknown.factor + 1.96 * unknown.err
    assert unknown.factor - 1.96 * unknown.err < 1.0
    # at mid depth of a body half as thick as wide: m = 1 / (1 - 1/3 x 0.25 / 1) = 1.091, of one as thick 1.5; roots
    assert 1.044 < unknown.factor < 1.225


def test_voids_drawn_out_across_a_body_tell_what_its_outline_does_not() -> None:
    bar = np.array([[0.0, 0], [400, 0], [800, 0], [800, 200], [400, 200], [0, 200]])
    drawn = DrawnOut(0.16, 0.03, 0.08, 30)
    asked = {"judged_share": 1.0, "index": 1.5}
    round_bar = magnified(bar, thickness_px=200.0, drawn=drawn, **asked)
    assert round_bar.factor == pytest.approx(math.exp(0.16))
    assert round_bar.err / round_bar.factor == pytest.approx(math.hypot(0.03, 0.08))
    assert round_bar.filled == pytest.approx(math.pi / 4, abs=0.01)  # the area of a circle over that of its square
    assert round_bar.by_form
    assert "curved body: as far as the larger voids look drawn out across it, 30 of them" in round_bar.source
    # a square one, and one whose voids are drawn out by no more than chance or the light makes of round ones
    for faint in (None, DrawnOut(0.04, 0.01, 0.03, 30), DrawnOut(0.07, 0.05, 0.1, 6), DrawnOut(-0.08, 0.01, 0.01, 30)):
        assert magnified(bar, thickness_px=200.0, drawn=faint, **asked) == FLAT


def test_voids_that_look_round_tell_an_oval_without_a_dark_border_flat() -> None:
    found = magnified(
        ellipse(60, 22), judged_share=1.0, thickness_px=14.0, index=1.5, drawn=DrawnOut(-0.01, 0.03, 0.01, 9)
    )
    assert (found.factor, found.filled) == (1.0, 1.0)
    assert found.source.startswith("flat or hardly curved body")
    assert found.err == pytest.approx(math.hypot(0.03, 0.01))


def test_where_border_and_thickness_tell_the_section_it_is_taken_and_without_the_thickness_the_voids_form() -> None:
    drawn = DrawnOut(0.1, 0.03, 0.05, 12)
    section = magnified(ellipse(60, 22), judged_share=0.8, thickness_px=14.0, index=1.5)
    assert magnified(ellipse(60, 22), judged_share=0.8, thickness_px=14.0, index=1.5, drawn=drawn) == section
    unknown = magnified(ellipse(60, 22), judged_share=0.8, thickness_px=None, index=1.5, drawn=drawn)
    assert unknown.factor == pytest.approx(math.exp(0.1))
    assert not section.by_form


def test_an_oval_without_a_dark_border_may_be_flat_or_curved_and_both_are_within_its_doubt() -> None:
    curved = magnified(ellipse(60, 22), judged_share=0.8, thickness_px=14.0, index=1.5)
    either = magnified(ellipse(60, 22), judged_share=1.0, thickness_px=14.0, index=1.5)
    assert either.factor == pytest.approx((1 + curved.factor) / 2)
    assert either.factor - 1.96 * either.err < 1.0
    assert either.factor + 1.96 * either.err > curved.factor


def test_at_mid_depth_the_lens_is_that_of_one_refracting_surface_done_by_hand() -> None:
    # width 22, thickness 14: R = 22^2 / 28 = 17.29; at s = 7: m = 1 / (1 - 0.5 / 1.5 * 7 / 17.29) = 1.156, root 1.075
    found = magnified(ellipse(60, 22), judged_share=0.8, thickness_px=14.0, index=1.5)
    assert found.factor == pytest.approx(1.075, abs=0.01)
    assert 0.03 < found.err < 0.06


@given(st.floats(0.05, 1.2), st.floats(1.35, 1.65))
def test_thicker_bodies_and_higher_indices_magnify_more_and_never_less_than_nothing(share: float, index: float) -> None:
    edge = ellipse(900, 300)
    one = magnified(edge, judged_share=0.8, thickness_px=300 * share, index=index)
    more = magnified(edge, judged_share=0.8, thickness_px=330 * share, index=index)
    denser = magnified(edge, judged_share=0.8, thickness_px=300 * share, index=index + 0.05)
    assert 1.0 <= one.factor <= more.factor
    assert one.factor <= denser.factor


def test_an_ellipsoid_is_two_thirds_as_deep_on_the_mean_as_at_its_crest() -> None:
    # its volume, 4/3 pi a b c, over the area pi a b of its outline and the depth 2 c
    edge = ellipse(900, 300).astype(np.float32)
    assert mean_depth(edge, judged_share=1.0) == pytest.approx(2 / 3, abs=0.005)
    found = magnified(edge, judged_share=0.9, thickness_px=200.0, index=1.5)
    # of each section the middle 0.9: (0.9 x 0.4359 + 1.1198) / 1.8 = 0.840 of its depth, and 0.849 for the sections
    assert found.filled == pytest.approx(0.840 * 0.849, abs=0.005)


def test_a_lures_mean_depth_is_that_of_the_solid_that_it_was_modelled_as() -> None:
    vertices, faces = lure_mesh(Spec("a", 1, body="lure", radius=34.0, width=19.0, height=13.0))
    one, two, three = np.moveaxis(vertices[faces] - vertices.mean(axis=0), 1, 0)
    volume = abs(float(np.einsum("ij,ij->", one, np.cross(two, three)))) / 6
    on_light = np.zeros((500, 800), np.uint8)
    for corners in np.rint(10 * vertices[faces][:, :, :2] + (400, 250)).astype(np.int32):
        cv2.fillConvexPoly(on_light, corners, 1)
    (edge,), _ = cv2.findContours(on_light, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    area, thickness = float(on_light.sum()) / 100, float(np.ptp(vertices[:, 2]))
    assert mean_depth(edge.reshape(-1, 2).astype(np.float32), judged_share=1.0) == pytest.approx(
        volume / (area * thickness), rel=0.02
    )


def test_flat_castings_are_as_deep_as_they_are_thick_and_a_body_that_may_be_either_lies_between() -> None:
    assert FLAT.filled == 1.0
    curved, either = (
        magnified(ellipse(60, 22), judged_share=share, thickness_px=14.0, index=1.5) for share in (0.97, 1.0)
    )
    assert curved.filled < either.filled < 1.0
    assert either.filled - 1.96 * either.filled_err < curved.filled
    assert either.filled + 1.96 * either.filled_err > 1.0
