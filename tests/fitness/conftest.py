"""Photographs to check: drawn cups of several seeds, samples, and how they are checked."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from bubblegrade.drawn.pictures import draw
from bubblegrade.drawn.populations import cup, population
from bubblegrade.fitness.check import Check, Fitness
from bubblegrade.fitness.checks import Said, check_photo
from bubblegrade.photo.reading import Photo

SAMPLES = Path(__file__).parents[2] / "sample_images"
SIDE, CASTING_PX = 640, 240.0

Picture = NDArray[np.uint8]


@functools.cache
def drawn(seed: int, voids: int = 40, **scene: Any) -> Picture:
    """Return a drawn cup, (640, 640, 3)."""
    rng = np.random.default_rng(seed)
    sizes = population(voids, 0.7, 1.35, rng=rng)
    facts: dict[str, Any] = {"width_px": SIDE, "height_px": SIDE, "casting_px": CASTING_PX, "seed": seed, **scene}
    return draw(cup(sizes, mm_per_px=0.05, rng=rng, **facts)).picture


@functools.cache
def sample(name: str) -> Picture:
    """Return a sample photograph."""
    return np.asarray(cv2.imread(str(SAMPLES / f"{name}.jpg")), np.uint8)


def checked(picture: NDArray[Any], **said: Any) -> Fitness:
    """Return what all checks say of a picture."""
    return check_photo(Photo("cup.png", picture, "0" * 64), Said(**said))


def check_of(fitness: Fitness, name: str) -> Check:
    """Return one of the checks."""
    (found,) = (check for check in fitness.checks if check.name == name)
    return found


@pytest.fixture(name="drawn", scope="session")
def _drawn() -> Callable[..., Picture]:
    return drawn


@pytest.fixture(name="sample", scope="session")
def _sample() -> Callable[..., Picture]:
    return sample


@pytest.fixture(name="checked", scope="session")
def _checked() -> Callable[..., Fitness]:
    return checked


@pytest.fixture(name="check_of", scope="session")
def _check_of() -> Callable[..., Check]:
    return check_of
