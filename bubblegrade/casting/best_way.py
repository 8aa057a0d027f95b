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
    wide = np.full((lines, places + 2 * reach), -np.float32(1e9))  # nothing lies beyond the places
    came = np.zeros((2 * angles, lines, places), np.int8)
    steps = [
        (bend, np.float32(BENDS[abs(bend)]), wide[:, reach + bend : reach + bend + places])
        for bend in range(-reach, reach + 1)
        if bend
    ]
    before = wide[:, reach : reach + places]
    before[:] = 0.0
    for angle in range(2 * angles):
        best = before.copy()
        for bend, cost, from_there in steps:
            other = from_there - cost
            better = other > best
            np.copyto(best, other, where=better)
            np.copyto(came[angle], bend, where=better)
        np.add(best, strength[:, angle % angles], out=before)
    here = before.argmax(axis=1)
    way = np.empty((2 * angles, lines), np.intp)
    for angle in range(2 * angles - 1, -1, -1):
        way[angle] = here
        here = here + came[angle, each, here]
    half = angles // 2
    return np.roll(way[half : half + angles], half, axis=0).T
