"""Name dark marks by what was learned: a small network on how each looks, and the company it keeps.

The weights (`namer.npz`) were learned on pictures that this project traces itself (bubblegrade.teaching). Which kinds a
photograph holds is not known beforehand, and it matters: a dark square of 8 px is a flake among ninety flakes and dust
among fibres. So the shares of the kinds are estimated from the photograph's own marks, and every mark is judged again
with them (expectation and maximisation over the shares of the classes: Saerens, Latinne and Decaestecker, Neural
Computation 14 (2002) 21).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from bubblegrade.voids.network import Floats, Network, loaded

MARK_KINDS: Final = ("flake", "fibre", "speck", "pit", "scratch", "hardware", "void", "nothing")  # network's order
ROUNDS: Final = 20
USUAL_MARKS: Final = 10.0  # marks' worth of belief in the usual shares


@dataclass(frozen=True, eq=False)
class Namer:
    """The learned namer of marks."""

    network: Network
    usual: Floats  # (len(MARK_KINDS),) shares of the kinds among which it was taught

    def __call__(self, features: Floats) -> Floats:
        """Return for (N, F) features of one photograph's marks how likely each kind is, (N, len(MARK_KINDS))."""
        if not len(features):
            return np.empty((0, len(MARK_KINDS)), np.float32)
        said = self.network(features)
        alone = np.exp(said - said.max(axis=1, keepdims=True))
        alone /= alone.sum(axis=1, keepdims=True)
        shares, likely = self.usual, alone
        for _ in range(ROUNDS):
            likely = alone * (shares / self.usual)
            likely /= likely.sum(axis=1, keepdims=True)
            shares = (likely.sum(axis=0) + USUAL_MARKS * self.usual) / (len(likely) + USUAL_MARKS)
        return np.asarray(likely, np.float32)


@lru_cache(maxsize=1)
def learned_namer() -> Namer:
    """Return the namer that comes with the package."""
    held = loaded("namer.npz")
    return Namer(Network(held.middle, held.spread, held.trainings), held.more["usual"].astype(np.float32))
