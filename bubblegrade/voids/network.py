"""Small learned networks: fully connected layers whose weights are plain arrays, averaged over a few trainings.

A network comes as an .npz file that is loaded without pickling, so the file cannot run code.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Layers = tuple[tuple[Floats, Floats], ...]  # (weights, bias) of each layer

MOST_SPREADS: Final = 6.0  # a feature farther from its usual value than this many spreads tells no more
LAYERS: Final = 3


@dataclass(frozen=True, eq=False)
class Network:
    """Learned weights."""

    middle: Floats  # (F,) usual value of each feature
    spread: Floats  # (F,)
    trainings: tuple[Layers, ...]

    def __call__(self, features: Floats) -> Floats:
        """Return what the network says of (N, F) features, (N, outputs), averaged over its trainings."""
        x = self.scaled(features)
        return np.asarray(np.mean([_through(x, layers) for layers in self.trainings], axis=0))

    def scaled(self, features: Floats) -> Floats:
        """Return features in spreads from their usual value."""
        return scaled(features, self.middle, self.spread)


def scaled(features: Floats, middle: Floats, spread: Floats) -> Floats:
    """Return (N, F) features in spreads from their usual value, unknown ones at 0."""
    x = np.nan_to_num(features, nan=0.0, posinf=5.0, neginf=-5.0)
    return np.asarray(np.clip((x - middle) / spread, -MOST_SPREADS, MOST_SPREADS), np.float32)


def loaded(name: str) -> tuple[Network, dict[str, NDArray[np.generic]]]:
    """Return the network of a file that comes with this package, and whatever else the file holds."""
    with files("bubblegrade.voids").joinpath(name).open("rb") as file, np.load(file, allow_pickle=False) as held:
        arrays = {key: held[key] for key in held.files}
    trainings = tuple(
        tuple(
            (arrays.pop(f"weight_{t}_{i}").astype(np.float32), arrays.pop(f"bias_{t}_{i}").astype(np.float32))
            for i in range(LAYERS)
        )
        for t in range(int(arrays.pop("trainings")))
    )
    network = Network(arrays.pop("middle").astype(np.float32), arrays.pop("spread").astype(np.float32), trainings)
    return network, arrays


def _through(x: Floats, layers: Layers) -> Floats:
    """Return what one training's layers make of `x`."""
    for weights, bias in layers[:-1]:
        x = np.maximum(x @ weights + bias, 0.0)
    weights, bias = layers[-1]
    return np.asarray(x @ weights + bias)
