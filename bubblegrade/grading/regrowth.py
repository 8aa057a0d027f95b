"""The same piece photographed again later: which voids grew, which are new, which are gone.

The constellation of the voids gives turn, shift and scale between the two photographs, since distances between voids
in set resin do not change when the voids do. Growth is the ratio of diameters over that scale, so neither photograph
needs a scale of its own. What the diameters of a photograph have in common, by its light, its blur and what the camera
made of it, is carried as an uncertainty common to all voids, which no number of voids averages away.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from bubblegrade.grading.come_again import Areas, come_again, turn_between
from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading.record import Casting
from bubblegrade.voids.table import Voids, stacked

Floats = NDArray[np.float64]
Verdict = Literal["grew", "shrank", "did not change", "cannot be told"]

LEAST_PAIRS: Final = 5
TOLERATED: Final = 0.05  # change of diameter that an interval around none must exclude to count as none
OWN_GROWTH: Final = 0.04  # change of diameter up to which one void alone is not said to have grown, however sure
SAME_SCALE: Final = 0.05  # by so much photographs with the same setup may differ in scale
LEAST_CHANGE: Final = 0.005  # a smaller change is not called one, however sure
LIGHT_TO_SIZE: Final = 0.1  # change of ln diameter per radian of the light's half-angle, of traced pairs (measured)
CAMERA_ERR: Final = 0.005  # of ln diameter between photographs of unchanged cups, each processed otherwise (measured)
BLUR_TO_SIZE: Final = 0.75  # of ln diameter over the square of blur over diameter, of traced photographs (measured)
OUTLYING: Final = 4.0  # scaled median deviations: a void farther from the rest changed by itself, or is mismatched
LEAST_ERR: Final = 0.005  # of one void's ln diameter: no void counts as known better than this
STRAY: Final = 0.003  # share of the voids of unchanged pieces that lie out by chance (measured: 18 of 10,277)
BY_CHANCE: Final = 0.05  # probability of so many of them below which the piece is not called unchanged
BY_ITSELF: Final = 5.0  # standard uncertainties by which one void alone grew: no unchanged one of 28,931 did (measured)
CLEAR_OF: Final = 0.2  # of its diameter: another find so near to a void may be taken for it, or be one with it
COVERAGE: Final = 0.95
UNFIT: Final = "unfit to measure ({}): sizes may be off by more than the interval says, photograph it again"
BOTH: Final = "the interval holds both growth and none: photograph it nearer, sharper and with more light"
OR_SAME: Final = ", or say --same-setup if light, camera, distance and focus were the same"


@dataclass(frozen=True, eq=False)
class Regrowth:
    """What became of a piece's voids between two photographs."""

    verdict: Verdict
    reason: str  # why it cannot be told; else empty
    growth: Estimate  # of all voids: change of diameter as a share
    turned_degrees: float
    scale: float  # px of the later photograph per px of the earlier one
    pairs: NDArray[np.intp]  # (n, 2) rows of the earlier and the later voids
    growths: Floats  # (n,) each void's change of diameter as a share
    growth_errs: Floats  # (n,) one standard uncertainty
    stands_out: NDArray[np.bool_]  # (n,) voids that changed otherwise than the rest
    gone: NDArray[np.intp]  # rows of the earlier voids that should be seen again and are not
    new: NDArray[np.intp]  # rows of the later voids that should have been seen before and were not


def compare(
    earlier: Casting, later: Casting, *, left_out: tuple[Areas, Areas] = ((), ()), same_setup: bool = False
) -> Regrowth:
    """Return what became of the voids of a piece between two photographs of the same side.

    `left_out` are areas of either photograph of which a person said that no void counts there: what lies there in the
    other is neither new nor gone. With `same_setup` light, camera, distance and focus were the same: a light that is
    only assumed, and blur, do the same to sizes in both, and only what differs leaves growth in doubt.
    """
    turn = turn_between(earlier, later)
    if turn is None:
        return _untold("the two photographs do not show the same voids: the same piece, the same side up?")
    zoom = abs(turn.scale_turn)
    if same_setup and abs(zoom - 1.0) > SAME_SCALE:
        return _untold(
            f"the later photograph shows the piece {zoom:.2f} times as large, which is not the same setup: leave "
            "--same-setup out"
        )
    pairs, gone, new = come_again(earlier, later, turn, left_out)
    if len(pairs) < LEAST_PAIRS:
        return replace(
            _untold(f"only {len(pairs)} of the {LEAST_PAIRS} voids that growth needs come again"), pairs=pairs
        )
    before, after = earlier.voids[pairs[:, 0]], later.voids[pairs[:, 1]]
    logs = np.log(after.diameter_px / before.diameter_px) - math.log(zoom)
    alike = min(earlier.index_err_share, later.index_err_share)
    errs = np.maximum(np.hypot(_errs(before, alike), _errs(after, alike)), LEAST_ERR)
    common = _common((earlier, later), (before, after), errs, same_setup=same_setup)
    outlying = _outlying(logs, errs)
    growth = _growth(logs[~outlying], errs[~outlying], common)
    grown = outlying & (logs - np.median(logs) - BY_ITSELF * errs > math.log1p(OWN_GROWTH))
    grown &= _alone(earlier, pairs[:, 0]) & _alone(later, pairs[:, 1], besides=pairs[:, 1])
    unfit = [casting.photo for casting in (earlier, later) if casting.unfit]
    verdict, reason = _verdict(growth, outlying, grown, unfit)
    return Regrowth(
        verdict=verdict,
        reason=reason + OR_SAME if reason == BOTH and not same_setup else reason,
        growth=growth,
        turned_degrees=turn.degrees,
        scale=zoom,
        pairs=pairs,
        growths=np.expm1(logs),
        growth_errs=np.exp(logs) * errs,
        stands_out=outlying,
        gone=gone,
        new=new,
    )


