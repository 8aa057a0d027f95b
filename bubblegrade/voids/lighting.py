"""The photograph's own light: how wide it is, seen from the voids, and what the side walls add.

The core of a ring ends where the light ends, and so does the dark ring's outer edge (optics.py): their ratio gives the
half-angle theta of the light, whatever the scale. It is taken from the clearest large voids together. A flat face lets
no more than asin(1/n) in, but the underside of a ball or a lure does: more is believed where rings say so plainly.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade import optics
from bubblegrade.voids.fitting import CLOSER, MAD, Fits, Grid, Image, fit_rings, row_medians, sample
from bubblegrade.voids.levels import level_blur_px, level_of
from bubblegrade.voids.rings import DISC_RADIUS, RingTable, Spots, Spread, ring_table

Floats = NDArray[np.float32]
Told = Callable[[], float]

LEAST_RADIUS_PX: Final = 7.0  # of a void whose core can be measured
LEAST_EXPLAINED, LEAST_AGREEING = 0.7, 0.85
MOST_RINGS: Final = 30
TELLING: Final = 120  # rings of either size that are looked at closer
CORE: Final = 0.85  # of its darkest: a ring whose middle is not lighter than this may be a flake and tells no light
ENOUGH_RINGS: Final = 3  # fewer give no light of their own
USUAL_SHARE: Final = 0.92  # of the widest light: a panel somewhat larger than the casting (common practice)
USUAL_WALL: Final = 0.5
USUAL_BLUR_PX: Final = 0.9
FOLLOWED: Final = 2  # fits about the blur that the last one found: one alone reaches 2.2 px
FOLLOWED_RINGS: Final = 60  # at most that are: their median is within 2 % of that of all, as a rule
LEAST_DISC_PX: Final = 1.4  # blur, of the rings as by a Gaussian, from which on it matters whether a disc makes it
DISC_DOUBT: Final = 0.015  # of a diameter: half of what a Gaussian in the disc's place makes it too large
WITHIN_DISC_DOUBT: Final = 0.2  # of one less than the disc's: such voids were off by 24 %, root of the mean square
TELL_BLUR: Final = 8  # rings, and voids among them, that tell of blur: flakes of a clear casting read too wide
LEAST_BLUR_PX: Final = 0.3  # a pixel's own width: nothing is sharper
USUAL_DOUBT: Final = 0.12  # of theta, radians, where it is not measured
LEAST_OWN_ERR: Final = 0.02  # of theta, radians: rings of one photograph do not agree better
MODEL_DOUBT: Final = 0.05  # of theta, radians: what all rings of a photograph share (tests/benchmarks/README.md)
FLAT: Final = (0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.92, 1.0)  # of the widest light of a flat face, tried
CURVED: Final = (1.0, 1.2, 1.4, 1.6, 1.8)  # of the same: of a curved one, tried where a flat one's is not enough
PLAINLY: Final = 1.15  # of it: flat castings are read as up to 1.11
WALLS: Final = (0.0, 0.2, 0.4, 0.6, 0.8)
STRETCHES: Final = np.linspace(0.89, 1.13, 11).astype(np.float32)  # of each ring's radius, tried
PROFILE: Final = Grid(angles=24, radii=27, inner=0.04, outer=1.4)


@dataclass(frozen=True)
class Lighting:
    """The light as the voids see it."""

    theta: float  # half-angle inside the resin, radians
    theta_err: float  # one standard uncertainty
    wall: float  # light through side walls over the direct light
    blur_px: float  # standard deviation of the photograph's blur, held near the usual one: what fits begin from
    rings: int  # voids it was measured on; 0 where it is only assumed
    followed_blur_px: float = math.nan  # the same, followed as far as it goes; NaN where too few voids tell
    theta_alike_err: float = 0.0  # part of theta_err that photographs of one casting share, radians
    disc_px: float = math.nan  # radius of the disc that a lens out of focus draws of a point; NaN where none is seen

    @property
    def spread(self) -> Spread:
        """How the blur spreads a point."""
        return Spread.GAUSSIAN if math.isnan(self.disc_px) else Spread.DISC

    def table(self, *, index: float) -> RingTable:
        """Return the rings that voids show in this light, blurred as it is."""
        return ring_table(self.theta, self.wall, index=index, spread=self.spread)

    def doubt(self, diameter_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the standard uncertainty of diameters, as a share of each, that a disc leaves, (N,).

        Of a void narrower than the disc only the soft border of the disc's own picture tells a size.

        >>> replace(usual_lighting(), disc_px=6.0).doubt(np.array([11.0, 13.0]))
        array([0.2  , 0.015])
        >>> usual_lighting().doubt(np.array([11.0]))
        array([0.])
        """
        if math.isnan(self.disc_px):
            return np.zeros_like(diameter_px)
        return np.where(diameter_px < 2.0 * self.disc_px, WITHIN_DISC_DOUBT, DISC_DOUBT)


