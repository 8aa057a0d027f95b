"""Where the voids lie: planted patterns are found, random ones raise no alarm."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import binom

from bubblegrade.grading.pattern import FALSE_ALARMS, LEAST_VOIDS, Answer, Ground, Pattern, void_pattern
from bubblegrade.grading.pattern_causes import CAUSES, SENTENCES, suspects
from bubblegrade.grading.pattern_record import Place

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

STEP_PX = 4.0
pytestmark = pytest.mark.long
ROWS, COLS = np.indices((150, 150)) - 74.5
AWAY = np.hypot(ROWS, COLS)
DISC = AWAY < 70.0
LURE = (np.indices((80, 240))[1] - 119.5) ** 2 / 112.0**2 + (np.indices((80, 240))[0] - 39.5) ** 2 / 34.0**2 < 1.0
HOLES = np.min([np.hypot(ROWS - 45 * math.sin(k), COLS - 45 * math.cos(k)) for k in range(0, 6, 2)], axis=0) < 8.0
RING = DISC & (AWAY > 25.0) & ~HOLES
WIRE = np.zeros_like(DISC)
WIRE[72:78, 55:96] = True
POUR = (298.0, 22.0)  # at the disc's top
TOP = (0.0, -1.0)


def thrown(where: Mask, count: int, random: np.random.Generator) -> Floats:
    """Return centres at random in the cells of a mask, (count, 2)."""
    rows, cols = np.nonzero(where)
    cell = random.integers(len(rows), size=count)
    return (np.stack([cols[cell], rows[cell]], axis=1) + random.random((count, 2))) * STEP_PX - 0.5


def seen(centres: Floats, random: np.random.Generator, *, median_px: float = 9.0) -> tuple[Floats, Floats]:
    """Return centres and log-normal diameters of those that no larger one hides, in any order."""
    diameters = np.exp(random.normal(math.log(median_px), 0.4, len(centres)))
    kept: list[int] = []
    for void in np.argsort(-diameters):
        apart = np.hypot(*(centres[kept] - centres[void]).T)
        if (apart >= 0.5 * diameters[kept]).all():
            kept.append(int(void))
    rows = random.permutation(kept)
    return centres[rows], diameters[rows]


def planted(kind: str, random: np.random.Generator) -> Floats:
    """Return the centres of a planted pattern on the disc with the wire; the side of its square is 496 px."""
    open_ = DISC & ~WIRE
    if kind == "three clusters":
        return np.concatenate([thrown(open_, 1, random) + random.normal(0.0, 10.0, (11, 2)) for _ in range(3)])
    if kind == "one cluster":
        return np.asarray(thrown(open_, 1, random) + random.normal(0.0, 12.0, (16, 2)))
    if kind in ("line to the pour", "any line"):
        angle = random.uniform(0.25 * math.pi, 0.75 * math.pi)
        along = random.uniform(10.0, 330.0, 16 if kind == "line to the pour" else 22)[:, np.newaxis]
        return np.asarray(POUR + along * [math.cos(angle), math.sin(angle)] + random.normal(0.0, 2.0, (len(along), 2)))
    distance = {
        "wreath": np.asarray(Ground(DISC, STEP_PX, WIRE).from_hardware_px),
        "wall": np.asarray(Ground(DISC, STEP_PX).from_wall_px),
        "crust": (ROWS + 70.0) * STEP_PX,
    }[kind]
    reach, count = {"wreath": (18.0, 18), "wall": (18.0, 34), "crust": (45.0, 24)}[kind]
    return thrown(open_ & (distance <= reach), count, random)


def random_ground(shape: str, *, aided: bool) -> Ground:
    """Return a ground with hardware, with or without the pour point and up."""
    judged, hardware = {
        "disc": (DISC, WIRE),
        "lure": (LURE, np.pad(np.ones((6, 70), bool), ((37, 37), (85, 85)))),
        "ring": (RING, HOLES),
    }[shape]
    return Ground(judged, STEP_PX, hardware, pour_px=POUR if aided else None, up=TOP if aided else None)


def alarms(pattern: Pattern) -> int:
    """Return whether anything was found."""
    return int(any(answer.found for answer in pattern.answers))


@pytest.fixture(scope="module")
def at_random() -> dict[str, Any]:
    """Return alarms and p-values of random voids over three outlines, 20 to 400 of them, with and without aids."""
    random, trials = np.random.default_rng(11), 0
    raised: Counter[str] = Counter()
    p_values = defaultdict(list)
    for shape in ("disc", "lure", "ring"):
        for count, times in ((20, 28), (50, 24), (120, 14), (400, 2)):
            for trial in range(times):
                ground = random_ground(shape, aided=bool(trial % 2))
                centres, sizes = seen(thrown(ground.open, count, random), random)
                pattern = void_pattern(centres, sizes, ground, seed=trial)
                raised[shape] += alarms(pattern)
                trials += 1
                for answer in pattern.answers:
                    p_values[answer.question].append(answer.p)
    return {"trials": trials, "raised": raised, "p": p_values}


def test_random_voids_raise_any_alarm_in_at_most_5_of_100_castings(at_random: dict[str, Any]) -> None:
    assert at_random["trials"] >= 200
    assert at_random["raised"].total() <= binom.ppf(0.99, at_random["trials"], FALSE_ALARMS)


@pytest.mark.parametrize("question", ["nearest", "pairs", "clusters", "line", "wreath", "wall"])
def test_the_p_values_of_random_voids_hold_at_every_limit(at_random: dict[str, Any], question: str) -> None:
    p = np.array(at_random["p"][question])
    for limit in (0.05, 0.1, 0.25, 0.5, 0.75):
        assert (p <= limit).sum() <= binom.ppf(0.999, len(p), limit)


def test_the_p_values_of_nearest_neighbours_are_even_at_random(at_random: dict[str, Any]) -> None:
    p = np.array(at_random["p"]["nearest"])
    for limit in (0.1, 0.25, 0.5, 0.75):
        assert (p <= limit).sum() >= binom.ppf(0.001, len(p), limit) - 0.02 * len(p)


@pytest.mark.parametrize(
    ("kind", "question", "cause", "background"),
    [
        ("three clusters", "clusters", "moisture", 60),
        ("one cluster", "clusters", "moisture", 60),
        ("line to the pour", "line", "air from the pour", 80),
        ("any line", "line", "air from the pour", 60),
        ("wreath", "wreath", "inserts not wetted", 80),
        ("wall", "wall", "air at the wall", 80),
        ("crust", "top", "foam", 80),
        ("crust", "side", "foam", 80),
    ],
)
def test_a_planted_pattern_is_found_and_its_cause_leads_in_9_of_10_castings(
    kind: str, question: str, cause: str, background: int
) -> None:
    # the voids planted: 3 x 11 and 16 in clusters of 10 and 12 px (standard deviation), 16 and 22 in lines of 320 px,
    # 18 within 2 median diameters of the wire, 34 as near to the wall, 24 in the top 45 of 560 px
    random, trials = np.random.default_rng(12), 20
    found = led = 0
    pour = None if kind in ("any line", "one cluster") else POUR
    up = None if question == "side" else TOP
    ground = Ground(DISC, STEP_PX, WIRE, pour_px=pour, up=up)
    for trial in range(trials):
        background_voids = thrown(ground.open, background, random)
        centres, sizes = seen(np.concatenate([background_voids, planted(kind, random)]), random)
        pattern = void_pattern(centres, sizes, ground, seed=trial)
        answers = {answer.question: answer for answer in pattern.answers}
        found += answers[question].found  # type: ignore[index]
        led += bool(pattern.suspects) and pattern.suspects[0].cause == cause
    assert found >= 0.9 * trials
    assert led >= 0.9 * trials


def casting(kind: str = "one cluster", *, seed: int = 1, outside: int = 0) -> tuple[Floats, Floats]:
    """Return centres and diameters of 60 random and some planted voids, after some outside of the judged area."""
    random = np.random.default_rng(seed)
    centres = np.concatenate([thrown(DISC & ~WIRE, 60, random), planted(kind, random)])
    centres, sizes = seen(centres, random)
    return np.concatenate([np.full((outside, 2), 3.0), centres]), np.concatenate([np.full(outside, 9.0), sizes])


def values(pattern: Pattern) -> dict[str, float]:
    """Return each question's value."""
    return {answer.question: answer.value for answer in pattern.answers}


