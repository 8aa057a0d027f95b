"""Small learned networks: layers whose weights are plain arrays, averaged over a few trainings.

A network comes as an .npz file that is loaded without pickling, so the file cannot run code.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from itertools import count, takewhile
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Layers = tuple[tuple[Floats, Floats], ...]  # (weights, bias) of each layer

MOST_SPREADS: Final = 6.0  # a feature farther from its usual value than this many spreads tells no more
WILD: Final = 0.005  # share of the values at either end that say nothing of what is usual
LEAST_SPREAD: Final = 1e-3
RAY_STEPS: Final = (1, 3)  # rays aside to which each layer along the rays looks, either way


@dataclass(frozen=True, eq=False)
class Network:
    """A network on numbers: fully connected layers."""

    middle: Floats  # (F,) usual value of each number
    spread: Floats  # (F,)
    trainings: tuple[Layers, ...]

    def __call__(self, numbers: Floats) -> Floats:
        """Return what the network says of (N, F) numbers, (N, outputs), averaged over its trainings."""
        x = scaled(numbers, self.middle, self.spread)
        return np.asarray(np.mean([_through(x, layers) for layers in self.trainings], axis=0))


@dataclass(frozen=True, eq=False)
class RayNetwork:
    """A network on numbers and on what is seen along rays around a point, however those are turned.

    Its first layers look at a ray and one on either side; the mean and the most of what they say over all rays joins
    the numbers before the fully connected layers.
    """

    middle: Floats  # (F,) usual value of each number
    spread: Floats  # (F,)
    trainings: tuple[Layers, ...]

    def __call__(self, numbers: Floats, rays: Floats) -> Floats:
        """Return what the network says of (N, F) numbers and (N, angles, radii) rays, (N, outputs)."""
        x = scaled(numbers, self.middle, self.spread)
        said = []
        for layers in self.trainings:
            seen = rays
            for (weights, bias), step in zip(layers, RAY_STEPS, strict=False):
                seen = _along(seen, weights, bias, step)
            around = [x, seen.mean(axis=1), seen.max(axis=1)]
            said.append(_through(np.concatenate(around, axis=1), layers[len(RAY_STEPS) :]))
        return np.asarray(np.mean(said, axis=0))


def scaled(numbers: Floats, middle: Floats, spread: Floats) -> Floats:
    """Return (N, F) numbers in spreads from their usual value, unknown ones at 0."""
    return np.asarray(np.clip((_known(numbers) - middle) / spread, -MOST_SPREADS, MOST_SPREADS), np.float32)


def usual(numbers: Floats) -> tuple[Floats, Floats]:
    """Return the usual value of each of (N, F) numbers and its spread, which a few wild ones do not move.

    >>> middle, spread = usual(np.array([*np.linspace(0, 1, 999), -1e6], np.float32)[:, None])
    >>> print(f"{middle[0]:.2f} {spread[0]:.2f}")
    0.50 0.29
    """
    x = _known(numbers)
    x = np.clip(x, *np.quantile(x, (WILD, 1 - WILD), axis=0))
    return x.mean(axis=0).astype(np.float32), (x.std(axis=0) + LEAST_SPREAD).astype(np.float32)


@dataclass(frozen=True, eq=False)
class Learned:
    """What a file of weights holds."""

    middle: Floats
    spread: Floats
    trainings: tuple[Layers, ...]
    more: dict[str, NDArray[np.generic]]


def loaded(name: str) -> Learned:
    """Return what a file that comes with this package holds."""
    with files("bubblegrade.voids").joinpath(name).open("rb") as file, np.load(file, allow_pickle=False) as held:
        arrays = {key: held[key] for key in held.files}
    trainings = tuple(
        tuple(
            (arrays.pop(f"weight_{t}_{i}").astype(np.float32), arrays.pop(f"bias_{t}_{i}").astype(np.float32))
            for i in takewhile(lambda i: f"weight_{t}_{i}" in arrays, count())  # noqa: B023
        )
        for t in range(int(arrays.pop("trainings")))
    )
    middle, spread = (arrays.pop(key).astype(np.float32) for key in ("middle", "spread"))
    return Learned(middle, spread, trainings, arrays)


def _known(numbers: Floats) -> Floats:
    """Return the numbers with finite ones for those that are not."""
    return np.asarray(np.nan_to_num(numbers, nan=0.0, posinf=5.0, neginf=-5.0))


def _through(x: Floats, layers: Layers) -> Floats:
    """Return what one training's fully connected layers make of `x`."""
    for weights, bias in layers[:-1]:
        x = np.maximum(x @ weights + bias, 0.0)
    weights, bias = layers[-1]
    return np.asarray(x @ weights + bias)


def _along(rays: Floats, weights: Floats, bias: Floats, step: int) -> Floats:
    """Return what a layer makes of each ray and those `step` rays before and after it, (N, angles, outputs).

    `weights` are those of the ray before, the ray and the one after, under one another.
    """
    number, angles, radii = rays.shape
    of_each = np.concatenate(np.split(weights, 3), axis=1)
    parts = (rays.reshape(-1, radii) @ of_each).reshape(number, angles, 3, -1)
    made = parts[:, :, 1] + bias
    made += np.roll(parts[:, :, 0], step, axis=1)
    made += np.roll(parts[:, :, 2], -step, axis=1)
    return np.asarray(np.maximum(made, 0.0, out=made))
