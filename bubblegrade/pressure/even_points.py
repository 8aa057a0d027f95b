"""Points that fill a cube evenly, without chance: Sobol's sequence.

With the direction numbers of S. Joe and F. Y. Kuo, SIAM Journal on Scientific Computing 30 (2008) 2635. SciPy has it
too, in its statistics, which take most of a second to import.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

# Of each axis: the inner coefficients of its polynomial as bits, and the direction numbers that it begins with.
AXES: Final = ((None, ()), (0, (1,)), (1, (1, 3)))


def even_points(count: int) -> NDArray[np.float64]:
    """Return the first points, a power of two of them, (count, 3), from 0 up to 1.

    >>> even_points(4).tolist()
    [[0.0, 0.0, 0.0], [0.5, 0.5, 0.5], [0.75, 0.25, 0.25], [0.25, 0.75, 0.75]]
    """
    digits = count.bit_length() - 1
    assert count == 1 << digits  # noqa: S101 - only so many are even
    numbers = np.arange(count)
    order = numbers ^ (numbers >> 1)  # each differs from the one before in one digit
    points = np.zeros((count, len(AXES)), np.int_)
    for axis, (inner, begun) in enumerate(AXES):
        for digit, direction in enumerate(_directions(inner, begun, digits)):
            points[:, axis] ^= (order >> digit & 1) * (direction << (digits - 1 - digit))
    return points / count


def _directions(inner: int | None, begun: tuple[int, ...], digits: int) -> list[int]:
    """Return the direction numbers of an axis, one a digit."""
    if inner is None:
        return [1] * digits
    found, degree = list(begun), len(begun)
    while len(found) < digits:
        following = found[-degree] ^ (found[-degree] << degree)
        for power in range(1, degree):
            following ^= (inner >> (degree - 1 - power) & 1) * (found[-power] << power)
        found.append(following)
    return found[:digits]
