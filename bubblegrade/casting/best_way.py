"""The strongest closed way around: dynamic programming over the places at each angle."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

BENDS: Final = (0.0, 0.15, 0.4, 0.8)  # cost of a way that steps over so many places from one angle to the next


def best_way(strength: NDArray[np.float32]) -> NDArray[np.intp]:
    """Return the place at each angle, (N, angles), of the way around whose strength less its bends is greatest.

    The way goes around twice, and its middle is taken, so that it closes.

    Parameters
    ----------
    strength
        (N, angles, places), 1 at most.
    """
    lines, angles, places = strength.shape
    reach, each = len(BENDS) - 1, np.arange(lines)
    best = np.zeros((lines, places), np.float32)
    came = np.zeros((2 * angles, lines, places), np.int8)
    for angle in range(2 * angles):
        wide = np.pad(best, ((0, 0), (reach, reach)), constant_values=-np.float32(1e9))
        for bend in (bend for bend in range(-reach, reach + 1) if bend):
            other = wide[:, reach + bend : reach + bend + places] - np.float32(BENDS[abs(bend)])
            better = other > best
            best = np.where(better, other, best)
            came[angle][better] = bend
        best = best + strength[:, angle % angles]
    here = best.argmax(axis=1)
    way = np.empty((2 * angles, lines), np.intp)
    for angle in range(2 * angles - 1, -1, -1):
        way[angle] = here
        here = here + came[angle, each, here]
    half = angles // 2
    return np.roll(way[half : half + angles], half, axis=0).T
