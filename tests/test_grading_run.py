"""One photograph, or two, from file to graded casting."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.pictures import Scene, bare_light, draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.errors import PhotoError
from bubblegrade.fitness.check import RAISE
from bubblegrade.grading_run import Casting, Request, grade
from bubblegrade.photo.light import encoded, grey_light, linear
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings

SIDE = 560
MIDDLE = (SIDE - 1) / 2
LIGHT = {"theta": 0.6, "wall": 0.3, "level": 0.5}
TURN = 37.3  # degrees
STAYS = [(322.0, 330.0), (382.0, 350.0)]  # both ends of a fibre on the light
GOES = [(335.0, 287.0), (393.0, 296.0)]  # of one that is wiped off


def cup_scene(seed: int = 5, **fields: Any) -> Scene:
    """Return a small cup with some 40 voids of 8 to 30 px."""
    rng = np.random.default_rng(seed)
    held = {"width_px": SIDE, "height_px": SIDE, "casting_px": 230.0, **LIGHT, **fields}
    return cup(np.clip(population(40, 14.0, 1.4, rng=rng), 8, 30), mm_per_px=1.0, gap_px=8.0, rng=rng, **held)


def turned(scene: Scene, degrees: float) -> Scene:
    """Return the scene with its casting turned clockwise."""
    place = (np.asarray(scene.x_px) + 1j * np.asarray(scene.y_px)) - MIDDLE * (1 + 1j)
    place = place * np.exp(1j * np.radians(degrees)) + MIDDLE * (1 + 1j)
    return replace(scene, x_px=place.real, y_px=place.imag, seed=scene.seed + 1)


def with_fibre(picture: np.ndarray, ends: list[tuple[float, float]]) -> np.ndarray:
    """Return the picture with a dark fibre between two points."""
    one, other = ([round(c) for c in end] for end in ends)
    return cv2.line(picture.copy(), one, other, (25, 25, 25), 4, cv2.LINE_AA)


def lit(picture: np.ndarray, factor: np.ndarray) -> np.ndarray:
    """Return the picture as it is over a light of `factor`, (rows, cols)."""
    return np.rint(encoded(np.clip(linear(picture / 255) * factor[..., None], 0, 1)) * 255).astype(np.uint8)


def photo_of(picture: np.ndarray, name: str = "cup.png") -> Photo:
    """Return a picture as if it was read from a file."""
    return Photo(name=name, codes=picture, sha256=hashlib.sha256(picture.tobytes()).hexdigest())


def graded(picture: np.ndarray, *, blank: np.ndarray | None = None, **request: Any) -> Casting:
    """Return a picture graded."""
    bare = None if blank is None else grey_light(blank)
    return grade(photo_of(picture), Request(**request), Settings(), blank=bare)


def set_aside_near(casting: Casting, x: float, y: float, reach: float) -> list[str]:
    """Return the reasons of what is set aside near a place."""
    near = np.hypot(casting.set_aside.x_px - x, casting.set_aside.y_px - y) < reach
    return casting.set_aside.reason[near].tolist()


def farther(scene: Scene, zoom: float) -> Scene:
    """Return the scene as a camera sees it that shows everything `zoom` times as large."""
    x, y = (MIDDLE + zoom * (np.asarray(each) - MIDDLE) for each in (scene.x_px, scene.y_px))
    size = zoom * np.asarray(scene.diameter_px)
    return replace(scene, x_px=x, y_px=y, diameter_px=size, casting_px=zoom * scene.casting_px)


@pytest.fixture(scope="module")
def picture() -> np.ndarray:
    """Return the drawn cup."""
    return draw(cup_scene()).picture


@pytest.fixture(scope="module")
def plain(picture: np.ndarray) -> Casting:
    """Return it graded."""
    return graded(picture)


# A second photograph


@pytest.fixture(scope="module")
def settled(picture: np.ndarray) -> Casting:
    """Return the cup settled by a second photograph: one fibre stayed on the light, the other was wiped off."""
    first = photo_of(with_fibre(with_fibre(picture, STAYS), GOES))
    second = photo_of(with_fibre(draw(turned(cup_scene(), TURN)).picture, STAYS), "again.png")
    return grade(first, Request(), Settings(), again=second)


def test_a_second_photograph_tells_the_turn_to_a_tenth_of_a_degree(settled: Casting, plain: Casting) -> None:
    assert settled.turned_degrees == pytest.approx(TURN, abs=0.1)
    assert np.isnan(plain.turned_degrees)


def test_nineteen_of_twenty_voids_come_again_after_the_turn(settled: Casting, plain: Casting) -> None:
    came = settled.voids.reason == "turned with the casting"
    assert came.mean() >= 0.95
    assert came.sum() >= 0.9 * plain.count


def test_fibres_that_stay_or_go_are_told_from_the_casting(settled: Casting) -> None:
    stays, goes = (np.mean(ends, axis=0) for ends in (STAYS, GOES))
    assert "stayed in place while the casting turned" in set_aside_near(settled, *stays, 20)
    assert "gone after wiping" in set_aside_near(settled, *goes, 20)


def test_a_second_photograph_of_another_casting_is_refused(picture: np.ndarray) -> None:
    other = photo_of(draw(cup_scene(6)).picture, "other.png")
    with pytest.raises(
        PhotoError,
        match=r"^other\.png does not show the voids of cup\.png: photograph the same casting again$",
    ):
        grade(photo_of(picture), Request(), Settings(), again=other)


def test_a_casting_that_was_not_turned_settles_nothing() -> None:
    picture = draw(cup_scene()).picture
    same = photo_of(picture, "again.png")
    with pytest.raises(PhotoError, match=r"^again\.png shows the casting where it lies in cup\.png: what lies on the"):
        grade(photo_of(picture), Request(), Settings(), again=same)


def test_a_second_photograph_from_farther_off_settles_as_well() -> None:
    voids = cup_scene()
    first = photo_of(with_fibre(draw(voids).picture, STAYS))
    zoomed = [tuple(MIDDLE + 0.85 * (place - MIDDLE) for place in end) for end in STAYS]
    second = photo_of(with_fibre(draw(farther(turned(voids, TURN), 0.85)).picture, zoomed), "again.png")
    found = grade(first, Request(), Settings(), again=second)
    assert found.turned_degrees == pytest.approx(TURN, abs=0.1)
    assert (found.voids.reason == "turned with the casting").sum() >= 34
    assert "stayed in place while the casting turned" in set_aside_near(found, *np.mean(STAYS, axis=0), 20)


def test_nearer_without_a_turn_settles_nothing(picture: np.ndarray) -> None:
    # what lies on the light came nearer with the casting
    second = photo_of(draw(farther(cup_scene(), 0.85)).picture, "again.png")
    with pytest.raises(PhotoError, match=r"^again\.png shows the casting where it lies in cup\.png: "):
        grade(photo_of(picture), Request(), Settings(), again=second)


def test_a_close_up_is_settled_by_a_second_one_and_what_left_the_frame_stays_as_it_was() -> None:
    voids = cup_scene()
    first, second = draw(voids).picture[100:460, 60:460], draw(turned(voids, TURN)).picture[100:460, 60:460]
    found = grade(photo_of(first), Request(whole=True), Settings(), again=photo_of(second, "again.png"))
    alone = graded(first, whole=True)
    assert found.turned_degrees == pytest.approx(TURN, abs=0.2)
    assert len(found.voids) >= 0.9 * len(alone.voids)


# Planted voids


@pytest.fixture(scope="module")
def planted(picture: np.ndarray) -> Casting:
    """Return the cup with its smallest countable size measured."""
    return graded(picture, planted=True)


def test_planting_measures_the_smallest_countable_size(planted: Casting) -> None:
    assert 5.0 <= planted.sizes_px.smallest <= 9.0


def test_planting_changes_no_find(planted: Casting, plain: Casting) -> None:
    np.testing.assert_array_equal(planted.voids.diameter_px, plain.voids.diameter_px)


def test_a_rougher_photograph_has_a_larger_smallest_size(planted: Casting) -> None:
    rough = graded(draw(cup_scene(electrons=100.0, blur_px=3.4)).picture, planted=True)
    assert rough.sizes_px.smallest > planted.sizes_px.smallest


# What is judged


def test_the_whole_lit_frame_is_judged_on_request(plain: Casting) -> None:
    casting = graded(draw(replace(cup_scene(), casting_px=0.0)).picture, whole=True)
    assert casting.judged_area_px == pytest.approx(SIDE**2, rel=0.02)
    assert casting.count == pytest.approx(plain.count, rel=0.1)
    assert (len(casting.outline_px), casting.unfit) == (0, ())


LOST = f"the casting's outline is lost in the light: the whole frame was judged, diffuse the light better, or {RAISE}"


def test_where_only_the_outline_is_lost_the_frame_is_judged_and_said_to_be_unfit() -> None:
    casting = graded(draw(replace(cup_scene(), casting_px=0.0)).picture)
    assert casting.unfit == (LOST,)
    assert casting.count > 20


@pytest.mark.parametrize(("voids", "request_"), [(3, {}), (40, {"width_mm": 44.0})])
def test_no_outline_and_few_voids_or_a_scale_that_needs_it_is_refused(voids: int, request_: dict[str, float]) -> None:
    scene = cup_scene(casting_px=230.0)
    x, y, d = (np.asarray(c)[:voids] for c in (scene.x_px, scene.y_px, scene.diameter_px))
    bare = draw(replace(scene, casting_px=0.0, x_px=x, y_px=y, diameter_px=d)).picture
    with pytest.raises(PhotoError, match=r"^cup\.png: no casting in view, or its outline is lost in the light: show"):
        graded(bare, **request_)


def test_a_casting_that_the_frame_cuts_is_unfit(picture: np.ndarray) -> None:
    casting = graded(np.ascontiguousarray(picture[:, 120:]))
    assert any("cut by the frame" in said or said == LOST for said in casting.unfit)


def test_a_width_spans_the_casting_from_edge_to_edge(picture: np.ndarray) -> None:
    casting = graded(picture, width_mm=46.0)
    assert casting.scale is not None
    assert casting.scale.mm_per_px == pytest.approx(0.1, rel=0.01)
    assert casting.span_px is not None
    assert np.hypot(*np.subtract(*casting.span_px)) == pytest.approx(460.0, rel=0.01)


# The bare light


def dirty_light() -> np.ndarray:
    """Return the factor of a light with a ripple and a speck of dust, (rows, cols)."""
    y, x = np.indices((SIDE, SIDE))
    speck = np.hypot(x - 280, y - 300) < 7
    return np.where(speck, 0.25, 1 + 0.12 * np.sin(x / 9))


def test_a_blank_takes_a_speck_and_a_ripple_off() -> None:
    clear = cup_scene()
    far = np.hypot(np.asarray(clear.x_px) - 280, np.asarray(clear.y_px) - 300) > 40
    x, y, d = (np.asarray(c)[far] for c in (clear.x_px, clear.y_px, clear.diameter_px))
    scene = replace(clear, x_px=x, y_px=y, diameter_px=d)
    bare = lit(
        draw(replace(scene, casting_px=0.0, x_px=(), y_px=(), diameter_px=(), electrons=0.0)).picture, dirty_light()
    )
    cast = lit(draw(scene).picture, dirty_light())
    casting = graded(cast, blank=bare)
    assert set_aside_near(casting, 280, 300, 15) == []
    assert casting.count == pytest.approx(int(far.sum()), rel=0.1)
    assert casting.unfit == ()


def test_without_a_blank_the_speck_is_set_aside_or_counted(picture: np.ndarray) -> None:
    casting = graded(lit(picture, np.where(dirty_light() < 0.5, 0.25, 1.0)))
    counted = np.hypot(casting.voids.x_px - 280, casting.voids.y_px - 300) < 15
    assert counted.any() or set_aside_near(casting, 280, 300, 15)


def test_with_a_blank_the_share_that_passes_is_that_of_the_resin(picture: np.ndarray) -> None:
    bare = np.asarray(bare_light(cup_scene()), np.float32)
    casting = grade(photo_of(picture), Request(), Settings(), blank=bare)
    assert casting.passes == pytest.approx(0.92, rel=0.02)


def test_a_blank_of_another_size_is_refused(picture: np.ndarray) -> None:
    with pytest.raises(PhotoError, match=r"^cup\.png: the blank is 300 x 200 px: photograph both with the same camera"):
        graded(picture, blank=np.full((200, 300), 128, np.uint8))


# Exposure


def test_a_casting_that_is_hardly_lit_is_unfit() -> None:
    casting = graded(draw(cup_scene(level=0.09, clear=0.18)).picture)
    assert any(said == "the casting is hardly lit: expose longer" for said in casting.unfit)


def test_a_casting_at_full_scale_is_unfit() -> None:
    casting = graded(draw(cup_scene(level=1.1, clear=0.9, vignette=0.0)).picture)
    (said,) = casting.unfit
    assert said.endswith("% of the judged area is at full scale: expose less, and let no lamp or window mirror in it")


@pytest.mark.parametrize(
    ("colours", "said"),
    [
        ((8, 8, 8), "is dark all over"),
        ((255, 255, 255), "is white all over"),
        ((90, 150, 255), "is at full scale in some colour all over"),
    ],
)
def test_a_photograph_without_tones_is_refused(colours: tuple[int, int, int], said: str) -> None:
    with pytest.raises(PhotoError, match=rf"^cup\.png {said}"):
        graded(np.full((200, 200, 3), colours, np.uint8))
