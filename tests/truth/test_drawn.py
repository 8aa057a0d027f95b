"""The whole chain on drawn cups: complete, true, and moved by nothing but what it measures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest

from bubblegrade.drawn.pictures import Drawn, Scene, draw, grid
from bubblegrade.drawn.populations import cup, population
from bubblegrade.errors import InputError, PhotoError
from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import encoded, linear

LIGHT = {"theta": 0.6, "wall": 0.3, "level": 0.5}
Grade = Callable[..., Casting]
PERFECT_PX = (3.0, 4.0, 5.3, 6.0, 8.0, 10.0, 14.0, 20.0, 30.0, 45.0, 65.0, 90.0)


def cup_scene(seed: int, count: int = 60, **fields: object) -> Scene:
    """Return a cup of 44 mm on 680 px with `count` lognormal voids."""
    rng = np.random.default_rng(seed)
    held = {"width_px": 800, "height_px": 800, "casting_px": 340.0, **LIGHT, **fields}
    return cup(population(count, 0.75, 1.5, rng=rng), mm_per_px=44 / 680, rng=rng, **held)


def brightened(picture: np.ndarray, factor: object) -> np.ndarray:
    """Return the picture as it is with `factor` times the light, one number or one a colour."""
    return np.rint(encoded(np.clip(linear(picture / 255) * factor, 0, 1)) * 255).astype(np.uint8)


def stored(picture: np.ndarray, quality: int) -> np.ndarray:
    """Return the picture as it comes back from a JPEG."""
    return cv2.imdecode(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], cv2.IMREAD_COLOR)


def columns(casting: Casting) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return place and size of the counted voids."""
    return casting.voids.x_px, casting.voids.y_px, casting.voids.diameter_px


