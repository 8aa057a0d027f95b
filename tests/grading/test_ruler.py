"""What a request and an outline say of lengths."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from bubblegrade import optics
from bubblegrade.casting.outline import Outline, find_outline
from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.errors import PhotoError
from bubblegrade.grading.record import Request
from bubblegrade.grading.remarks import THICKER, UNUSUAL, on_length, on_thickness
from bubblegrade.grading.ruler import curve_of, scale_of
from bubblegrade.photo.aslant import enlarged_aslant
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.scale import Scale, Span, stated_scale
from bubblegrade.voids.table import Voids

INDEX = 1.5


@pytest.fixture(scope="module")
def outline() -> Outline:
    """Return the outline of a drawn cup of 600 px."""
    found = find_outline(grey_light(draw(Scene(casting_px=300.0)).picture))
    assert found is not None
    return found


def test_without_a_word_of_size_there_is_no_scale(outline: Outline) -> None:
    assert scale_of(outline, Request(), index=1.5, name="a.jpg") == (None, None)


def test_a_stated_scale_has_no_span_to_show(outline: Outline) -> None:
    scale, span = scale_of(outline, Request(mm_per_px=0.05), index=1.5, name="a.jpg")
    assert scale is not None
    assert scale.mm_per_px == pytest.approx(0.05)
    assert span is None


def test_two_points_give_the_scale_where_both_lie_in_the_photograph(outline: Outline) -> None:
    within, beyond = Span(0.0, 0.0, 300.0, 400.0, 20.0), Span(0.0, 0.0, 3000.0, 0.0, 20.0)
    scale, _ = scale_of(outline, Request(span=within), index=1.5, name="a.jpg")
    assert scale is not None
    assert scale.mm_per_px == pytest.approx(0.04)
    with pytest.raises(PhotoError, match=r"a\.jpg: the point 3000,0 of --span lies beyond its 800 x 800 px: read both"):
        scale_of(outline, Request(span=beyond), index=1.5, name="a.jpg")


def test_a_width_is_laid_along_the_widest_span(outline: Outline) -> None:
    scale, span = scale_of(outline, Request(width_mm=60.0), index=1.5, name="a.jpg")
    assert scale is not None
    assert span is not None
    assert scale.mm_per_px == pytest.approx(60 / 600, rel=0.01)
    assert np.hypot(*np.subtract(*span)) * scale.mm_per_px == pytest.approx(60.0, rel=1e-6)


def test_a_width_gives_no_scale_where_the_frame_cuts_the_widest_span() -> None:
    light = np.full((600, 800), 0.6, np.float32)
    light[200:400, 150:650] = 0.2
    light[203:397, 153:647] = 0.55
    whole, part = (find_outline(cv2.GaussianBlur(light[:, first:], (0, 0), 1.0)) for first in (0, 300))
    assert whole is not None
    assert part is not None
    assert (whole.cut_by_frame, part.cut_by_frame) == (False, True)
    scale, _ = scale_of(whole, Request(width_mm=54.0), index=1.5, name="a.jpg")
    assert scale is not None
    assert scale.mm_per_px == pytest.approx(54.0 / math.hypot(500.0, 200.0), rel=0.01)
    assert scale_of(part, Request(width_mm=54.0), index=1.5, name="a.jpg") == (None, None)


def test_a_round_casting_that_the_frame_cuts_shows_its_diameter_all_the_same() -> None:
    cut = find_outline(grey_light(draw(Scene(casting_px=300.0)).picture[:, 250:]))
    assert cut is not None
    assert cut.cut_by_frame
    scale, _ = scale_of(cut, Request(width_mm=60.0), index=1.5, name="a.jpg")
    assert scale is not None
    assert scale.mm_per_px == pytest.approx(60 / 600, rel=0.01)


def test_an_outline_that_is_drawn_out_leaves_the_scale_between_its_length_and_its_width(outline: Outline) -> None:
    # a foot that shows by 40 px beside a face of 600: 640 px long, 600 wide (plane geometry)
    foot = outline.edge_px[:, 0] > outline.edge_px[:, 0].mean()
    egg = replace(outline, edge_px=outline.edge_px + np.where(foot, 40.0, 0.0)[:, None] * np.array([1.0, 0.0]))
    scale, _ = scale_of(egg, Request(width_mm=60.0), index=1.5, name="a.jpg")
    level, _ = scale_of(outline, Request(width_mm=60.0), index=1.5, name="a.jpg")
    assert scale is not None
    assert level is not None
    assert scale.mm_per_px == pytest.approx(60 / 620, rel=0.008)
    assert scale.source == "widest span of the casting, 60 mm, between the length and the width of its outline"
    share, usual = (one.mm_per_px_err / one.mm_per_px for one in (scale, level))
    # the smooth line rounds the corners of a foot off that is as sharp as this one
    assert math.sqrt(share**2 - usual**2) == pytest.approx(20 / 620, rel=0.25)


def test_beside_thickness_and_camera_height_the_width_of_a_flat_casting_is_that_of_its_upper_face(
    outline: Outline,
) -> None:
    said = Request(width_mm=60.0, thickness_mm=15.0, camera_height_mm=315.0)
    face, _ = scale_of(outline, replace(said, camera_height_mm=None), index=1.5, name="a.jpg")
    middle, _ = scale_of(outline, said, index=1.5, name="a.jpg")
    assert face is not None
    assert middle is not None
    # the middle of 15 mm looks 10 mm high: 305 mm away, and the face 300 mm
    assert middle.mm_per_px == pytest.approx(face.mm_per_px * 305 / 300, rel=1e-9)
    assert middle.source == "widest span of the casting, 60 mm at its upper face, 315 mm to the camera"
    # 0.15 of 15 mm at 300 mm, two degrees of lean over a quarter of the width
    assert middle.mm_per_px_err / middle.mm_per_px == pytest.approx(math.hypot(2.25 / 300, 0.25 * 0.0349), rel=0.03)
    walled = replace(outline, judged=outline.judged & (np.indices(outline.judged.shape)[0] > 150))
    aslant, _ = scale_of(walled, said, index=1.5, name="a.jpg")
    assert aslant is not None
    assert aslant.mm_per_px == face.mm_per_px
    assert aslant.source.endswith("not flat with straight walls, taken as at mid height")
    # a tapered cup is as wide as that at its top or at its bottom: 7.5 mm off the middle, which is 307.5 mm away
    assert aslant.mm_per_px_err / aslant.mm_per_px == pytest.approx(7.5 / 307.5, rel=0.01)
    untold, _ = scale_of(walled, replace(said, camera_height_mm=None), index=1.5, name="a.jpg")
    assert untold is not None
    assert untold.mm_per_px_err / untold.mm_per_px == pytest.approx(1 / 30, rel=0.01)  # a camera 15 times as far


def seen_in(outline: Outline) -> tuple[Outline, np.ndarray, Voids]:
    """Return an outline with no void in it."""
    return outline, np.zeros(outline.shape_px, np.float32), Voids.none()


def test_a_flat_casting_enlarges_nothing_with_or_without_a_thickness(outline: Outline) -> None:
    scale, _ = scale_of(outline, Request(mm_per_px=0.1), index=1.5, name="a.jpg")
    for request, known in ((Request(), None), (Request(mm_per_px=0.1, thickness_mm=10.0), scale)):
        assert curve_of(seen_in(outline), request, known, index=INDEX, name="cup.jpg").factor == 1.0


@pytest.mark.parametrize(
    ("width", "said"), [(440.0, (UNUSUAL,)), (4.4, (UNUSUAL,)), (44.0, ()), (290.0, ()), (6.0, ())]
)
def test_a_length_that_no_casting_has_is_said(outline: Outline, width: float, said: tuple[str, ...]) -> None:
    """A slip of the unit, 44cm for 44mm, makes every void ten times as large."""
    assert on_length(outline.edge_px, stated_scale(width / 600)) == said
    assert on_length(outline.edge_px, None) == ()


@pytest.mark.parametrize(("thickness", "said"), [(59.0, ()), (62.0, ()), (66.0, (THICKER,)), (None, ())])
def test_a_thickness_beyond_the_width_is_said(outline: Outline, thickness: float | None, said: tuple[str, ...]) -> None:
    scale = stated_scale(60 / 600)
    assert on_thickness(outline.edge_px, thickness, scale) == said
    assert on_thickness(outline.edge_px, thickness, None) == ()


def test_a_thickness_that_no_casting_of_this_outline_has_is_refused(outline: Outline) -> None:
    scale, _ = scale_of(outline, Request(mm_per_px=0.1), index=1.5, name="a.jpg")
    assert (
        curve_of(seen_in(outline), Request(mm_per_px=0.1, thickness_mm=110.0), scale, index=INDEX, name="cup.jpg").err
        == 0.0
    )
    with pytest.raises(PhotoError, match=r"cup.jpg: 140 mm thick, and seen from above 60 mm across its shorter side"):
        curve_of(seen_in(outline), Request(mm_per_px=0.1, thickness_mm=140.0), scale, index=INDEX, name="cup.jpg")


def drawn(way: float, ratio: float) -> np.ndarray:
    """Return the stretch by `ratio` along a direction, (2, 2)."""
    unit = np.array([math.cos(way), math.sin(way)])
    return np.eye(2) + (ratio - 1.0) * np.outer(unit, unit)


@pytest.fixture(scope="module")
def bar() -> Outline:
    """Return the outline of a bar of 660 by 110 px, lying."""
    light = np.full((300, 900), 0.6, np.float32)
    light[95:205, 120:780] = 0.2
    light[98:202, 123:777] = 0.55
    found = find_outline(cv2.GaussianBlur(light, (0, 0), 1.0))
    assert found is not None
    return found


@pytest.mark.parametrize("bent", [1.0, 1.25])
@pytest.mark.parametrize("look", [0.0, 30.0, 60.0, 90.0])
@pytest.mark.parametrize("aslant", [25.0, 40.0])
def test_what_squaring_has_drawn_out_is_not_taken_for_a_curve(
    bar: Outline, aslant: float, look: float, bent: float
) -> None:
    """Voids that a curved body draws out across by `bent`, seen from aside along `look` degrees from its length."""
    enlarged, _ = enlarged_aslant(math.cos(math.radians(aslant)), 0.0, index=INDEX)
    back = np.linalg.inv(drawn(math.radians(look), enlarged**2) @ drawn(math.pi / 2, bent))
    dark, x = np.zeros(bar.shape_px, np.float32), np.arange(180.0, 730.0, 90.0)
    around = np.stack(np.meshgrid(np.arange(-45, 45), np.arange(-45, 45)), axis=-1)
    for middle in x.astype(int):
        radii = np.linalg.norm(around @ back.T, axis=-1) / 15.0
        dark[105:195, middle - 45 : middle + 45] = optics.darkness(radii, 0.62)
    dark = np.asarray(cv2.GaussianBlur(dark, (0, 0), 0.8), np.float32)
    rows = np.full(len(x), 150.0)
    size, edge_width = (np.full(len(x), value) for value in (30.0 * enlarged * math.sqrt(bent), 2.0))
    voids = Voids.of(x_px=x, y_px=rows, diameter_px=size, edge_width_px=edge_width)
    scale = Scale(0.05, 0.0, "card", enlarged=enlarged, enlarged_along=math.radians(look))
    found = curve_of((bar, dark, voids), Request(), scale, index=INDEX, name="bar.jpg")
    assert found.factor == pytest.approx(math.sqrt(bent), rel=0.01)
