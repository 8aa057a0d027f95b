"""The judge: plain arrays that say how likely, how large, and what else."""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pytest

from bubblegrade.voids.features import Looks
from bubblegrade.voids.judging import OTHER_KINDS, Judge, learned_judge
from bubblegrade.voids.network import MOST_SPREADS, RAY_STEPS, RayNetwork

COLUMNS = 3 + len(OTHER_KINDS)
ANGLES, RADII = 8, 5
BLIND = tuple((np.zeros((rows, 1), np.float32), np.zeros(1, np.float32)) for rows in (3 * RADII, 3))  # sees no ray


def shown(numbers: list[list[float]], rays: np.ndarray | None = None) -> Looks:
    """Return looks of candidates with these numbers; without rays they are clear all around."""
    rows = np.asarray(numbers, np.float32)
    return Looks(rows, np.zeros((len(rows), ANGLES, RADII), np.float32) if rays is None else rays.astype(np.float32))


def network(*trainings: tuple, middle: float = 0.0, spread: float = 1.0, count: int = 1) -> RayNetwork:
    """Return a network that sees no ray, with the given layers behind."""
    usual = np.full(count, middle, np.float32), np.full(count, spread, np.float32)
    return RayNetwork(*usual, tuple((*BLIND, *layers) for layers in trainings))


def judge(
    weights: np.ndarray, bias: np.ndarray, *, times: int = 1, ratio_factor: float = 1.0, err_factor: float = 1.0
) -> Judge:
    """Return a judge of one layer, trained `times` alike, on features around 0 with spread 1."""
    seen = np.zeros((2, COLUMNS))  # mean and most of what the rays say
    layer = np.concatenate([weights, seen]).astype(np.float32), np.asarray(bias, np.float32)
    return Judge(network(*((layer,),) * times, count=len(weights)), ratio_factor, err_factor)


def bias(**said: float) -> np.ndarray:
    """Return the last layer's bias: zeros but for what is said."""
    places = {"likely": 0, "log_ratio": 1, "log_err": 2, **{kind: 3 + i for i, kind in enumerate(OTHER_KINDS)}}
    row = np.zeros(COLUMNS)
    for name, value in said.items():
        row[places[name]] = value
    return row


def test_a_judge_that_knows_nothing_says_half_and_half() -> None:
    verdicts = judge(np.zeros((4, COLUMNS)), bias())(shown([[1.0] * 4] * 2))
    np.testing.assert_allclose(verdicts.likely, 0.5)
    np.testing.assert_allclose(verdicts.log_ratio, 0.0)
    np.testing.assert_allclose(verdicts.log_ratio_err, 1.0)
    np.testing.assert_allclose(verdicts.other, 1 / len(OTHER_KINDS))


def test_log_odds_ratio_and_error_are_read_by_hand() -> None:
    column = bias(likely=np.log(3), log_ratio=0.02, log_err=np.log(0.05))
    verdicts = judge(np.zeros((1, COLUMNS)), column, ratio_factor=1.1, err_factor=1.5)(shown([[0.0]]))
    assert verdicts.likely[0] == pytest.approx(0.75, abs=1e-6)  # odds of 3 to 1
    assert verdicts.log_ratio[0] == pytest.approx(0.022)
    assert verdicts.log_ratio_err[0] == pytest.approx(0.075)


def test_what_else_it_may_be_adds_up_to_one() -> None:
    verdicts = judge(np.zeros((1, COLUMNS)), bias(flake=np.log(5)))(shown([[0.0]]))
    assert verdicts.other.sum() == pytest.approx(1.0)
    assert verdicts.other[0, OTHER_KINDS.index("flake")] == pytest.approx(5 / (5 + len(OTHER_KINDS) - 1))


def test_a_feature_counts_in_spreads_from_its_middle_and_no_farther_than_six() -> None:
    weights = np.zeros((1, COLUMNS))
    weights[0, 1] = 1.0
    layers = judge(weights, bias()).network.trainings[0][len(RAY_STEPS) :]
    scaled = Judge(network(layers, middle=10.0, spread=2.0), 1.0, 1.0)
    values = shown([[10.0], [12.0], [1e9], [-1e9]])
    np.testing.assert_allclose(scaled(values).log_ratio, [0.0, 1.0, MOST_SPREADS, -MOST_SPREADS])


