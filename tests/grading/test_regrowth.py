"""The comparison of a piece with its own earlier photograph, on tables of known change."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from bubblegrade.grading.record import Casting
from bubblegrade.grading.regrowth import Regrowth, compare
from bubblegrade.voids.lighting import Lighting
from bubblegrade.voids.table import Voids, stacked

SIDE = 1000.0
BORDER = np.array([[50.0, 50.0], [950.0, 50.0], [950.0, 950.0], [50.0, 950.0]])
Maker = Callable[..., Casting]


def table(count: int, seed: int, *, growth: float = 1.0, err: float = 0.01) -> Voids:
    """Return voids at places that `seed` alone sets, their diameters grown and measured with an error share."""
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(100, 900, (2, count))
    diameters = np.exp(rng.normal(np.log(18.0), 0.4, count)).clip(8, 60)
    noise = np.random.default_rng([seed, int(growth * 1000), 7]).normal(0.0, err, count)
    seen = growth * diameters * np.exp(noise)
    return Voids.of(x_px=x, y_px=y, diameter_px=seen, diameter_err_px=err * seen)


def apart(count: int, seed: int) -> Voids:
    """Return voids of which none is near another: 70 px between their middles."""
    voids = table(count, seed)
    place = np.arange(count)
    return replace(
        voids,
        x_px=100.0 + 70 * (place % 12),
        y_px=100.0 + 70.0 * (place // 12),
        diameter_px=voids.diameter_px.clip(8, 30),
    )


@pytest.fixture
def piece(known_casting: Maker) -> Maker:
    """Return a maker of castings of 900 x 900 px that hold the voids given."""

    def made(voids: Voids, **changes: Any) -> Casting:
        light = Lighting(theta=0.7, theta_err=0.0, wall=0.5, blur_px=0.9, rings=5)
        facts: dict[str, Any] = {
            "shape_px": (1000, 1000),
            "outline_px": BORDER,
            "judged_px": (BORDER,),
            "judged_area_px": 810_000.0,
        }
        return known_casting(voids=voids, **{"lighting": light, **facts, **changes})

    return made


def test_voids_that_did_not_change_are_said_not_to(piece: Maker) -> None:
    found = compare(piece(table(40, 1)), piece(table(40, 1, growth=1.0)))
    assert found.verdict == "did not change"
    assert found.growth.value == pytest.approx(0.0, abs=1e-9)
    assert len(found.pairs) == 40
    assert not len(found.gone)
    assert not len(found.new)


@pytest.mark.parametrize("growth", [0.9, 0.95, 1.03, 1.05, 1.2])
def test_the_growth_of_all_is_inside_its_interval(piece: Maker, growth: float) -> None:
    found = compare(piece(table(40, 2)), piece(table(40, 2, growth=growth)))
    assert found.growth.low < growth - 1.0 < found.growth.high
    assert found.verdict == ("grew" if growth > 1.0 else "shrank")


def test_the_interval_holds_as_often_as_it_says_or_a_little_more(piece: Maker) -> None:
    held = []
    for seed in range(200):
        before = table(12, seed, err=0.02)
        rng = np.random.default_rng([seed, 3])
        noise = rng.normal(0.0, 0.02, 12) + rng.normal(0.0, 0.005)  # of each void, and of what a camera makes of all
        after = replace(before, diameter_px=before.diameter_px * 1.05 * np.exp(noise))
        clean = replace(before, diameter_px=before.diameter_px)
        found = compare(piece(clean), piece(after))
        held.append(found.growth.low < 0.05 < found.growth.high)
    assert 0.93 <= np.mean(held) <= 0.99


def two_of_one_resin(piece: Maker, seed: int, alike: float) -> Regrowth:
    """Compare photographs of 40 voids that grew by 5 %, whose sizes an index not told makes wrong by one share."""
    rng = np.random.default_rng([seed, 5])
    own = rng.uniform(0.01, 0.03, (2, 40))
    noise = rng.normal(0.0, own) + alike * rng.normal(size=40)
    seen = table(40, seed).diameter_px * [[1.0], [1.05]] * np.exp(noise)
    first, second = (
        piece(replace(table(40, seed), diameter_px=each, diameter_err_px=each * errs), index_err_share=alike)
        for each, errs in zip(seen, np.hypot(own, alike), strict=True)
    )
    return compare(first, second)


@pytest.mark.parametrize("alike", [0.012, 0.03])
def test_an_index_that_is_not_told_is_one_in_both_photographs_and_widens_no_growth(piece: Maker, alike: float) -> None:
    told, untold = (two_of_one_resin(piece, 1, share) for share in (0.0, alike))
    assert untold.growth.low == pytest.approx(told.growth.low, abs=1e-4)
    assert untold.growth.high == pytest.approx(told.growth.high, abs=1e-4)
    np.testing.assert_allclose(untold.growth_errs, told.growth_errs, rtol=1e-6)


def test_the_doubt_of_an_index_stays_where_it_is_in_one_photograph_alone(piece: Maker) -> None:
    voids = table(40, 1, err=0.03)
    for shares in ((0.012, 0.0), (0.0, 0.012)):
        found = compare(*(piece(voids, index_err_share=share) for share in shares))
        np.testing.assert_allclose(found.growth_errs, math.hypot(0.03, 0.03), rtol=1e-6)


def test_the_growth_of_each_void_holds_in_95_of_100_where_the_index_is_not_told(piece: Maker) -> None:
    found = [two_of_one_resin(piece, seed, 0.012) for seed in range(60)]
    off = [(np.log1p(each.growths) - np.log(1.05)) * (1.0 + each.growths) / each.growth_errs for each in found]
    assert 0.93 <= np.mean(np.abs(np.concatenate(off)) < 1.96) <= 0.97


def test_the_lights_doubt_is_common_to_all_voids_and_stays(piece: Maker) -> None:
    doubtful = Lighting(theta=0.7, theta_err=0.12, wall=0.5, blur_px=0.9, rings=0)
    wide = compare(piece(table(400, 3), lighting=doubtful), piece(table(400, 3), lighting=doubtful))
    assert wide.growth.high - wide.growth.low > 0.05
    assert wide.verdict in ("did not change", "cannot be told")


def test_the_part_of_the_lights_doubt_that_photographs_of_a_casting_share_leaves_growth_alone(piece: Maker) -> None:
    plain = Lighting(theta=0.7, theta_err=0.03, wall=0.5, blur_px=0.9, rings=5)
    shared = replace(plain, theta_err=0.05, theta_alike_err=0.04)
    known, told = (compare(*[piece(table(400, 3), lighting=light)] * 2).growth for light in (plain, shared))
    assert (known.low, known.high) == pytest.approx((told.low, told.high))


@pytest.mark.parametrize(("blur_px", "verdict"), [(0.9, "shrank"), (2.0, "did not change")])
def test_blur_makes_all_voids_smaller_or_larger_and_is_not_taken_for_growth(
    piece: Maker, blur_px: float, verdict: str
) -> None:
    # voids of 18 px in photographs of 2 px of blur come out up to 2.4 % off, all alike, by drawn and traced photographs
    blurred = Lighting(theta=0.7, theta_err=0.02, wall=0.5, blur_px=blur_px, rings=5)
    found = compare(piece(table(40, 10)), piece(table(40, 10, growth=0.982), lighting=blurred))
    assert found.verdict == verdict


ASSUMED = Lighting(theta=0.7, theta_err=0.12, wall=0.5, blur_px=0.9, rings=0)


def test_a_light_that_was_only_assumed_leaves_the_growth_alone_where_the_setup_was_the_same(piece: Maker) -> None:
    both = [piece(table(400, 3), lighting=ASSUMED)] * 2
    known = compare(*[piece(table(400, 3), lighting=replace(ASSUMED, theta_err=0.0, rings=5))] * 2, same_setup=True)
    same, other = (compare(*both, same_setup=said).growth for said in (True, False))
    assert (same.low, same.high) == pytest.approx((known.growth.low, known.growth.high))
    assert same.high - same.low < 0.03
    assert other.high - other.low > 0.06


def test_a_light_that_one_photograph_alone_measures_stays_a_doubt_also_of_the_same_setup(piece: Maker) -> None:
    first, second = piece(table(400, 3)), piece(table(400, 3), lighting=ASSUMED)
    same, other = (compare(first, second, same_setup=said).growth for said in (True, False))
    assert same.high - same.low > 0.8 * (other.high - other.low)


def test_blur_that_both_photographs_have_leaves_the_growth_alone_where_the_setup_was_the_same(piece: Maker) -> None:
    sharp, blurred = (Lighting(theta=0.7, theta_err=0.0, wall=0.5, blur_px=blur_px, rings=5) for blur_px in (0.9, 3.0))
    wide = {
        one == two: compare(piece(table(400, 3), lighting=one), piece(table(400, 3), lighting=two), same_setup=True)
        for one, two in ((blurred, blurred), (sharp, blurred))
    }
    assert wide[True].growth.high < 0.015
    assert wide[False].growth.high > 0.03


def test_photographs_from_another_distance_are_not_taken_for_the_same_setup(piece: Maker) -> None:
    voids = table(40, 1)
    nearer = replace(voids, x_px=1.1 * voids.x_px, y_px=1.1 * voids.y_px, diameter_px=1.1 * voids.diameter_px)
    later = piece(nearer, outline_px=1.1 * BORDER, judged_px=(1.1 * BORDER,))
    assert compare(piece(voids), later).verdict == "did not change"
    found = compare(piece(voids), later, same_setup=True)
    assert found.verdict == "cannot be told"
    assert found.reason.startswith("the later photograph shows the piece 1.10 times as large, which is not the same")


def test_that_the_same_setup_can_be_said_is_told_where_nothing_else_tells(piece: Maker) -> None:
    first, second = piece(table(12, 1, err=0.1)), piece(table(12, 1, growth=1.002, err=0.1))
    found = [compare(first, second, same_setup=said) for said in (False, True)]
    assert [one.verdict for one in found] == ["cannot be told"] * 2
    assert ["--same-setup" in one.reason for one in found] == [True, False]


@pytest.mark.parametrize("growth", [1.15, 1.4, 2.5])
def test_a_void_that_grew_by_itself_is_not_hidden_and_does_not_move_the_rest(piece: Maker, growth: float) -> None:
    """Over 1.5 it is told by its place alone, since finds so unlike in size are no pair elsewhere."""
    voids = apart(120, 4)
    later = replace(voids, diameter_px=np.where(np.arange(120) == 7, growth, 1.0) * voids.diameter_px)
    found = compare(piece(voids), piece(later))
    assert found.verdict == "cannot be told"
    assert found.reason == "1 of 120 voids grew by itself, far beyond chance: look at it"
    assert found.growth.value == pytest.approx(0.0, abs=1e-9)
    assert found.pairs[found.stands_out][:, 0].tolist() == [7]
    assert not len(found.gone)
    assert not len(found.new)


@pytest.mark.parametrize("beside", ["voids", "set_aside"])
def test_a_void_beside_which_another_lies_may_be_one_with_it(piece: Maker, beside: str) -> None:
    voids = apart(120, 4)
    later = replace(voids, diameter_px=np.where(np.arange(120) == 7, 1.4, 1.0) * voids.diameter_px)
    other = replace(later[7:8], x_px=later.x_px[7:8] + later.diameter_px[7])
    facts = {"set_aside": other} if beside == "set_aside" else {}
    found = compare(piece(voids), piece(later if facts else stacked([later, other]), **facts))
    assert found.verdict == "did not change"
    assert found.stands_out.sum() == 1


def test_a_void_in_doubt_by_itself_is_left_to_chance(piece: Maker) -> None:
    voids = apart(120, 4)
    one = np.arange(120) == 7
    doubtful = replace(voids, diameter_err_px=np.where(one, 0.08, 0.01) * voids.diameter_px)
    found = compare(piece(doubtful), piece(replace(doubtful, diameter_px=np.where(one, 1.3, 1.0) * voids.diameter_px)))
    assert found.verdict == "did not change"


@pytest.mark.parametrize(("grown", "of"), [(1, 10), (3, 40), (5, 14)])
def test_a_piece_of_which_more_voids_grew_than_stray_by_chance_is_not_called_unchanged(
    piece: Maker, grown: int, of: int
) -> None:
    voids = table(of, 11)
    later = replace(voids, diameter_px=np.where(np.arange(of) < grown, 1.3, 1.0) * voids.diameter_px)
    found = compare(piece(voids), piece(later))
    assert found.stands_out.sum() == grown
    assert found.verdict == "cannot be told"
    assert found.reason == f"{grown} of {of} voids changed otherwise than the rest: look at them"


@pytest.mark.parametrize("growth", [1.0, 1.08])
def test_an_unfit_photograph_tells_nothing_of_growth(piece: Maker, known_casting: Maker, growth: float) -> None:
    # An unchanged cup out of focus by 5 px, whose edges are unfit, came out 6 to 11 % grown.
    fitness = known_casting(unfit=("edges in the casting are 7.7 px wide or more",)).fitness
    found = compare(piece(table(40, 12)), piece(table(40, 12, growth=growth), photo="later.jpg", fitness=fitness))
    assert found.verdict == "cannot be told"
    assert found.reason.startswith("unfit to measure (later.jpg)")
    assert found.growth.value == pytest.approx(growth - 1.0, abs=0.02)


def test_new_voids_and_those_that_are_gone_are_listed(piece: Maker) -> None:
    voids = table(40, 5)
    found = compare(piece(voids[:38]), piece(voids[2:]))
    assert found.gone.tolist() == [0, 1]
    assert found.new.tolist() == [36, 37]


def test_a_void_outside_what_the_other_photograph_judges_is_neither_new_nor_gone(piece: Maker) -> None:
    voids = table(40, 6)
    left = np.array([[50.0, 50.0], [500.0, 50.0], [500.0, 950.0], [50.0, 950.0]])
    found = compare(piece(voids), piece(voids[voids.x_px < 500.0], judged_px=(left,)))
    assert not len(found.gone)


def test_a_void_near_the_smallest_countable_size_is_neither_new_nor_gone(piece: Maker) -> None:
    voids = table(40, 7)
    small = replace(voids, diameter_px=np.where(np.arange(40) == 3, 5.5, voids.diameter_px))
    assert not len(compare(piece(small), piece(small[np.arange(40) != 3])).gone)


def test_too_few_voids_tell_nothing(piece: Maker) -> None:
    assert compare(piece(table(4, 8)), piece(table(4, 8))).verdict == "cannot be told"
    assert compare(piece(Voids.none()), piece(Voids.none())).verdict == "cannot be told"


def test_frames_without_an_outline_are_compared_by_their_voids(piece: Maker) -> None:
    bare = {"outline_px": np.empty((0, 2))}
    found = compare(piece(table(40, 9), **bare), piece(table(40, 9, growth=1.05), **bare))
    assert found.verdict == "grew"


def test_what_a_person_took_out_of_one_photograph_is_neither_new_nor_gone_in_the_other(piece: Maker) -> None:
    voids = apart(40, seed=3)
    area = ((voids.x_px[0] - 30.0, 60.0), (voids.x_px[1] + 30.0, 60.0), (voids.x_px[1] + 30.0, 130.0),
            (voids.x_px[0] - 30.0, 130.0))  # fmt: skip
    less, whole = piece(voids[2:]), piece(voids)
    assert compare(less, whole).new.tolist() == [0, 1]
    assert compare(less, whole, left_out=((area,), ())).new.tolist() == []
    assert compare(whole, less).gone.tolist() == [0, 1]
    assert compare(whole, less, left_out=((), (area,))).gone.tolist() == []
