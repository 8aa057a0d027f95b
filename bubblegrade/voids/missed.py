"""How many voids lie where no method finds them: behind nearer ones.

Light that has passed a nearer void is bent away from what lies behind it. With centres at random over the judged area,
and either of two voids as likely to be the nearer one, the share that is mostly covered follows from the sizes found.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

RATIOS: Final = np.geomspace(0.6**0.5, 100.0, 200)  # of two radii; below the first, COVERED is out of reach
MANY: Final = 1000  # voids: of more, a table of all pairs would not fit the memory, and
ALIKE: Final = 0.01  # of their logarithm, radii of nearer ones are taken as one
COVERED: Final = 0.6  # of its area behind one nearer void: such a void is not found (measured on traced photographs)


def hidden_share(diameter_px: ArrayLike, area_px: float) -> float:
    """Return the share of voids expected to lie mostly behind a nearer one.

    Parameters
    ----------
    diameter_px
        (N,) of the voids found.
    area_px
        Judged area.

    Returns
    -------
    A share in [0, 1]; 0 where fewer than two voids were found.

    >>> hidden_share([10.0], 1000.0)
    0.0
    """
    radius = np.asarray(diameter_px, np.float64) / 2
    if len(radius) < 2 or area_px <= 0:  # noqa: PLR2004
        return 0.0
    nearer = np.exp(ALIKE * np.round(np.log(radius) / ALIKE)) if len(radius) > MANY else radius
    sizes, alike = np.unique(nearer, return_counts=True)
    reach = (alike * _covering_distance(radius[:, None], sizes[None, :]) ** 2).sum(axis=1)
    others = reach - _covering_distance(radius, nearer) ** 2
    return float(np.mean(1 - np.exp(-0.5 * np.pi * others / area_px)))


def _covering_distance(small: NDArray[np.float64], large: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far apart two centres may be for the first disc to lie COVERED behind the second; 0 if never."""
    ratio = large / small
    apart = small * np.interp(np.log(ratio), np.log(RATIOS), _farthest())
    return np.where(ratio**2 >= COVERED, np.where(ratio > RATIOS[-1], large, apart), 0.0)


@lru_cache(maxsize=1)
def _farthest() -> NDArray[np.float64]:
    """Return for each of RATIOS how many radii of a disc apart one so much larger still covers COVERED of it."""
    near, far = np.zeros_like(RATIOS), RATIOS + 1.0
    for _ in range(40):
        middle = (near + far) / 2
        enough = _covered_share(middle, RATIOS) >= COVERED
        near, far = np.where(enough, middle, near), np.where(enough, far, middle)
    return near


def _covered_share(apart: NDArray[np.float64], ratio: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the share of a disc of radius 1 that lies behind one of radius `ratio` whose centre is `apart`: a lens."""
    safe = np.clip(apart, np.abs(ratio - 1) + 1e-12, ratio + 1)
    one = np.arccos(np.clip((safe**2 + 1 - ratio**2) / (2 * safe), -1, 1))
    other = np.arccos(np.clip((safe**2 + ratio**2 - 1) / (2 * safe * ratio), -1, 1))
    kite = np.sqrt(np.maximum((ratio + 1 - safe) * (safe + 1 - ratio) * (safe + ratio - 1) * (safe + ratio + 1), 0)) / 2
    lens = (one + ratio**2 * other - kite) / np.pi
    return np.where(apart <= np.abs(ratio - 1), np.minimum(ratio**2, 1.0), lens)