def test_features_that_are_not_numbers_still_get_a_verdict() -> None:
    weights = np.ones((3, COLUMNS))
    verdicts = judge(weights, bias())(shown([[np.nan, np.inf, -np.inf]]))
    assert np.isfinite([verdicts.likely, verdicts.log_ratio, verdicts.log_ratio_err]).all()


def test_hidden_layers_let_only_what_is_positive_through() -> None:
    first = (np.array([[1.0, -1.0], [0.0, 0.0], [0.0, 0.0]], np.float32), np.zeros(2, np.float32))
    last = np.zeros((2, COLUMNS), np.float32)
    last[:, 1] = 1.0  # |x| as relu(x) + relu(-x)
    held = Judge(network((first, (last, np.zeros(COLUMNS, np.float32)))), 1.0, 1.0)
    np.testing.assert_allclose(held(shown([[2.0], [-3.0]])).log_ratio, [2.0, 3.0])


def test_several_trainings_are_averaged() -> None:
    one, other = (
        judge(np.zeros((1, COLUMNS)), bias(log_ratio=r)).network.trainings[0][len(RAY_STEPS) :] for r in (0.1, 0.3)
    )
    assert Judge(network(one, other), 1.0, 1.0)(shown([[0.0]])).log_ratio[0] == pytest.approx(0.2)


def test_a_layer_along_the_rays_sees_a_ray_and_one_on_either_side() -> None:
    before, here, after = 1.0, 10.0, 100.0
    near = np.zeros((3 * RADII, 1), np.float32)
    near[[0, RADII, 2 * RADII], 0] = before, here, after  # the innermost place of each
    far = np.array([[0.0], [1.0], [0.0]], np.float32)  # as it is
    most = np.zeros((3, COLUMNS), np.float32)
    most[2, 1] = 1.0  # the ratio is the most that any ray says
    layers = ((near, np.zeros(1, np.float32)), (far, np.zeros(1, np.float32)), (most, np.zeros(COLUMNS, np.float32)))
    held = Judge(RayNetwork(np.zeros(1, np.float32), np.ones(1, np.float32), (layers,)), 1.0, 1.0)
    rays = np.zeros((3, ANGLES, RADII))
    rays[0, 3, 0] = 1.0  # alone
    rays[1, [3, 4], 0] = 1.0  # the ray and the one after
    rays[2, [0, -1], 0] = 1.0  # across the end
    expected = [after, here + after, here + after]
    np.testing.assert_allclose(held(shown([[0.0]] * 3, rays)).log_ratio, expected)


def test_turning_what_is_seen_changes_no_verdict() -> None:
    held, rng = learned_judge(), np.random.default_rng(4)
    count = len(held.network.middle)
    radii = len(held.network.trainings[0][0][0]) // 3
    looks = Looks(rng.normal(size=(6, count)).astype(np.float32), rng.normal(size=(6, 24, radii)).astype(np.float32))
    turned = Looks(looks.numbers, np.roll(looks.rays, 5, axis=1))
    np.testing.assert_allclose(held(turned).likely, held(looks).likely, atol=1e-5)
    np.testing.assert_allclose(held(turned).log_ratio, held(looks).log_ratio, atol=1e-5)


def test_nothing_to_judge_gives_no_verdicts() -> None:
    verdicts = judge(np.zeros((4, COLUMNS)), bias())(shown([[0.0] * 4])[:0])
    assert len(verdicts.likely) == 0
    assert verdicts.other.shape == (0, len(OTHER_KINDS))


@pytest.mark.parametrize("name", ["sieve.npz", "judge.npz", "company.npz", "namer.npz"])
def test_the_weights_that_come_with_the_package_cannot_run_code_and_take_under_1_mb(name: str) -> None:
    path = files("bubblegrade.voids").joinpath(name)
    data = path.read_bytes()
    assert len(data) < 1_000_000
    with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
        assert all(held[name].dtype.kind in "fiu" for name in held.files)


def test_the_judge_that_comes_with_the_package_gives_shares_and_errors() -> None:
    held = learned_judge()
    network = held.network
    rng, radii = np.random.default_rng(2), len(network.trainings[0][0][0]) // 3
    rows = rng.normal(size=(20, len(network.middle))) * network.spread + network.middle
    verdicts = held(Looks(rows.astype(np.float32), rng.normal(size=(20, 24, radii)).astype(np.float32)))
    assert ((verdicts.likely >= 0) & (verdicts.likely <= 1)).all()
    assert (verdicts.log_ratio_err > 0).all()
    np.testing.assert_allclose(verdicts.other.sum(axis=1), 1.0, rtol=1e-5)