@dataclass(frozen=True)
class _Read:
    """What clear rings say together."""

    share: float  # of the widest light that a flat face lets in
    wall: float
    scatter: float  # of that share from ring to ring
    rings: int


def usual_lighting(*, index: float = optics.USUAL_INDEX) -> Lighting:
    """Return what is assumed before anything is measured."""
    theta = USUAL_SHARE * optics.widest_light(index=index)
    return Lighting(theta=theta, theta_err=USUAL_DOUBT, wall=USUAL_WALL, blur_px=USUAL_BLUR_PX, rings=0)


def in_focus() -> float:
    """Return that no disc is seen, as of what was drawn without one: NaN."""
    return math.nan


def measure_lighting(
    pyramid: list[Image], fits: Fits, *, noise: float, index: float = optics.USUAL_INDEX, disc_px: Told = in_focus
) -> Lighting:
    """Return the light of a photograph from `fits` of its voids; the usual one where too few are clear enough.

    `disc_px` tells the radius of the disc that a lens out of focus draws of a point, and is asked where rings are soft.
    """
    usual = replace(usual_lighting(index=index), followed_blur_px=_followed_blur(pyramid, fits, noise, index))
    blur_px = _usual_blur(fits)
    if usual.followed_blur_px > LEAST_DISC_PX and (radius_px := disc_px()) > 0.0:
        blur_px = radius_px / DISC_RADIUS
        usual = replace(usual, followed_blur_px=blur_px, disc_px=radius_px)
        fits = fit_rings(pyramid, fits, usual.table(index=index), blur_px=blur_px, noise=noise, pace=CLOSER)
    clear = _clearest(fits)
    read = _read(pyramid, clear, FLAT, usual.spread, index)
    if read is not None and read.share >= FLAT[-1]:
        curved = _read(pyramid, clear, CURVED, usual.spread, index)
        read = curved if curved is not None and curved.share > PLAINLY else read
    if read is None:
        return replace(usual, blur_px=blur_px)
    widest = optics.widest_light(index=index)
    own = max(read.scatter * widest / math.sqrt(read.rings), LEAST_OWN_ERR)
    return replace(
        usual, theta=read.share * widest, theta_err=math.hypot(own, MODEL_DOUBT), wall=read.wall, blur_px=blur_px,
        rings=read.rings, theta_alike_err=MODEL_DOUBT,
    )  # fmt: skip


def telling_rings(fits: Fits) -> NDArray[np.intp]:
    """Return which of N begun fits are worth a closer look for the light: the best explained, small and large."""
    large = fits.radius_px >= LEAST_RADIUS_PX
    best = [
        side[np.argsort(-fits.explained[side], kind="stable")[:TELLING]]
        for side in (np.flatnonzero(large), np.flatnonzero(~large))
    ]
    return np.sort(np.concatenate(best))


def _usual_blur(fits: Fits) -> float:
    """Return the blur that most small rings have; large ones are measured on coarser levels."""
    small = fits[(fits.radius_px < 2 * LEAST_RADIUS_PX) & (fits.explained > LEAST_EXPLAINED)]
    return float(np.median(small.blur_px)) if len(small) >= ENOUGH_RINGS else USUAL_BLUR_PX


def _followed_blur(pyramid: list[Image], fits: Fits, noise: float, index: float) -> float:
    """Return the blur of most rings, some of them fitted again about what was found; NaN where too few tell.

    A fit is held near the blur that it begins from, so that blur far from the usual one is reached step by step.
    """
    table = usual_lighting(index=index).table(index=index)
    blur_px = _own_blur(pyramid, fits)
    told = fits[fits.explained > LEAST_EXPLAINED]
    fits = told[np.linspace(0, len(told) - 1, min(len(told), FOLLOWED_RINGS)).astype(np.intp)]
    for _ in range(FOLLOWED):
        if math.isnan(blur_px):
            break
        fits = fit_rings(pyramid, fits, table, blur_px=blur_px, noise=noise, pace=CLOSER)
        blur_px = _own_blur(pyramid, fits)
    return blur_px


