"""How many voids lie where no method finds them: behind nearer ones.

Light that has passed a nearer void is bent away from what lies behind it. With centres at random over the judged area,
and either of two voids as likely to be the nearer one, the share that is mostly covered follows from the sizes found.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
    reach = _covering_distance(radius[:, None], radius[None, :])
    np.fill_diagonal(reach, 0.0)
    nearer = 0.5 * np.pi * (reach**2).sum(axis=1) / area_px
    return float(np.mean(1 - np.exp(-nearer)))


def _covering_distance(small: NDArray[np.float64], large: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return how far apart two centres may be for the first disc to lie COVERED behind the second; 0 if it never does.

    The edge of a much larger disc is nearly straight: it covers the share 1/2 + (asin x + x sqrt(1 - x^2)) / pi of a
    disc whose centre lies x radii inside it, 0.6 at x = 0.158. A disc of less than COVERED of the area never does.
    """
    inset = 0.158 * small
    can = large**2 >= COVERED * small**2
    return np.where(can, np.maximum(large - inset, 0.0), 0.0)
