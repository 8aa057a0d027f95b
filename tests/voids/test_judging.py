"""The judge: plain arrays that say how likely, how large, and what else."""

from __future__ import annotations

from importlib.resources import files

import numpy as np
import pytest

from bubblegrade.voids.judging import OTHER_KINDS, Judge, learned_judge
from bubblegrade.voids.network import MOST_SPREADS, Network

COLUMNS = 3 + len(OTHER_KINDS)


def judge(weights: np.ndarray, bias: np.ndarray, *, times: int = 1, err_factor: float = 1.0) -> Judge:
    """Return a judge of one layer, trained `times` alike, on features around 0 with spread 1."""
    count = len(weights)
    training = ((np.asarray(weights, np.float32), np.asarray(bias, np.float32)),)
    return Judge(Network(np.zeros(count, np.float32), np.ones(count, np.float32), (training,) * times), err_factor)


def bias(**said: float) -> np.ndarray:
    """Return the last layer's bias: zeros but for what is said."""
    places = {"likely": 0, "log_ratio": 1, "log_err": 2, **{kind: 3 + i for i, kind in enumerate(OTHER_KINDS)}}
    row = np.zeros(COLUMNS)
    for name, value in said.items():
        row[places[name]] = value
    return row


def test_a_judge_that_knows_nothing_says_half_and_half() -> None:
    verdicts = judge(np.zeros((4, COLUMNS)), bias())(np.ones((2, 4), np.float32))
    np.testing.assert_allclose(verdicts.likely, 0.5)
    np.testing.assert_allclose(verdicts.log_ratio, 0.0)
    np.testing.assert_allclose(verdicts.log_ratio_err, 1.0)
    np.testing.assert_allclose(verdicts.other, 1 / len(OTHER_KINDS))


def test_log_odds_ratio_and_error_are_read_by_hand() -> None:
    said = judge(np.zeros((1, COLUMNS)), bias(likely=np.log(3), log_ratio=0.02, log_err=np.log(0.05)), err_factor=1.5)
    verdicts = said(np.zeros((1, 1), np.float32))
    assert verdicts.likely[0] == pytest.approx(0.75, abs=1e-6)  # odds of 3 to 1
    assert verdicts.log_ratio[0] == pytest.approx(0.02)
    assert verdicts.log_ratio_err[0] == pytest.approx(0.075)


def test_what_else_it_may_be_adds_up_to_one() -> None:
    verdicts = judge(np.zeros((1, COLUMNS)), bias(flake=np.log(5)))(np.zeros((1, 1), np.float32))
    assert verdicts.other.sum() == pytest.approx(1.0)
    assert verdicts.other[0, OTHER_KINDS.index("flake")] == pytest.approx(5 / (5 + len(OTHER_KINDS) - 1))


def test_a_feature_counts_in_spreads_from_its_middle_and_no_farther_than_six() -> None:
    weights = np.zeros((1, COLUMNS))
    weights[0, 1] = 1.0
    held = judge(weights, bias())
    scaled = Judge(Network(np.array([10.0], np.float32), np.array([2.0], np.float32), held.network.trainings), 1.0)
    values = np.array([[10.0], [12.0], [1e9], [-1e9]], np.float32)
    np.testing.assert_allclose(scaled(values).log_ratio, [0.0, 1.0, MOST_SPREADS, -MOST_SPREADS])


def test_features_that_are_not_numbers_still_get_a_verdict() -> None:
    weights = np.ones((3, COLUMNS))
    verdicts = judge(weights, bias())(np.array([[np.nan, np.inf, -np.inf]], np.float32))
    assert np.isfinite([verdicts.likely, verdicts.log_ratio, verdicts.log_ratio_err]).all()


def test_hidden_layers_let_only_what_is_positive_through() -> None:
    first = (np.array([[1.0, -1.0]], np.float32), np.zeros(2, np.float32))
    last = np.zeros((2, COLUMNS), np.float32)
    last[:, 1] = 1.0  # |x| as relu(x) + relu(-x)
    layers = (first, (last, np.zeros(COLUMNS, np.float32)))
    held = Judge(Network(np.zeros(1, np.float32), np.ones(1, np.float32), (layers,)), 1.0)
    np.testing.assert_allclose(held(np.array([[2.0], [-3.0]], np.float32)).log_ratio, [2.0, 3.0])


def test_several_trainings_are_averaged() -> None:
    one, other = (judge(np.zeros((1, COLUMNS)), bias(log_ratio=r)).network.trainings[0] for r in (0.1, 0.3))
    both = Judge(Network(np.zeros(1, np.float32), np.ones(1, np.float32), (one, other)), 1.0)
    assert both(np.zeros((1, 1), np.float32)).log_ratio[0] == pytest.approx(0.2)


def test_nothing_to_judge_gives_no_verdicts() -> None:
    verdicts = judge(np.zeros((4, COLUMNS)), bias())(np.empty((0, 4), np.float32))
    assert len(verdicts.likely) == 0
    assert verdicts.other.shape == (0, len(OTHER_KINDS))


@pytest.mark.parametrize("name", ["judge.npz", "namer.npz"])
def test_the_weights_that_come_with_the_package_cannot_run_code_and_take_under_1_mb(name: str) -> None:
    path = files("bubblegrade.voids").joinpath(name)
    data = path.read_bytes()
    assert len(data) < 1_000_000
    with path.open("rb") as file, np.load(file, allow_pickle=False) as held:
        assert all(held[name].dtype.kind in "fiu" for name in held.files)


def test_the_judge_that_comes_with_the_package_gives_shares_and_errors() -> None:
    held = learned_judge()
    network = held.network
    rows = np.random.default_rng(2).normal(size=(20, len(network.middle))) * network.spread + network.middle
    verdicts = held(rows.astype(np.float32))
    assert ((verdicts.likely >= 0) & (verdicts.likely <= 1)).all()
    assert (verdicts.log_ratio_err > 0).all()
    np.testing.assert_allclose(verdicts.other.sum(axis=1), 1.0, rtol=1e-5)