def _own_blur(pyramid: list[Image], fits: Fits) -> float:
    """Return the blur that most rings have without that of the levels they are measured on; NaN where too few tell."""
    told = fits[fits.explained > LEAST_EXPLAINED]
    if len(told) < TELL_BLUR:
        return math.nan
    own = told.blur_px**2 - level_blur_px(np.exp2(level_of(told.radius_px, len(pyramid)))) ** 2
    return math.sqrt(max(float(np.median(own)), LEAST_BLUR_PX**2))


def _clearest(fits: Fits) -> Fits:
    """Return the rings to measure on: the largest of those that stand alone."""
    good = fits[
        (fits.radius_px >= LEAST_RADIUS_PX) & (fits.explained > LEAST_EXPLAINED) & (fits.agreeing > LEAST_AGREEING)
    ]
    return good[np.argsort(-good.radius_px, kind="stable")[:MOST_RINGS]]


def _misfit(profiles: Floats, table: RingTable, spots: Spots) -> Floats:
    """Return for each ring the least mean square that any stretch, depth and level of `table` leaves, (rings,).

    `spots` are where its profile lies in a table at each stretch, stretch by stretch.
    """
    weight = PROFILE.rho / PROFILE.rho.sum()
    ring = table.darkness(spots).reshape(len(STRETCHES), len(profiles), PROFILE.radii)
    ring_off = ring - (ring @ weight)[..., None]
    dark_off = profiles - (profiles @ weight)[:, None]
    depth = ((ring_off * dark_off) @ weight) / ((ring_off * ring_off) @ weight)
    left = (dark_off - depth[..., None] * ring_off) ** 2 @ weight
    spread = (dark_off * dark_off) @ weight
    return np.asarray(np.min(left, axis=0) / spread)


def _read(pyramid: list[Image], clear: Fits, shares: tuple[float, ...], spread: Spread, index: float) -> _Read | None:
    """Return which of `shares` of the widest light, and which wall, fit clear rings best; None where they are few."""
    samples = sample(pyramid, clear.x_px, clear.y_px, clear.radius_px, PROFILE)
    profiles = row_medians(samples.darkness.reshape(-1, PROFILE.angles)).reshape(-1, PROFILE.radii)
    cored = profiles[:, : PROFILE.radii // 2].min(axis=1) < CORE * profiles.max(axis=1)
    clear, profiles = clear[cored], profiles[cored]
    if len(clear) < ENOUGH_RINGS:
        return None
    blur, widest = clear.blur_px / clear.radius_px, optics.widest_light(index=index)
    stretched = (blur[None, :] / STRETCHES[:, None]).ravel()
    spots = Spots.of(stretched, np.repeat(PROFILE.rho[None, :] / STRETCHES[:, None], len(profiles), axis=0))
    misfit = np.array(
        [
            [_misfit(profiles, ring_table(s * widest, w, index=index, spread=spread), spots) for w in WALLS]
            for s in shares
        ]
    )
    total, tried = misfit.sum(axis=2), np.array(shares)
    share, wall = np.unravel_index(int(np.argmin(total)), total.shape)
    alone = tried[np.argmin(misfit.min(axis=1), axis=0)]  # with the best wall for each ring
    scatter = MAD * float(np.median(np.abs(alone - np.median(alone))))
    return _Read(_between(tried, total[:, wall], int(share)), WALLS[wall], scatter, len(clear))


def _between(places: NDArray[np.float64], values: NDArray[np.float64], least: int) -> float:
    """Return where a parabola through the least value and its neighbours is least."""
    if least in (0, len(places) - 1):
        return float(places[least])
    x, y = places[least - 1 : least + 2], values[least - 1 : least + 2]
    a, b, _ = np.polyfit(x - x[1], y, 2)
    return float(x[1] + np.clip(-b / (2 * a), x[0] - x[1], x[2] - x[1])) if a > 0 else float(x[1])
