"""The casting's outline, over size, place, tint, light and blur."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from bubblegrade.casting.outline import DENTED, SHADED_PX, Outline, coarse_picture, find_outline, lit_field, whole_field
from bubblegrade.casting.parts import solidity
from bubblegrade.drawn.pictures import Scene, bare_light, draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.photo.light import grey_light

SIDE, RADIUS = 800, 300.0
PLAIN = Scene(width_px=SIDE, height_px=SIDE, casting_px=RADIUS)


def light_of(scene: Scene) -> np.ndarray:
    """Return a drawn scene's linear light."""
    return grey_light(draw(scene).picture)


def outline_of(light: np.ndarray) -> Outline:
    """Return an outline that is there."""
    outline = find_outline(light)
    assert outline is not None
    return outline


def with_voids(count: int = 60, **scene: object) -> Scene:
    """Return the plain cup with voids of 6 to 40 px."""
    rng = np.random.default_rng(7)
    sizes = population(count, 0.5, 1.5, rng=rng)
    return cup(sizes, mm_per_px=0.04, rng=rng, **{"width_px": SIDE, "height_px": SIDE, "casting_px": RADIUS, **scene})


@pytest.fixture(scope="module")
def filled() -> np.ndarray:
    """Return the light of a cup with voids."""
    return light_of(with_voids())


@pytest.mark.parametrize(
    "scene",
    [
        {"casting_px": 120.0},
        {"casting_px": 385.0},
        {"clear": 0.97},
        {"clear": 0.5},
        {"gradient": 0.4},
        {"vignette": 0.3},
        {"blur_px": 3.0},
        {"electrons": 800.0},
        {"level": 0.15},
        {"width_px": 1100, "height_px": 700},
        {"width_px": 2000, "height_px": 2000, "casting_px": 800.0},
    ],
    ids=str,
)
def test_the_outline_has_the_castings_area_to_four_per_cent(scene: dict) -> None:
    drawn = replace(PLAIN, **scene)
    outline = outline_of(light_of(drawn))
    assert outline.area_px == pytest.approx(np.pi * drawn.casting_px**2, rel=0.04)
    assert not outline.cut_by_frame


@pytest.mark.parametrize("shift", [(0, 0), (60, -80), (-90, 95)])
def test_the_outline_lies_where_the_casting_lies_to_two_coarse_pixels(shift: tuple[int, int]) -> None:
    right, down = shift
    light = light_of(replace(PLAIN, width_px=1000, height_px=1000))
    moved = light[100 - down : 900 - down, 100 - right : 900 - right]
    outline = outline_of(np.ascontiguousarray(moved))
    rows, cols = np.nonzero(outline.casting)
    step = outline.step_px
    assert (cols.mean() + 0.5) * step - 0.5 == pytest.approx(399.5 + right, abs=2 * step)
    assert (rows.mean() + 0.5) * step - 0.5 == pytest.approx(399.5 + down, abs=2 * step)
    assert outline.area_px == pytest.approx(np.pi * RADIUS**2, rel=0.04)


def test_voids_in_the_casting_leave_the_outline_where_it_is(filled: np.ndarray) -> None:
    outline = outline_of(filled)
    assert outline.area_px == pytest.approx(np.pi * RADIUS**2, rel=0.04)
    assert outline.judged_area_px == pytest.approx(outline.area_px, rel=0.08)
    assert not (outline.judged & ~outline.casting).any()


@pytest.mark.parametrize(
    ("turn", "back"),
    [(np.rot90, lambda m: np.rot90(m, -1)), (np.fliplr, np.fliplr), (np.flipud, np.flipud)],
    ids=["turned", "mirrored", "upside down"],
)
def test_a_turned_or_mirrored_casting_has_the_same_outline(filled: np.ndarray, turn: object, back: object) -> None:
    plain, moved = outline_of(filled), outline_of(np.ascontiguousarray(turn(filled)))  # type: ignore[operator]
    changed = plain.casting ^ back(moved.casting)  # type: ignore[operator]
    assert changed.sum() / plain.casting.sum() < 0.01


def test_a_brightened_casting_has_the_same_outline(filled: np.ndarray) -> None:
    plain, bright = outline_of(filled), outline_of(np.float32(1.2) * filled)
    assert (plain.casting ^ bright.casting).sum() / plain.casting.sum() < 0.02


