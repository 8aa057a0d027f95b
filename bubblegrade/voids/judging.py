"""Accept or reject by what was learned: a small network on the features of each candidate.

Three fully connected layers, averaged over a few trainings; its weights are plain arrays (`judge.npz`, loaded without
pickling, so the file cannot run code), learned on pictures that this project traces itself (bubblegrade.teaching).
It says how likely a candidate is a void, by which ratio its fitted diameter is off and how sure that is, and what else
it may be.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

OTHER_KINDS: Final = ("flake", "fibre", "speck", "pit", "scratch", "hardware")  # in the network's order
MOST_SPREADS: Final = 6.0  # a feature farther from its usual value than this many spreads tells no more
LOG_RATIO_ERR_RANGE: Final = (-6.0, 0.0)  # of its natural logarithm


@dataclass(frozen=True, eq=False)
class Verdicts:
    """What the network says of N candidates."""

    likely: Floats  # (N,) probability of being a void
    log_ratio: Floats  # (N,) ln(true diameter / fitted diameter)
    log_ratio_err: Floats  # (N,) one standard uncertainty of it
    other: Floats  # (N, len(OTHER_KINDS)) probabilities, if it is no void


@dataclass(frozen=True, eq=False)
class Judge:
    """The learned weights."""

    middle: Floats  # (F,) usual value of each feature
    spread: Floats  # (F,)
    layers: tuple[tuple[tuple[Floats, Floats], ...], ...]  # for each training: (weights, bias) of each layer
    err_factor: float  # makes the stated uncertainty true on castings of kinds that were left out of the training

    def __call__(self, features: Floats) -> Verdicts:
        """Return the verdicts on (N, F) features."""
        x = np.nan_to_num(features, nan=0.0, posinf=5.0, neginf=-5.0)
        x = np.clip((x - self.middle) / self.spread, -MOST_SPREADS, MOST_SPREADS)
        said = np.mean([_through(x, training) for training in self.layers], axis=0)
        other = np.exp(said[:, 3:] - said[:, 3:].max(axis=1, keepdims=True))
        return Verdicts(
            likely=1.0 / (1.0 + np.exp(-np.clip(said[:, 0], -30, 30))),
            log_ratio=said[:, 1],
            log_ratio_err=self.err_factor * np.exp(np.clip(said[:, 2], *LOG_RATIO_ERR_RANGE)),
            other=other / other.sum(axis=1, keepdims=True),
        )


@lru_cache(maxsize=1)
def learned_judge() -> Judge:
    """Return the judge that comes with the package."""
    with files("bubblegrade.voids").joinpath("judge.npz").open("rb") as file, np.load(file, allow_pickle=False) as held:
        trainings = int(held["trainings"])
        layers = tuple(
            tuple(
                (held[f"weight_{t}_{i}"].astype(np.float32), held[f"bias_{t}_{i}"].astype(np.float32)) for i in range(3)
            )
            for t in range(trainings)
        )
        return Judge(held["middle"], held["spread"], layers, float(held["err_factor"]))


def _through(x: Floats, training: tuple[tuple[Floats, Floats], ...]) -> Floats:
    """Return what one training's layers make of `x`."""
    for weights, bias in training[:-1]:
        x = np.maximum(x @ weights + bias, 0.0)
    weights, bias = training[-1]
    return np.asarray(x @ weights + bias)
