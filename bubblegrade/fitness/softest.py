"""Where in a casting the rings of voids are blurred most.

A smudge on the lens, a camera that leans or a side that is out of focus blurs a part of the photograph only: most
voids, and the steepest edges, are sharp all the same. What is told is the blur that a few neighbours share, beyond
that of the sharper voids. Focus that falls with depth blurs neighbours unlike one another, and tells little.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

Floats = NDArray[np.float64]

NEIGHBOURS: Final = 8  # voids, itself with them, whose blur is one place's
LEAST_VOIDS: Final = 2 * NEIGHBOURS  # fewer have no place beside the others
SHARPER: Final = 0.25  # quantile of the voids' blur that the rest is compared with


@dataclass(frozen=True, eq=False)
class Softest:
    """The place where voids are blurred most."""

    further_px: float  # standard deviation of the blur there beyond that of the sharper voids; NaN: it is not told
    at_px: Floats  # (N, 2) x, y of the voids that show it


UNTOLD: Final = Softest(math.nan, np.empty((0, 2)))


def softest_place(at_px: Floats, blur_px2: Floats) -> Softest:
    """Return where voids are blurred most, `UNTOLD` where they are too few.

    Parameters
    ----------
    at_px
        (N, 2) x, y of the voids.
    blur_px2
        (N,) variance of the blur that each shows; fits are held near the blur that most rings have, so that strong
        blur reads less than it is.
    """
    if len(at_px) < LEAST_VOIDS:
        return UNTOLD
    _, beside = cKDTree(at_px).query(at_px, k=NEIGHBOURS)
    shared = np.median(blur_px2[beside], axis=1)
    worst = int(np.argmax(shared))
    further = float(shared[worst] - np.quantile(blur_px2, SHARPER))
    return Softest(math.sqrt(max(further, 0.0)), at_px[beside[worst]])