def turned(points: Floats, side_px: float) -> Floats:
    """Return points after a quarter turn of a square picture."""
    return np.stack([side_px - 1.0 - points[:, 1], points[:, 0]], axis=1)


def test_turning_and_mirroring_the_photograph_keep_what_was_measured() -> None:
    centres, sizes = casting()
    side = 150 * STEP_PX
    plain = Ground(DISC, STEP_PX, WIRE, pour_px=POUR, up=TOP)
    round_ = Ground(DISC, STEP_PX, WIRE.T[:, ::-1], pour_px=(side - 1.0 - POUR[1], POUR[0]), up=(1.0, 0.0))
    mirror = Ground(DISC, STEP_PX, WIRE[:, ::-1], pour_px=(side - 1.0 - POUR[0], POUR[1]), up=TOP)
    first = values(void_pattern(centres, sizes, plain, seed=1))
    second = values(void_pattern(turned(centres, side), sizes, round_, seed=1))
    third = values(void_pattern(np.array([side - 1.0, 0.0]) + [-1.0, 1.0] * centres, sizes, mirror, seed=1))
    for question, value in first.items():
        near = 0.6 if question == "line" else 0.02  # a void on the border of two lanes may change over
        assert second[question] == pytest.approx(value, abs=near)
        assert third[question] == pytest.approx(value, abs=near)