def truth(drawn: Drawn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return place and size of the drawn voids."""
    return drawn.x_px, drawn.y_px, drawn.diameter_px


@pytest.fixture(scope="module", params=[11])
def drawn(request: pytest.FixtureRequest) -> Drawn:
    """Return a drawn cup."""
    return draw(cup_scene(request.param))


@pytest.fixture(scope="module")
def plain(drawn: Drawn, graded: Grade) -> Casting:
    """Return it graded."""
    return graded(drawn.picture)


@pytest.mark.parametrize("deeper", [0.3, 0.15])
def test_a_second_pour_of_a_deeper_tint_is_judged_to_the_border_of_the_first(
    drawn: Drawn, plain: Casting, graded: Grade, deeper: float
) -> None:
    rows, cols = np.indices(drawn.picture.shape[:2])
    inside = np.hypot(rows - 399.5, cols - 399.5) < 340.0
    second = np.where(inside & (rows > 420), deeper, 1.0)[..., None]
    two = graded(brightened(drawn.picture, second))
    assert two.judged_area_px == pytest.approx(plain.judged_area_px, rel=0.04)
    assert two.count == pytest.approx(plain.count, abs=1)
    assert two.clarity.score == pytest.approx(plain.clarity.score, abs=2.0)


@pytest.mark.parametrize(
    "fields",
    [{}, {"theta": 0.35, "wall": 0.0}, {"blur_px": 1.4}, {"electrons": 1500.0}, {"gradient": 0.3}, {"clear": 0.6}],
    ids=str,
)
def test_voids_of_drawn_cups_are_found_and_sized(graded: Grade, paired: Callable, fields: dict) -> None:
    picture = draw(cup_scene(21, **fields))
    casting = graded(picture.picture)
    countable = picture.diameter_px >= 1.1 * casting.sizes_px.smallest
    found, hit = paired(columns(casting), truth(picture))
    recall, precision = countable[hit].sum() / countable.sum(), len(hit) / max(casting.count, 1)
    ratio = columns(casting)[2][found] / picture.diameter_px[hit]
    print(f"recall {recall:.3f} precision {precision:.3f} median size {100 * (np.median(ratio) - 1):+.1f} %")  # noqa: T201
    assert recall >= 0.90
    assert precision >= 0.95
    assert float(np.median(ratio)) == pytest.approx(1.0, abs=0.03)


def test_cover_is_the_area_share_of_the_drawn_voids_to_a_tenth(plain: Casting, drawn: Drawn) -> None:
    share = float(np.pi / 4 * np.sum(drawn.diameter_px**2)) / (np.pi * 340.0**2)
    assert plain.clarity.cover == pytest.approx(share, rel=0.10)


@pytest.mark.parametrize("change", ["turned", "mirrored", "brightened", "tinted", "jpeg"])
def test_what_is_no_void_moves_nothing(
    plain: Casting, drawn: Drawn, graded: Grade, paired: Callable, change: str
) -> None:
    changes = {
        "turned": np.rot90,
        "mirrored": np.fliplr,
        "brightened": lambda p: brightened(p, 1.2),
        "tinted": lambda p: brightened(p, np.array([0.7, 0.9, 1.0])),
        "jpeg": lambda p: stored(p, 85),
    }
    casting = graded(changes[change](drawn.picture))
    x, y, diameter = columns(casting)
    last = drawn.picture.shape[1] - 1
    back = {"turned": (last - y, x), "mirrored": (last - x, y)}.get(change, (x, y))
    found, hit = paired((*back, diameter), columns(plain))
    assert casting.count == pytest.approx(plain.count, rel=0.04)
    assert len(hit) >= 0.95 * plain.count
    assert np.median(np.hypot(back[0][found] - plain.voids.x_px[hit], back[1][found] - plain.voids.y_px[hit])) < 0.1
    ratio = diameter[found] / plain.voids.diameter_px[hit]
    assert float(np.median(ratio)) == pytest.approx(1.0, abs=0.01)
    assert np.percentile(np.abs(ratio - 1), 90) < 0.03
    assert casting.clarity.score == pytest.approx(plain.clarity.score, abs=2.0)


def test_at_half_the_size_diameters_halve_and_clarity_stays(
    plain: Casting, drawn: Drawn, graded: Grade, paired: Callable
) -> None:
    casting = graded(cv2.resize(drawn.picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA))
    x, y, diameter = columns(casting)
    found, hit = paired((2 * x + 0.5, 2 * y + 0.5, 2 * diameter), columns(plain))
    still = plain.voids.diameter_px >= 2.2 * casting.sizes_px.smallest
    assert still[hit].sum() >= 0.95 * still.sum()
    ratio = 2 * diameter[found] / plain.voids.diameter_px[hit]
    assert float(np.median(ratio)) == pytest.approx(1.0, abs=0.03)
    assert casting.clarity.score == pytest.approx(plain.clarity.score, abs=2.0)


def test_clarity_of_a_nearly_clear_casting_stays_too(graded: Grade) -> None:
    picture = draw(cup_scene(31, count=8)).picture
    changed = (np.rot90(picture), np.fliplr(picture), brightened(picture, 1.2), stored(picture, 85))
    scores = [graded(p).clarity.score for p in (picture, *changed)]
    print("clarity plain, turned, mirrored, brightened, JPEG:", np.round(scores, 1))  # noqa: T201
    np.testing.assert_allclose(scores, scores[0], atol=2.0)


def test_clarity_of_a_nearly_clear_casting_stays_at_half_the_size_too(graded: Grade) -> None:
    picture = draw(cup_scene(31, count=8)).picture
    half = cv2.resize(picture, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    scores = [graded(p).clarity.score for p in (picture, half)]
    print("clarity plain, half:", np.round(scores, 1))  # noqa: T201
    assert scores[1] == pytest.approx(scores[0], abs=2.0)


@pytest.mark.parametrize("fields", [{}, {"casting_px": 250.0}, {"level": 0.3}], ids=str)
def test_a_clean_casting_scores_above_the_best_grades_limit(graded: Grade, fields: dict) -> None:
    casting = graded(draw(Scene(**fields)).picture)
    assert casting.clarity.score >= casting.clarity.grades[0][1]


def test_a_clean_casting_has_no_void_and_an_empty_table(graded: Grade) -> None:
    casting = graded(draw(Scene()).picture)
    assert casting.count == 0
    assert len(casting.voids) == 0
    assert casting.voids.diameter_px.dtype == np.float64
    assert np.isnan(casting.sizes_px.d50_number.value)
    assert casting.clarity.cover == 0.0


def test_perfect_discs_are_sized_within_what_is_stated(graded: Grade, paired: Callable) -> None:
    print("\n  d px  found  bias %  spread %  stated % (95 %)  within")  # noqa: T201
    errors, stated = [], []
    for diameter in PERFECT_PX:
        x, y = grid(np.linspace(220, 580, 4), np.linspace(220, 580, 4))
        rng = np.random.default_rng(int(diameter))
        x, y = x + rng.uniform(-0.5, 0.5, 16), y + rng.uniform(-0.5, 0.5, 16)
        scene = Scene(x_px=x, y_px=y, diameter_px=np.full(16, diameter), **LIGHT)
        casting = graded(draw(scene).picture)
        found, _ = paired(columns(casting), (x, y, np.full(16, diameter)))
        size, err = casting.voids.diameter_px[found], casting.voids.diameter_err_px[found]
        if diameter < 5:
            assert casting.count == 0  # below what can be counted
            print(f"{diameter:6.1f}  {len(found):5d}")  # noqa: T201
            continue
        row = size / diameter - 1
        within = np.abs(size - diameter) <= 1.96 * err
        print(  # noqa: T201
            f"{diameter:6.1f}  {len(found):5d}  {100 * row.mean():+6.2f}  {100 * row.std():8.2f}"
            f"  {196 * np.median(err / size):15.1f}  {within.mean():6.2f}"
        )
        assert len(found) == 16
        errors.append(np.abs(row).mean())
        stated.append(within)
    assert np.concatenate(stated).mean() >= 0.85
    assert max(errors) < 0.06


def test_a_casting_knows_its_scale_from_its_width_to_half_a_per_cent(drawn: Drawn, graded: Grade) -> None:
    casting = graded(drawn.picture, width_mm=44.0)
    assert casting.scale is not None
    assert casting.scale.mm_per_px == pytest.approx(44 / 680, rel=0.005)
    assert casting.sizes_mm is not None
    assert casting.sizes_mm.d50_number.value == pytest.approx(
        casting.sizes_px.d50_number.value * casting.scale.mm_per_px
    )


def test_without_a_scale_sizes_are_in_px_and_the_casting_says_so(plain: Casting) -> None:
    assert plain.sizes_mm is None
    assert np.isnan(plain.judged_area_cm2)
    assert any("no scale" in said for said in plain.warnings)


def test_with_scale_and_thickness_the_glass_class_and_the_volume_are_known(drawn: Drawn, graded: Grade) -> None:
    casting = graded(drawn.picture, mm_per_px=44 / 680, thickness_mm=14.0)
    assert casting.glass is not None
    assert casting.judged_area_cm2 == pytest.approx(np.pi * 2.2**2, rel=0.06)
    assert casting.judged_volume_cm3 == pytest.approx(1.4 * casting.judged_area_cm2)


def test_the_same_photograph_gives_the_same_numbers(drawn: Drawn, graded: Grade, plain: Casting) -> None:
    again = graded(drawn.picture)
    np.testing.assert_array_equal(again.voids.diameter_px, plain.voids.diameter_px)
    assert again.clarity == plain.clarity
    assert again.sizes_px == plain.sizes_px


def test_the_whole_frame_can_be_judged_where_no_casting_is_in_view(graded: Grade, paired: Callable) -> None:
    picture = draw(replace(cup_scene(41), casting_px=0.0))
    casting = graded(picture.picture, whole=True)
    found, _ = paired(columns(casting), truth(picture))
    assert len(found) >= 0.9 * (picture.diameter_px > 6).sum()
    assert casting.judged_area_px == pytest.approx(800 * 800, rel=0.02)
    assert len(casting.outline_px) == 0


def test_sixteen_bits_give_the_voids_of_eight(drawn: Drawn, graded: Grade, plain: Casting) -> None:
    casting = graded(drawn.picture.astype(np.uint16) * 257)
    assert casting.count == pytest.approx(plain.count, abs=1)
    assert casting.sizes_px.d50_number.value == pytest.approx(plain.sizes_px.d50_number.value, rel=0.01)


def test_a_grey_photograph_gives_the_voids_of_a_grey_scene(drawn: Drawn, graded: Grade, plain: Casting) -> None:
    casting = graded(cv2.cvtColor(drawn.picture, cv2.COLOR_BGR2GRAY))
    assert casting.count == pytest.approx(plain.count, rel=0.04)


@pytest.mark.parametrize(
    ("picture", "said"),
    [
        (np.zeros((400, 400, 3), np.uint8), r"^cup\.png is dark all over: switch the backlight on or expose longer$"),
        (np.full((400, 400, 3), 255, np.uint8), r"^cup\.png is white all over: expose less, .+$"),
        (
            draw(Scene(casting_px=0.0)).picture,
            r"^cup\.png: no casting in view, or its outline is lost in the light: show .+--whole; .+$",
        ),
    ],
    ids=["black", "white", "empty"],
)
def test_what_cannot_be_graded_is_refused_with_value_fault_and_cure(
    graded: Grade, picture: np.ndarray, said: str
) -> None:
    with pytest.raises(PhotoError, match=said):
        graded(picture, name="cup.png")


def test_an_absurd_width_is_refused(drawn: Drawn, graded: Grade) -> None:
    with pytest.raises(InputError, match="check the width"):
        graded(drawn.picture, width_mm=44_000.0)


@pytest.mark.parametrize(
    "passed", [(0.5, 0.5, 0.5), (0.08, 0.08, 0.08), (0.7, 0.08, 0.03), (0.08, 0.5, 0.05), (0.03, 0.03, 0.7)]
)
def test_tinted_resin_shows_the_voids_that_clear_resin_shows(
    passed: tuple[float, float, float], drawn: Drawn, plain: Casting, graded: Grade
) -> None:
    """From the definition: a void's darkness is a share of what the resin around it lets through, of any colour."""
    y, x = np.indices(drawn.picture.shape[:2])
    inside = np.clip(340.5 - np.hypot(x - 399.5, y - 399.5), 0, 1)[..., None]
    tinted = graded(brightened(drawn.picture, 1 - inside * (1 - np.array(passed))))
    assert len(tinted.voids) == pytest.approx(len(plain.voids), abs=1)
    near = np.hypot(tinted.voids.x_px[:, None] - drawn.x_px, tinted.voids.y_px[:, None] - drawn.y_px)
    ratio = tinted.voids.diameter_px / drawn.diameter_px[near.argmin(1)]
    assert near.min(1).max() < 1
    assert np.median(ratio) == pytest.approx(1, abs=0.01)
    assert tinted.clarity.score == pytest.approx(plain.clarity.score, rel=0.1)
    assert tinted.judged_area_px == pytest.approx(plain.judged_area_px, rel=0.02)


def test_a_void_of_just_the_smallest_size_is_listed_and_counts_where_it_measures_as_much(graded: Grade) -> None:
    rng = np.random.default_rng(8)
    x, y = grid(np.linspace(250, 550, 8), np.linspace(250, 550, 8))
    x, y = x + rng.uniform(-0.5, 0.5, x.size), y + rng.uniform(-0.5, 0.5, y.size)
    casting = graded(draw(Scene(x_px=x, y_px=y, diameter_px=np.full(x.size, 5.0), electrons=2000.0, **LIGHT)).picture)
    size, err = casting.voids.diameter_px, casting.voids.diameter_err_px
    smallest = casting.sizes_px.smallest
    assert len(size) >= 0.97 * x.size
    assert smallest == 5.0
    assert 0.1 * x.size < casting.sizes_px.below == (size < smallest).sum()
    assert casting.sizes_px.count == (size >= smallest).sum()
    assert (size + 1.96 * err >= smallest).all()