def test_a_casting_at_half_the_size_has_a_quarter_of_the_area(filled: np.ndarray) -> None:
    half = cv2.resize(filled, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    assert outline_of(half).area_px * 4 == pytest.approx(outline_of(filled).area_px, rel=0.03)


def test_an_empty_light_has_no_outline() -> None:
    assert find_outline(light_of(replace(PLAIN, casting_px=0.0))) is None


@pytest.mark.parametrize("electrons", [300.0, 1000.0, 3000.0])
@pytest.mark.parametrize("seed", range(3))
def test_an_empty_light_in_a_noisy_photograph_has_no_outline(electrons: float, seed: int) -> None:
    assert find_outline(light_of(replace(PLAIN, casting_px=0.0, electrons=electrons, seed=seed))) is None


@pytest.mark.parametrize("seed", range(2))
def test_pure_noise_has_no_outline(seed: int) -> None:
    noise = np.random.default_rng(seed).uniform(0.1, 0.9, (SIDE, SIDE)).astype(np.float32)
    assert find_outline(noise) is None


def test_a_light_that_is_off_has_no_outline() -> None:
    assert find_outline(np.zeros((SIDE, SIDE), np.float32)) is None


def test_well_inside_keeps_clear_of_the_border_by_the_width_of_its_shade(filled: np.ndarray) -> None:
    outline = outline_of(filled)
    assert (outline.well_inside <= outline.judged).all()
    narrower = (np.sqrt(outline.judged.sum()) - np.sqrt(outline.well_inside.sum())) / np.sqrt(np.pi)
    assert SHADED_PX - 0.5 < narrower < SHADED_PX * np.sqrt(2) + 0.5  # a square: its corners reach farther


def lens(length_px: float, width_px: float, side_px: int = 800) -> np.ndarray:
    """Return how far each pixel is from the middle of a lens, in shares of its border's distance, squared."""
    y, x = np.mgrid[:side_px, :side_px] - side_px / 2
    return (x / (length_px / 2)) ** 2 + (y / (width_px / 2)) ** 2


def grained(light: np.ndarray, seed: int) -> np.ndarray:
    """Return light as a lens and a sensor leave it."""
    soft = cv2.GaussianBlur(light.astype(np.float32), (0, 0), 1.2)
    return np.clip(soft + np.random.default_rng(seed).normal(0, 0.004, soft.shape), 0, 1).astype(np.float32)


def test_a_wire_is_no_casting() -> None:
    bare = np.full((800, 800), 0.5)
    bare[390:410, 100:700] = 0.015
    assert find_outline(grained(bare, 2)) is None


@pytest.mark.parametrize(("rim", "clear"), [(0.93, 0.97), (1.0, 0.97), (1.0, 0.94)])
def test_a_bent_wire_does_not_cut_a_pale_part_off(rim: float, clear: float) -> None:
    inside, within_rim = lens(600, 160) < 1, lens(588, 148) < 1
    y, x = np.mgrid[:800, :800] - 400
    pale = (x > 0) & (y < 0)
    light = np.where(inside, 0.5 * clear, 0.5) * np.where(inside & ~within_rim, np.where(pale, rim, 0.6), 1.0)
    light[inside & ((np.abs(y) < 6) & (x >= 0) | (np.abs(x) < 6) & (y <= 0))] *= 0.05
    outline = outline_of(grained(light, 3))
    assert outline.area_px == pytest.approx(np.pi * 300 * 80, rel=0.04)
    assert solidity(outline.casting) > DENTED


@pytest.mark.parametrize("gap", [4, 6])
def test_an_eye_by_the_flank_lies_within_the_rim(gap: int) -> None:
    inside, within_line = lens(600, 240) < 1, lens(588, 228) < 1
    y, x = np.mgrid[:800, :800] - 400
    leak = (np.abs(x) < 4) & (y > 0)
    light = np.where(inside, 0.48, 0.5) * np.where((lens(576, 216) > 1) & within_line & ~leak, 0.3, 1.0)
    eye = np.hypot(x - 100, y + 108 - gap - 6 - 36) < 36
    light[eye] = 0.01
    outline = outline_of(grained(light, 6))
    judged = outline.full(outline.judged)
    assert judged[eye].mean() > 0.95
    assert outline.judged_area_px == pytest.approx((lens(576, 216) < 1).sum(), rel=0.04)
    assert outline.judged_area_px < 0.95 * outline.area_px


def test_a_notched_casting_is_found_and_said_to_be_dented() -> None:
    light = np.full((800, 800), 0.5)
    light[200:600, 200:600] = 0.4
    light[200:400, 340:460] = 0.5
    outline = outline_of(grained(light, 4))
    assert outline.area_px == pytest.approx(400**2 - 200 * 120, rel=0.04)
    assert solidity(outline.casting) < DENTED


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_an_outline_that_is_the_edge_of_the_light_is_said_to_be_and_that_of_a_slab_on_it_is_not(turn: float) -> None:
    middle = (399.5, 399.5)
    panel, slab = (cv2.fillPoly(np.zeros((800, 800)), [cv2.boxPoints((middle, size, turn)).astype(np.int32)], 1.0)
                   for size in ((560, 480), (440, 360)))  # fmt: skip
    outline = outline_of(grained(0.01 + 0.5 * panel - 0.1 * slab, 5))
    assert outline.area_px == pytest.approx(440 * 360, rel=0.04)
    assert not outline.along_edge.any()
    assert replace(outline, lit=outline.casting).along_edge.all()


def test_an_even_grey_has_no_outline() -> None:
    assert find_outline(np.full((SIDE, SIDE), 0.5, np.float32)) is None


@pytest.mark.parametrize("cut", [150, 250, 400])
def test_a_casting_that_the_frame_cuts_is_said_to_be_cut_or_not_found(cut: int) -> None:
    outline = find_outline(np.ascontiguousarray(light_of(PLAIN)[:, cut:]))
    assert outline is None or outline.cut_by_frame


def test_the_whole_frame_is_judged_on_request() -> None:
    light = light_of(replace(PLAIN, casting_px=0.0))
    outline = whole_field(light)
    assert outline.judged_area_px == pytest.approx(SIDE**2, rel=0.01)
    assert not outline.cut_by_frame


def test_on_request_only_the_lit_part_of_the_frame_is_judged() -> None:
    light = np.full((SIDE, SIDE), 0.01, np.float32)
    light[200:600, 100:700] = 0.6
    assert whole_field(light).judged_area_px == pytest.approx(400 * 600, rel=0.02)


def test_the_lit_part_holds_what_it_encloses() -> None:
    coarse = np.zeros((50, 50), np.float32)
    coarse[10:40, 10:40] = 0.5
    coarse[20:25, 20:25] = 0.0
    assert int(lit_field(coarse).sum()) == 900


@pytest.mark.parametrize(("shape", "step"), [((300, 400), 1), ((801, 401), 3), ((4000, 3000), 10)])
def test_a_coarse_picture_has_at_most_400_px_a_side_and_the_same_mean(shape: tuple[int, int], step: int) -> None:
    light = np.random.default_rng(0).random(shape, np.float32)
    coarse, found = coarse_picture(light)
    assert found == step
    assert max(coarse.shape) <= 400
    assert coarse.mean() == pytest.approx(light.mean(), abs=2e-3)


def test_a_coarse_mask_grows_to_the_photographs_size_and_answers_for_points() -> None:
    mask = np.zeros((3, 3), bool)
    mask[0, 1] = True
    outline = Outline(
        casting=mask, judged=mask, opened=~mask, opaque=np.zeros_like(mask), edge_px=np.empty((0, 2)), step_px=3,
        shape_px=(10, 11), coarse=np.ones((3, 3), np.float32), lit=mask, cut_by_frame=False,
    )  # fmt: skip
    full = outline.full(mask)
    assert full.shape == (10, 11)
    assert full.sum() == 9
    assert full[:3, 3:6].all()
    assert outline.holds(mask, np.array([4.0, 8.0]), np.array([1.0, 1.0])).tolist() == [True, False]
    assert outline.area_px == 9.0


def test_the_rectangle_around_the_judged_area_holds_all_of_it_up_to_the_edge_of_the_frame() -> None:
    for outline in (find_outline(light_of(PLAIN)), whole_field(np.ones((403, 1207), np.float32))):
        assert outline is not None
        everywhere = outline.full(outline.judged)
        top, left, box = outline.judged_box
        part = outline.full(outline.judged, box)
        assert part.sum() == everywhere.sum() > 0
        np.testing.assert_array_equal(part, everywhere[top:, left:][: part.shape[0], : part.shape[1]])


@pytest.mark.parametrize("gap_px", [0, 6])
def test_a_narrow_gap_in_the_dark_rim_of_a_flank_opens_nothing_beyond_it(gap_px: int) -> None:
    y, x = np.mgrid[:400, :800]
    within = np.hypot((x - 400) / 320, (y - 200) / 120)
    rim = (within > 0.84) & (within < 0.96) & ~((np.abs(x - 400) < gap_px / 2) & (y < 200))
    light = np.where(rim, 0.15, np.where(within < 1.0, 0.55, 0.6)).astype(np.float32)
    outline = find_outline(light)
    assert outline is not None
    assert outline.judged.sum() / outline.casting.sum() == pytest.approx(0.84**2, abs=0.03)


def test_a_wire_through_a_leaking_flank_stays_between_what_is_judged() -> None:
    y, x = np.mgrid[:400, :800]
    within = np.hypot((x - 400) / 320, (y - 200) / 120)
    rim = (within > 0.84) & (within < 0.96) & ~((np.abs(x - 400) < 3) & (y < 200))
    dark = rim | ((np.abs(y - 200) < 6) & (within < 0.96))
    outline = find_outline(np.where(dark, 0.15, np.where(within < 1.0, 0.55, 0.6)).astype(np.float32))
    assert outline is not None
    assert outline.holds(outline.judged, np.array([400.0, 200.0]), np.array([200.0, 200.0])).all()


@pytest.mark.parametrize("wide_px", [6, 12, 20])
def test_a_wire_from_end_to_end_lies_within_the_rim_and_the_rim_does_not(wide_px: int) -> None:
    y, x = np.mgrid[:400, :800]
    within = np.hypot((x - 400) / 320, (y - 200) / 120)
    wire = (np.abs(y - 200) < wide_px / 2) & (within < 1.05) | (np.abs(x - 450) < wide_px / 2) & (y < 200) & (y > 70)
    dark = (within > 0.84) & (within < 1.0) | wire
    outline = find_outline(np.where(dark, 0.02, np.where(within < 1.0, 0.55, 0.6)).astype(np.float32))
    assert outline is not None
    assert outline.holds(outline.judged, np.array([200.0, 400.0, 450.0]), np.array([200.0, 200.0, 150.0])).all()
    assert outline.judged.sum() / outline.casting.sum() == pytest.approx(0.84**2, abs=0.03)


def test_where_a_wire_cuts_a_flank_in_two_and_one_side_leaks_both_are_judged() -> None:
    y, x = np.mgrid[:400, :800]
    within = np.hypot((x - 400) / 320, (y - 200) / 120)
    rim = (within > 0.94) & (within < 0.98)
    light = np.where(within < 1.0, 0.55, 0.6)
    light[rim] = np.where(y < 200, 0.4, 0.15)[rim]  # pale above
    light[rim & (np.abs(x - 400) < 4) & (y < 200)] = 0.55
    light[(np.abs(y - 200) < 6) & (within < 0.98)] = 0.15
    outline = find_outline(light.astype(np.float32))
    assert outline is not None
    assert outline.judged.sum() / outline.casting.sum() == pytest.approx(0.94**2, abs=0.03)


@pytest.mark.parametrize("passes", [0.3, 0.12, 0.06])
def test_a_slab_of_deep_tint_has_an_outline_and_what_passes_no_light_has_none(passes: float) -> None:
    scene = Scene(width_px=900, height_px=600, casting_px=0.0)
    light = bare_light(scene).astype(np.float32)
    light[150:450, 200:700] *= passes
    outline = find_outline(cv2.GaussianBlur(light, (0, 0), 0.8))
    assert outline is not None
    assert outline.area_px == pytest.approx(300 * 500, rel=0.02)
    light[150:450, 200:700] *= 0.02 / passes
    assert find_outline(cv2.GaussianBlur(light, (0, 0), 0.8)) is None


def test_a_block_whose_dark_border_encloses_most_of_what_is_lit_has_an_outline() -> None:
    """The upper edges of a tall block send no light to the camera: its middle is the largest lit part of the frame."""
    side = 800
    light = np.full((side, side), 0.6, np.float32)
    cv2.rectangle(light, (70, 70), (730, 730), 0.54, -1)
    cv2.rectangle(light, (90, 90), (710, 710), 0.01, 24)
    light = grained(cv2.GaussianBlur(light, (0, 0), 1.0), 1)
    outline = find_outline(light)
    assert outline is not None
    assert outline.area_px == pytest.approx(660**2, rel=0.08)
    assert outline.judged_area_px == pytest.approx(596**2, rel=0.05)


def framed(table: float) -> np.ndarray:
    """Return a light in a black frame that lies on a table of a brightness."""
    light = np.full((600, 600), table, np.float32)
    cv2.rectangle(light, (60, 60), (540, 540), 0.01, -1)
    cv2.rectangle(light, (80, 80), (520, 520), 0.6, -1)
    return light


@pytest.mark.parametrize("table", [0.3, 0.5, 0.6, 0.7])
def test_a_casting_on_a_light_in_a_dark_frame_has_its_outline_however_bright_the_table_is(table: float) -> None:
    light = cv2.circle(framed(table), (300, 300), 120, 0.54, -1)
    outline = find_outline(grained(cv2.GaussianBlur(light, (0, 0), 1.0), 1))
    assert outline is not None
    assert outline.area_px == pytest.approx(np.pi * 120**2, rel=0.02)


def test_a_table_that_is_dimmer_than_the_light_in_a_dark_frame_makes_no_casting_of_the_frame() -> None:
    assert find_outline(grained(cv2.GaussianBlur(framed(0.3), (0, 0), 1.0), 1)) is None
