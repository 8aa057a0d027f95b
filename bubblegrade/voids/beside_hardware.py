"""Voids that hardware covers in part: what is behind it does not show, and its edge passes for a piece of the ring.

Their diameters err by more than the judge states, which sees the dark around a ring and not what it is. Looked at are
places around each void, outside its own ring, which is no part of a mark.

Before a wide body, as a printed sheet, no light comes from behind: what shows a void there is mirrored within the
casting, and shows one as several.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.voids.table import Voids, stacked

AROUND: Final = (1.3, 1.4, 1.5)  # radii from a void's centre that are looked at
WAYS: Final = 32  # directions in which they are
DOUBT: Final = (
    0.25  # of a diameter, all places being on hardware: one standard uncertainty (tests/benchmarks/README.md)
)

BEFORE: Final = "before a wide opaque body: what is mirrored there shows one void as several"


def unsure_before(body: NDArray[np.bool_], voids: Voids, others: Voids) -> tuple[Voids, Voids]:
    """Return voids and other finds, those voids among the others that lie before a wide `body`, (N,), as unsure."""
    unsure = replace(voids[body], kind=np.full(body.sum(), "unsure"), reason=np.full(body.sum(), BEFORE))
    return voids[~body], stacked([others, unsure])


def doubt_beside(solid: NDArray[np.bool_], voids: Voids) -> NDArray[np.float64]:
    """Return the uncertainty that hardware beside each of N voids adds, as a share of its diameter, (N,).

    `solid` says which pixels, (rows, cols), are of hardware; outside of it there is none.
    """
    if not solid.any():
        return np.zeros(len(voids))
    way = np.linspace(0.0, 2.0 * np.pi, WAYS, endpoint=False)
    reach = voids.diameter_px[:, None, None] / 2 * np.array(AROUND)[:, None]
    x = np.rint(voids.x_px[:, None, None] + reach * np.cos(way)).astype(np.intp)
    y = np.rint(voids.y_px[:, None, None] + reach * np.sin(way)).astype(np.intp)
    rows, cols = solid.shape
    inside = (x >= 0) & (x < cols) & (y >= 0) & (y < rows)
    on = inside & solid[np.clip(y, 0, rows - 1), np.clip(x, 0, cols - 1)]
    return DOUBT * np.asarray(on.mean(axis=(1, 2)))
