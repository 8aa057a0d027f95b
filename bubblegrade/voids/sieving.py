"""Which begun rings are worth finishing, by what was learned: a small network on what a coarse fit says.

Several candidates arise around every void, and more along scratches, wires and grain. Most of them show after a few
coarse steps that no void will come of them. The weights (`sieve.npz`) were learned on pictures that this project
traces and draws itself (bubblegrade.teaching).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.network import Floats, Network, loaded

LEAST_LIKELY: Final = 0.003  # probability of being a void: 1 of 300 true ones lies below it
FAINTEST: Final = 0.02  # depth of a ring that noise is compared with
BORDER_RANGE: Final = (-2.0, 6.0)  # radii from the border of the judged area: farther makes no difference


@dataclass(frozen=True, eq=False)
class Sieve:
    """The learned sieve of begun rings."""

    network: Network

    def __call__(self, looks: Floats) -> NDArray[np.bool_]:
        """Say for (N, F) looks which rings are worth finishing."""
        odds = np.log(LEAST_LIKELY / (1 - LEAST_LIKELY))
        return np.asarray(self.network(looks)[:, 0] > odds)


def begun_looks(start: Fits, fits: Fits, *, noise: float, border_px: Floats) -> Floats:
    """Return one row of numbers for each of N begun fits, (N, columns).

    Parameters
    ----------
    start, fits
        Where the fits began, and what came of them.
    noise
        Standard deviation of a pixel's darkness.
    border_px
        (N,) distance from each centre to the border of the judged area.
    """
    radius = fits.radius_px
    moved = np.hypot(fits.x_px - start.x_px, fits.y_px - start.y_px)
    columns = [
        np.log(radius),
        np.log(fits.blur_px / radius),
        np.log(fits.blur_px),
        fits.depth,
        fits.level,
        fits.explained,
        fits.agreeing,
        fits.seen,
        np.log(fits.radius_err_px / radius + 1e-4),
        np.log(radius / start.radius_px),
        moved / radius,
        np.log(max(noise, 1e-6) / np.maximum(fits.depth, FAINTEST)),
        np.clip(border_px / radius, *BORDER_RANGE),
    ]
    return np.stack(columns, axis=1).astype(np.float32)


@lru_cache(maxsize=1)
def learned_sieve() -> Sieve:
    """Return the sieve that comes with the package."""
    held = loaded("sieve.npz")
    return Sieve(Network(held.middle, held.spread, held.trainings))
