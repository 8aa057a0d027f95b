"""Dirt far out of focus, as on the backlight or on the camera's side: spots without core or ring."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

COUNT: Final = (2, 40)  # of spots in a picture
WIDE_PX: Final = (2.0, 14.0)  # standard deviation across
LONG: Final = (1.0, 2.2)  # of that along
DEPTH: Final = (0.04, 0.6)  # share of the light that is taken in the middle
FLAT: Final = (1.0, 2.0)  # power of a spot's fall: 1 is a bell, 2 is flat in its middle


def smudges(shape: tuple[int, ...], rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Return the share of the light that some spots let pass, and where they lie.

    Parameters
    ----------
    shape
        Rows and columns of the picture.
    rng
        Draws number, places, sizes and depths.

    Returns
    -------
    passed
        (rows, cols), at most 1.
    places
        (N, 3) x, y and width in px.
    """
    passed = np.ones(shape)
    places = []
    for _ in range(int(_even(COUNT, rng))):
        x, y = rng.uniform(0, shape[1]), rng.uniform(0, shape[0])
        wide = _even(WIDE_PX, rng)
        long, turn = wide * rng.uniform(*LONG), rng.uniform(0, np.pi)
        reach = int(4 * long) + 2
        rows = slice(max(int(y) - reach, 0), min(int(y) + reach + 1, shape[0]))
        cols = slice(max(int(x) - reach, 0), min(int(x) + reach + 1, shape[1]))
        down, right = np.arange(rows.start, rows.stop)[:, None] - y, np.arange(cols.start, cols.stop) - x
        along, across = right * np.cos(turn) + down * np.sin(turn), down * np.cos(turn) - right * np.sin(turn)
        away = (along / long) ** 2 + (across / wide) ** 2
        passed[rows, cols] *= 1 - rng.uniform(*DEPTH) * np.exp(-((away / 2) ** rng.uniform(*FLAT)))
        places.append((x, y, 2 * long))
    return passed, np.array(places, np.float64).reshape(-1, 3)


def _even(between: tuple[float, float], rng: np.random.Generator) -> float:
    """Return a number between two, even in its logarithm."""
    return float(np.exp(rng.uniform(*np.log(between))))
