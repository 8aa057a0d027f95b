"""Trials of known truth: laid out evenly by quantiles, and drawn at random."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtri

from bubblegrade.pressure.cups import Cup

PSI_PER_ATMOSPHERE = 14.696
SETTINGS = (0.0, 15.0, 30.0, 45.0, 60.0)
LIMIT = 0.19


def even_cups(
    *,
    median: float = 0.6,
    exponent: float = 1 / 3,
    pressure_share: float = 1.0,
    limit: float = LIMIT,
    settings: Sequence[float] = SETTINGS,
    offsets: Sequence[float] = (-0.05, 0.0, 0.05),
) -> list[Cup]:
    """Return cups whose 200 voids stand at the quantiles of their population, spread 0.5 in ln d."""
    quantiles = 0.5 * ndtri((np.arange(1, 201) - 0.5) / 200)
    cups = []
    for psig in settings:
        fall = exponent * math.log1p(pressure_share * psig / PSI_PER_ATMOSPHERE)
        for offset in offsets:
            logs = math.log(median) + offset + quantiles - fall
            cups.append(Cup(f"{psig:g}psi", psig / PSI_PER_ATMOSPHERE, np.exp(logs[logs > math.log(limit)]), limit))
    return cups


def drawn_cups(  # noqa: PLR0913  # the knobs of a trial
    random: np.random.Generator,
    *,
    cup_spread: float = 0.05,
    limit: float = 0.1,
    median: float = 0.6,
    spread: float = 0.5,
    exponent: float = 1 / 3,
    pressure_share: float = 1.0,
    mix_spread: float = 0.0,
    blocked: bool = False,
    voids: int = 200,
    cups: int = 3,
    stiff_share: float = 0.0,
    settings: Sequence[float] = SETTINGS,
) -> list[Cup]:
    """Return cups with random voids; blocked: each mix is poured over all settings. Stiff voids do not shrink."""
    mixes = random.normal(0.0, mix_spread, cups)
    drawn = []
    for psig in settings:
        fall = exponent * math.log1p(pressure_share * psig / PSI_PER_ATMOSPHERE)
        for i in range(cups):
            mix = mixes[i] if blocked else random.normal(0.0, mix_spread)
            shrinks = random.random(voids) >= stiff_share
            logs = math.log(median) + random.normal(0.0, cup_spread) + mix + spread * random.standard_normal(voids)
            sizes: NDArray[np.float64] = np.exp(logs - fall * shrinks)
            drawn.append(
                Cup(f"{psig:g}psi", psig / PSI_PER_ATMOSPHERE, sizes, limit, mix=f"mix {i}" if blocked else "")
            )
    return drawn


@pytest.fixture(name="even_cups", scope="session")
def _even_cups() -> Callable[..., list[Cup]]:
    return even_cups


@pytest.fixture(name="drawn_cups", scope="session")
def _drawn_cups() -> Callable[..., list[Cup]]:
    return drawn_cups
