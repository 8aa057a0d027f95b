"""A find in the company of the others: what was learned of how they stand together.

The judge sees each candidate alone. Whether a faint spot is a void also shows in what else the photograph holds:
rings as sharp, as dark and as large elsewhere, a larger void that it lies in or on the ring of, neighbours that are
flakes. A second small network sees what the judge says of all candidates and corrects what it says of each. Its
weights (`company.npz`) were learned on verdicts of judges that had not been taught the photograph (see
bubblegrade.teaching).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from bubblegrade.voids.fitting import Fits
from bubblegrade.voids.judging import Verdicts
from bubblegrade.voids.network import Floats, Network, loaded

TRUSTED: Final = 0.5  # share of the correction that is made: photographs are peopled less alike than what was taught
LEAST_LIKELY: Final = 1e-6  # probabilities nearer to 0 or 1 than this tell no more
FAINT_WEIGHT: Final = 1e-3  # in means over the photograph, of a candidate that is no void
NEAREST: Final = 8  # neighbours that are looked at
FAR: Final = 50.0  # radii: farther makes no difference
REACH: Final = 2.0  # radii around a candidate: a smaller one whose disc touches has its centre within
ALIKE: Final = 1.3  # ratio of two diameters up to which they are of one size
CORE, RING = 0.55, 1.15  # radii: where a void's bright core and its dark ring end


@dataclass(frozen=True, eq=False)
class Company:
    """The learned correction of verdicts."""

    network: Network

    def __call__(self, looks: Floats, verdicts: Verdicts) -> Verdicts:
        """Return the verdicts on N candidates, how likely each is corrected by (N, columns) looks at its company."""
        odds = log_odds(verdicts.likely) + TRUSTED * self.network(looks)[:, 0]
        return replace(verdicts, likely=np.asarray(1.0 / (1.0 + np.exp(-np.clip(odds, -30, 30))), np.float32))


def company_of(fits: Fits, numbers: Floats, verdicts: Verdicts) -> Floats:
    """Return what the company of each of N candidates looks like, (N, columns).

    Parameters
    ----------
    fits
        The fitted rings.
    numbers
        (N, F) what the judge was told of each.
    verdicts
        What the judge says of them.
    """
    radius = fits.radius_px * np.exp(verdicts.log_ratio)
    own = [log_odds(verdicts.likely), verdicts.log_ratio, np.log(verdicts.log_ratio_err)]
    kinds = log_odds(verdicts.other)
    columns = [*own, *_in_the_photograph(fits, radius, verdicts), *_beside(fits, radius, verdicts)]
    columns += _overlapping(fits, radius, verdicts)
    return np.concatenate([numbers, kinds, np.stack(columns, axis=1)], axis=1).astype(np.float32)


def log_odds(likely: Floats) -> Floats:
    """Return the log odds of probabilities."""
    kept = np.clip(likely.astype(np.float64), LEAST_LIKELY, 1 - LEAST_LIKELY)
    return np.asarray(np.log(kept / (1 - kept)), np.float32)


@lru_cache(maxsize=1)
def learned_company() -> Company:
    """Return the company's network that comes with the package."""
    held = loaded("company.npz")
    return Company(Network(held.middle, held.spread, held.trainings))


def _in_the_photograph(fits: Fits, radius: Floats, verdicts: Verdicts) -> list[Floats]:
    """Return how many voids there are, what they usually look like, and how each candidate differs from that."""
    likely = verdicts.likely
    number = len(likely)
    usual = [np.log1p(likely.sum()), likely.sum() / max(number, 1)]
    columns = [np.full(number, value, np.float32) for value in usual]
    weight = likely + np.float32(FAINT_WEIGHT)
    for look in (np.log(fits.blur_px), fits.depth, np.log(radius)):
        mean = (weight * look).sum() / max(weight.sum(), FAINT_WEIGHT)
        columns += [np.full(number, mean, np.float32), look - mean]
    return columns


def _beside(fits: Fits, radius: Floats, verdicts: Verdicts) -> list[Floats]:
    """Return what stands nearest to each candidate: how likely it is a void, and how far off it is."""
    places = np.stack([fits.x_px, fits.y_px], axis=1)
    if len(places) <= 1:
        return [np.full(len(places), value, np.float32) for value in (0.0, 0.0, np.log1p(FAR), np.log1p(FAR))]
    far, others = cKDTree(places).query(places, k=min(NEAREST + 1, len(places)))
    far, others = far[:, 1:] / radius[:, None], others[:, 1:]
    return [
        verdicts.likely[others].mean(axis=1),
        log_odds(verdicts.likely)[others].mean(axis=1),
        np.log1p(np.minimum(far, FAR)).mean(axis=1),
        np.log1p(np.minimum(far[:, 0], FAR)),
    ]


def _overlapping(fits: Fits, radius: Floats, verdicts: Verdicts) -> list[Floats]:
    """Return how far likely voids of each size lie over each candidate, and whether on a ring or in a core."""
    one, other = _touching(fits, radius)
    off = np.hypot(fits.x_px[one] - fits.x_px[other], fits.y_px[one] - fits.y_px[other])
    over = np.clip((radius[one] + radius[other] - off) / (2 * np.minimum(radius[one], radius[other])), 0, 1)
    over *= verdicts.likely[other]
    larger, smaller = radius[other] > ALIKE * radius[one], ALIKE * radius[other] < radius[one]
    inside = off / radius[other]
    in_core = larger & (inside < CORE)
    on_ring = larger & (inside >= CORE) & (inside < RING)

    def most(amount: Floats, of: NDArray[np.bool_]) -> Floats:
        held = np.zeros(len(radius), np.float32)
        np.maximum.at(held, one[of], amount[of])
        return held

    def total(of: NDArray[np.bool_]) -> Floats:
        return np.log1p(np.bincount(one[of], over[of], len(radius))).astype(np.float32)

    likely = verdicts.likely[other]
    return [
        most(over, larger), most(over, smaller), most(over, ~larger & ~smaller), most(likely, in_core),
        most(likely, on_ring), total(np.ones(len(one), bool)), total(smaller),
    ]  # fmt: skip


def _touching(fits: Fits, radius: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return all pairs of candidates whose discs touch, each pair both ways."""
    places = np.stack([fits.x_px, fits.y_px], axis=1)
    if not len(places):
        return np.empty(0, np.intp), np.empty(0, np.intp)
    near: Any = cKDTree(places).query_ball_point(places, REACH * radius)
    large = np.repeat(np.arange(len(places)), [len(found) for found in near])
    small = np.concatenate(near).astype(np.intp)
    off = np.hypot(fits.x_px[large] - fits.x_px[small], fits.y_px[large] - fits.y_px[small])
    ordered = (radius[small] < radius[large]) | ((radius[small] == radius[large]) & (small < large))
    touch = ordered & (off < radius[small] + radius[large])
    large, small = large[touch], small[touch]
    return np.concatenate([large, small]), np.concatenate([small, large])
