"""Accept or reject by what was learned: a small network on what each candidate looks like.

Its weights (`judge.npz`) were learned on pictures that this project traces itself (bubblegrade.teaching). It says how
likely a candidate is a void, by which ratio its fitted diameter is off and how sure that is, and what else it may be.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.threads import each, runs
from bubblegrade.voids.features import Looks
from bubblegrade.voids.network import Floats, RayNetwork, loaded

OTHER_KINDS: Final = ("flake", "fibre", "speck", "pit", "scratch", "hardware")  # in the network's order
TOGETHER: Final = 384  # candidates judged at once: the cache holds what is seen of them
LOG_RATIO_ERR_RANGE: Final = (-6.0, 0.0)  # of its natural logarithm
SOFT_FROM_PX: Final = 2.0  # width of an edge from 10 to 90 %, from which on the stated errors are too small:
SOFT_GAIN, SOFT_MOST = 0.1, 1.3  # a factor that grows by so much a px, up to so much (tests/benchmarks/README.md)


@dataclass(frozen=True, eq=False)
class Verdicts:
    """What the network says of N candidates."""

    likely: Floats  # (N,) probability of being a void
    log_ratio: Floats  # (N,) ln(true diameter / fitted diameter)
    log_ratio_err: Floats  # (N,) one standard uncertainty of it
    other: Floats  # (N, len(OTHER_KINDS)) probabilities, if it is no void

    def __getitem__(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> Verdicts:
        """Return the verdicts on the chosen candidates."""
        return Verdicts(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})


@dataclass(frozen=True, eq=False)
class Judge:
    """The learned judge of candidates."""

    network: RayNetwork
    ratio_factor: float  # neurons silenced while it is taught make it say too little of sizes: the truth over that
    err_factor: float  # makes the stated uncertainty true on castings of kinds that were left out of the training

    def __call__(self, looks: Looks) -> Verdicts:
        """Return the verdicts on N candidates."""
        parts = each(lambda rows: self.network(looks.numbers[rows], looks.rays[rows]), runs(len(looks), TOGETHER))
        said = np.concatenate(parts) if parts else np.empty((0, 3 + len(OTHER_KINDS)), np.float32)
        other = np.exp(said[:, 3:] - said[:, 3:].max(axis=1, keepdims=True))
        return Verdicts(
            likely=np.asarray(1.0 / (1.0 + np.exp(-np.clip(said[:, 0], -30, 30))), np.float32),
            log_ratio=np.asarray(self.ratio_factor * said[:, 1], np.float32),
            log_ratio_err=np.asarray(self.err_factor * np.exp(np.clip(said[:, 2], *LOG_RATIO_ERR_RANGE)), np.float32),
            other=other / other.sum(axis=1, keepdims=True),
        )


def softened(edge_width_px: NDArray[np.floating[Any]]) -> NDArray[np.float64]:
    """Return by which factor blur widens the errors of size that the judge states, from the edges' widths in px, (N,).

    The judge sees every ring scaled to one size, so it cannot know how many pixels an edge takes.

    >>> softened(np.array([1.2, 3.0, 20.0])).tolist()
    [1.0, 1.1, 1.3]
    """
    return np.clip(1.0 + SOFT_GAIN * (edge_width_px.astype(np.float64) - SOFT_FROM_PX), 1.0, SOFT_MOST)


@lru_cache(maxsize=1)
def learned_judge() -> Judge:
    """Return the judge that comes with the package."""
    held = loaded("judge.npz")
    network = RayNetwork(held.middle, held.spread, held.trainings)
    return Judge(network, float(held.more["ratio_factor"].item()), float(held.more["err_factor"].item()))
