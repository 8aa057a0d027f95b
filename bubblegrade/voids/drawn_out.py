"""How far voids look drawn out along one direction: what a curved surface does to them.

Through a flank bent across a body a sphere looks wider across it than along it. The dark ring's outer edge and that of
the core show it, but where the light fills another angle across than along, as it does behind a bent underside, the
outer edge moves in and the core's out (optics.py). Both follow the silhouette alike and the light unlike; a mean of the
two keeps the one and loses most of the other.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.curved import DrawnOut
from bubblegrade.voids.fitting import MAD, Grid, sample
from bubblegrade.voids.table import Voids

Image = NDArray[np.float32]
Floats = NDArray[np.float64]

RAYS: Final = Grid(angles=32, radii=57, inner=0.1, outer=1.5)
ENDS: Final = 4  # samples at either end of a ray: the core's light and what lies beside the void
RING: Final = (0.4, 1.35)  # radii between which a ray is darkest
LEAST_PX: Final = 12.0  # diameter of a void whose form can be measured
SHARP: Final = 0.25  # of its diameter: a softer edge rounds the form
FEWEST: Final = 5  # voids that tell for a body
MOST: Final = 60  # that are looked at, the largest: more say nothing that SHARED_ERR does not drown
SEEN: Final = 0.6  # share of a void's rays on which an edge is found
ROUNDS: Final = 3  # of leaving out rays that another void crosses
OFF: Final = 3.0  # robust standard deviations: farther off is another void's edge, or a void on the body's rim
FAITHFUL: Final = 0.01  # of ln(radius): edges are no better than that
OUTER: Final = 0.65  # weight of the outer edge, the core's the rest: found on traced lures (tests/benchmarks/README.md)
SHARED_ERR: Final = 0.04  # of a body's mean, what the light leaves (tests/benchmarks/README.md)


def drawn_out(darkness: Image, voids: Voids, *, along: float) -> DrawnOut | None:
    """Return how far the larger voids of a body look drawn out across it; None where too few are clear enough.

    Parameters
    ----------
    darkness
        (rows, cols) 1 - light over that of the clear resin.
    voids
        What was found and counted.
    along
        Direction of the body's length, radians from the picture's x axis to its y axis.
    """
    clear = voids.judged & ~voids.cut & (voids.diameter_px >= LEAST_PX)
    clear &= voids.edge_width_px < SHARP * voids.diameter_px
    rows = np.flatnonzero(clear)
    rows = rows[np.argsort(-voids.diameter_px[rows], kind="stable")[:MOST]]
    if len(rows) < FEWEST:
        return None
    x, y, radius = (
        np.asarray(c, np.float32) for c in (voids.x_px[rows], voids.y_px[rows], voids.diameter_px[rows] / 2)
    )
    rays = sample([darkness], x, y, radius, RAYS).darkness.reshape(len(rows), RAYS.radii, RAYS.angles)
    outer, core = np.split(_across(_edges(rays), along), 2)
    share = OUTER * outer + (1.0 - OUTER) * core
    share = share[np.isfinite(share)]
    if len(share) < FEWEST:
        return None
    off = np.abs(share - np.median(share))
    share = share[off <= OFF * max(MAD * float(np.median(off)), FAITHFUL)]
    spread = float(share.std(ddof=1))
    return DrawnOut(float(share.mean()), float(np.hypot(spread / np.sqrt(len(share)), SHARED_ERR)), spread, len(share))


def _edges(rays: Image) -> Floats:
    """Return where each ray leaves the dark ring, outwards and then inwards, in radii: (2N, angles), NaN if nowhere.

    `rays` is the darkness along them, (N, radii, angles). An edge lies where it has fallen half way from the ring's
    darkest, as most rays have it, to what lies beside the void, or to what its core shows.
    """
    rho = RAYS.rho
    within = ((rho > RING[0]) & (rho < RING[1]))[:, None]
    darkest = np.where(within, rays, -np.inf).argmax(axis=1)[:, None]  # (N, 1, angles)
    peak = np.median(rays.max(axis=1), axis=1)
    beside, core = (np.median(part, axis=(1, 2)) for part in (rays[:, -ENDS:], rays[:, :ENDS]))
    place = np.arange(len(rho))[:, None]
    found = []
    for step, level in ((1, (peak + beside) / 2), (-1, (peak + core) / 2)):
        half = level[:, None, None]
        fallen = (rays < half) & (step * (place - darkest) > 0)
        ordered = fallen[:, ::step]
        first = ordered.argmax(axis=1)[:, None]
        first = first if step > 0 else len(rho) - 1 - first
        before = np.clip(first - step, 0, len(rho) - 1)
        there, here = (np.take_along_axis(rays, spot, axis=1) for spot in (first, before))
        part = (here - half) / np.maximum(here - there, np.finfo(np.float32).eps)
        edge = rho[before] + part * (rho[first] - rho[before])
        told = fallen.any(axis=1, keepdims=True) & (np.take_along_axis(rays, darkest, axis=1) >= half)
        found.append(np.where(told, edge, np.nan)[:, 0].astype(np.float64))
    return np.concatenate(found)


def _across(edge: Floats, along: float) -> Floats:
    """Return by how much of its logarithm each edge, (N, angles) in radii, is wider across than on the mean; (N,)."""
    ways = RAYS.directions.astype(np.float64)
    turn = 2.0 * (ways - along)
    basis = np.stack([np.ones_like(turn), np.cos(ways), np.sin(ways), np.cos(turn), np.sin(turn)], axis=1)
    told = np.isfinite(edge)
    size = np.log(np.where(told, edge, 1.0))
    kept = told
    for _ in range(ROUNDS):
        weighed = basis[None] * kept[:, :, None]
        normal = np.einsum("nak,al->nkl", weighed, basis) + 1e-9 * np.eye(basis.shape[1])
        fit = np.linalg.solve(normal, np.einsum("nak,na->nk", weighed, size)[:, :, None])[:, :, 0]
        off = np.abs(size - fit @ basis.T)
        ordered = np.sort(np.where(kept, off, np.inf), axis=1)
        middle = np.take_along_axis(ordered, np.maximum(kept.sum(axis=1) - 1, 0)[:, None] // 2, axis=1)
        kept = told & (off <= OFF * np.maximum(MAD * middle, FAITHFUL))
    return np.where(kept.mean(axis=1) >= SEEN, -fit[:, 3], np.nan)
