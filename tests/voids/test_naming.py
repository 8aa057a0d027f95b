"""The namer of marks: what a mark looks like, and the company it keeps."""

from __future__ import annotations

import numpy as np
import pytest

from bubblegrade.voids.naming import MARK_KINDS, Namer, learned_namer
from bubblegrade.voids.network import Network

COUNT = len(MARK_KINDS)
FLAKE, SPECK = MARK_KINDS.index("flake"), MARK_KINDS.index("speck")


def plain_namer() -> Namer:
    """Return a namer whose features are the logarithms of the probabilities, and that expects all kinds alike."""
    layers = ((np.eye(COUNT, dtype=np.float32), np.zeros(COUNT, np.float32)),)
    network = Network(np.zeros(COUNT, np.float32), np.ones(COUNT, np.float32), (layers,))
    return Namer(network, np.full(COUNT, 1 / COUNT, np.float32))


def looks(**shares: float) -> np.ndarray:
    """Return the features of one mark that looks like what is named, and hardly like anything else."""
    row = np.full(COUNT, 0.01)
    for kind, share in shares.items():
        row[MARK_KINDS.index(kind)] = share
    return np.log(row / row.sum()).astype(np.float32)


def test_a_mark_that_may_be_two_things_is_what_the_others_are() -> None:
    doubtful = looks(flake=0.5, speck=0.5)
    among_flakes = np.stack([doubtful, *[looks(flake=1.0)] * 60])
    among_specks = np.stack([doubtful, *[looks(speck=1.0)] * 60])
    namer = plain_namer()
    assert namer(among_flakes)[0].argmax() == FLAKE
    assert namer(among_specks)[0].argmax() == SPECK


def test_one_mark_alone_is_judged_by_its_looks() -> None:
    likely = plain_namer()(looks(flake=0.6, speck=0.4)[None])
    assert likely[0, FLAKE] == pytest.approx(0.6, abs=0.08)


def test_probabilities_add_up_to_one_and_no_mark_has_none() -> None:
    namer = learned_namer()
    rng = np.random.default_rng(1)
    likely = namer(rng.normal(size=(50, namer.network.middle.size)).astype(np.float32))
    np.testing.assert_allclose(likely.sum(axis=1), 1.0, rtol=1e-5)
    assert namer(np.empty((0, namer.network.middle.size), np.float32)).shape == (0, COUNT)


def test_the_usual_shares_are_shares() -> None:
    assert learned_namer().usual.sum() == pytest.approx(1.0, abs=1e-4)