def test_a_photograph_of_another_scale_gives_the_same_answer() -> None:
    centres, sizes = casting()
    first = void_pattern(centres, sizes, Ground(DISC, STEP_PX, WIRE, pour_px=POUR), seed=3)
    pour = tuple((np.array(POUR) + 0.5) * 2.5 - 0.5)
    grown = Ground(DISC, STEP_PX * 2.5, WIRE, pour_px=pour)
    second = void_pattern((centres + 0.5) * 2.5 - 0.5, sizes * 2.5, grown, seed=3)
    assert values(second) == pytest.approx(values(first), abs=0.3)
    for mine, theirs in zip(first.answers, second.answers, strict=True):
        assert mine.p == pytest.approx(theirs.p, abs=0.1)


def test_the_same_seed_gives_the_same_answer_and_voids_may_come_in_any_order() -> None:
    centres, sizes = casting()
    ground = Ground(DISC, STEP_PX, WIRE)
    first, again = (void_pattern(centres, sizes, ground, seed=4) for _ in range(2))
    assert first == again
    backwards = void_pattern(centres[::-1], sizes[::-1], ground, seed=4)
    assert values(backwards) == pytest.approx(values(first))


def test_voids_are_named_by_their_rows_even_if_some_lie_outside() -> None:
    centres, sizes = casting(outside=7)
    pattern = void_pattern(centres, sizes, Ground(DISC, STEP_PX, WIRE), seed=1)
    place = next(answer for answer in pattern.answers if answer.question == "clusters").places[0]
    assert pattern.left_out == 7
    assert pattern.voids == len(sizes) - 7
    assert min(place.voids) >= 7
    off = np.hypot(*(centres[list(place.voids)] - [place.x_px, place.y_px]).T)
    assert off.max() == pytest.approx(place.reach_px)
    assert pattern.suspects[0].cause == "moisture"
    assert set(place.voids) <= set(pattern.suspects[0].voids)
    assert pattern.suspects[0].sentence == SENTENCES["moisture"]


def test_clusters_at_several_places_are_listed_apart() -> None:
    centres, sizes = casting("three clusters", seed=5)
    pattern = void_pattern(centres, sizes, Ground(DISC, STEP_PX), seed=1)
    places = next(answer for answer in pattern.answers if answer.question == "clusters").places
    assert len(places) >= 2
    together = [void for place in places for void in place.voids]
    assert len(together) == len(set(together))