def _errs(voids: Voids, alike: float) -> Floats:
    """Return the uncertainty of ln diameter of each void, without the share that is alike in both photographs.

    The resin is the same in both: what its unknown index does to a diameter it does to both, and not to their ratio.
    """
    errs = voids.diameter_err_px / voids.diameter_px
    return np.sqrt(np.where(errs > alike, errs**2 - alike**2, errs**2))


def _common(castings: tuple[Casting, Casting], voids: tuple[Voids, Voids], errs: Floats, *, same_setup: bool) -> float:
    """Return the uncertainty of ln growth that light, blur and processing of the photographs give all voids alike."""
    lights = [casting.lighting for casting in castings]
    weights = 1.0 / errs**2
    blur, later_blur = (
        BLUR_TO_SIZE * (light.blur_px * float(np.average(1.0 / of.diameter_px, weights=weights))) ** 2
        for light, of in zip(lights, voids, strict=True)
    )
    own = [math.sqrt(max(light.theta_err**2 - light.theta_alike_err**2, 0.0)) for light in lights]
    light = LIGHT_TO_SIZE * math.hypot(*own)
    if same_setup:
        assumed = not any(each.rings for each in lights)
        return math.hypot(0.0 if assumed else light, blur - later_blur, CAMERA_ERR)
    return math.hypot(light, blur, later_blur, CAMERA_ERR)


def _verdict(
    growth: Estimate, outlying: NDArray[np.bool_], grown: NDArray[np.bool_], unfit: Sequence[str]
) -> tuple[Verdict, str]:
    """Return the verdict and why it cannot be told; one of which voids changed by themselves is not unchanged."""
    if unfit:
        return "cannot be told", UNFIT.format(", ".join(unfit))
    if growth.low > 0.0 and growth.value >= LEAST_CHANGE:
        return "grew", ""
    if growth.high < 0.0 and growth.value <= -LEAST_CHANGE:
        return "shrank", ""
    reason = _doubt(growth, int(outlying.sum()), int(grown.sum()), len(outlying))
    return ("cannot be told", reason) if reason else ("did not change", "")


def _doubt(growth: Estimate, strays: int, grown: int, of: int) -> str:
    """Return why voids that neither grew nor shrank in common are not said to be unchanged; empty for no reason."""
    if not (growth.low > -TOLERATED and growth.high < TOLERATED):
        return BOTH
    if stats.binom.sf(strays - 1, of, STRAY) < BY_CHANCE:
        return f"{strays} of {of} voids changed otherwise than the rest: look at them"
    if grown:
        itself, it = ("itself", "it") if grown == 1 else ("themselves", "them")
        return f"{grown} of {of} voids grew by {itself}, far beyond chance: look at {it}"
    return ""


def _growth(logs: Floats, errs: Floats, common: float) -> Estimate:
    """Return the growth of all voids with its 95 % interval, from their own scatter and what they have in common."""
    mean, err, freedom = _mean(logs, errs)
    reach = float(stats.t.ppf(0.5 + COVERAGE / 2, freedom)) * err
    half = math.hypot(reach, float(stats.norm.ppf(0.5 + COVERAGE / 2)) * common)
    return Estimate(math.expm1(mean), math.expm1(mean - half), math.expm1(mean + half))


def _outlying(logs: Floats, errs: Floats) -> NDArray[np.bool_]:
    """Say which voids lie too far from the median for their own uncertainty and for the spread of the rest."""
    off = np.abs(logs - np.median(logs))
    spread = 1.4826 * float(np.median(off))
    return off > OUTLYING * np.maximum(spread, 0.5 * errs)


def _mean(logs: Floats, errs: Floats) -> tuple[float, float, int]:
    """Return the weighted mean, its standard error from the scatter itself, and the degrees of freedom."""
    weight = 1.0 / errs**2
    mean = float(np.average(logs, weights=weight))
    err = float(np.sqrt(np.sum((weight * (logs - mean)) ** 2)) / weight.sum())
    return mean, err * math.sqrt(len(logs) / (len(logs) - 1)), len(logs) - 1


def _alone(casting: Casting, rows: NDArray[np.intp], *, besides: NDArray[np.intp] | None = None) -> NDArray[np.bool_]:
    """Say which of a casting's voids have no other find so near that one may be taken for the other.

    The voids `besides` are none that may be: each is known to be another, as one that came again is.
    """
    finds = stacked([casting.voids, casting.set_aside])
    x, y, diameter = (column[rows, None] for column in (finds.x_px, finds.y_px, finds.diameter_px))
    gaps = np.hypot(x - finds.x_px, y - finds.y_px) - (diameter + finds.diameter_px) / 2
    gaps[np.arange(len(rows)), rows] = np.inf
    if besides is not None:
        gaps[:, besides] = np.inf
    return np.asarray((gaps > CLEAR_OF * diameter).all(axis=1))


def _untold(reason: str) -> Regrowth:
    nothing = np.empty(0)
    return Regrowth(
        verdict="cannot be told",
        reason=reason,
        growth=Estimate(math.nan, math.nan, math.nan),
        turned_degrees=math.nan,
        scale=math.nan,
        pairs=np.empty((0, 2), np.intp),
        growths=nothing,
        growth_errs=nothing,
        stands_out=np.empty(0, np.bool_),
        gone=np.empty(0, np.intp),
        new=np.empty(0, np.intp),
    )