@pytest.mark.parametrize("count", [0, 1, LEAST_VOIDS - 1])
def test_with_too_few_voids_nothing_can_be_told(count: int) -> None:
    pattern = void_pattern(
        thrown(DISC, count, np.random.default_rng(1)), np.full(count, 8.0), Ground(DISC, STEP_PX, up=TOP), seed=1
    )
    assert not pattern.known
    assert (pattern.voids, pattern.suspects) == (count, ())
    assert [answer.question for answer in pattern.answers] == ["nearest", "pairs", "clusters", "line", "wall", "top"]
    assert not any(answer.found or answer.known for answer in pattern.answers)


def test_only_what_the_ground_allows_is_asked() -> None:
    centres = thrown(np.ones_like(DISC), 30, np.random.default_rng(2))
    ground = Ground(np.ones_like(DISC), STEP_PX, up=TOP)
    pattern = void_pattern(centres, np.full(30, 5.0), ground, seed=1)
    assert [answer.question for answer in pattern.answers] == ["nearest", "pairs", "clusters", "line", "top"]


def test_thick_parts_look_crowded_unless_the_thickness_is_known() -> None:
    # a lens: random voids are as many as there is resin
    random = np.random.default_rng(3)
    thickness = np.sqrt(np.clip(1.0 - (AWAY / 70.0) ** 2, 0.0, None))
    chance = (thickness / thickness.sum()).ravel()
    row, col = np.divmod(random.choice(chance.size, 400, p=chance), 150)
    centres, sizes = seen((np.stack([col, row], axis=1) + random.random((400, 2))) * STEP_PX - 0.5, random, median_px=4)
    even = void_pattern(centres, sizes, Ground(DISC, STEP_PX), seed=1)
    told = void_pattern(centres, sizes, Ground(DISC, STEP_PX, thickness=thickness), seed=1)
    assert alarms(even)
    assert not alarms(told)


@pytest.mark.parametrize("sizes", [[3.0] * 11, [3.0] * 11 + [0.0], [3.0] * 11 + [math.nan]])
def test_voids_without_a_size_are_a_broken_promise(sizes: list[float]) -> None:
    centres = thrown(DISC, 12, np.random.default_rng(1))
    with pytest.raises(AssertionError, match="12 voids need as many diameters above 0"):
        void_pattern(centres, sizes, Ground(DISC, STEP_PX), seed=1)


def answer(question: Any, value: float, voids: tuple[int, ...], *, p_corrected: float = 0.01) -> Answer:
    """Return an answer with one place, or with none of no voids; chance gives 2 with a spread of 1."""
    places = (Place(voids, 0.0, 0.0, 1.0, 1.0),) if voids else ()
    return Answer(question, value, 2.0, 1.0, 0.5, 3.5, 0.002, p_corrected, 499, places)


def test_a_finding_that_is_a_stronger_one_seen_twice_is_no_suspect() -> None:
    line, cluster = answer("line", 9.0, (1, 2, 3, 4, 5)), answer("clusters", 5.0, (3, 4, 5))
    apart = answer("clusters", 5.0, (5, 6, 7))
    assert [one.cause for one in suspects([cluster, line])] == ["air from the pour"]
    assert [one.cause for one in suspects([apart, line])] == ["air from the pour", "moisture"]


def test_pairs_speak_only_where_nothing_has_a_place() -> None:
    pairs, wreath = answer("pairs", 9.0, ()), answer("wreath", 6.0, (1, 2, 3))
    assert [one.cause for one in suspects([pairs, wreath])] == ["inserts not wetted"]
    assert [one.cause for one in suspects([pairs, answer("nearest", -3.0, ())])] == ["moisture"]
    assert suspects([answer("wall", 9.0, (1,), p_corrected=0.06)]) == ()


def test_every_cause_has_its_sentence_and_is_reached() -> None:
    assert set(CAUSES.values()) == set(SENTENCES)
    assert all(sentence.endswith(".") for sentence in SENTENCES.values())
