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

from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading.record import Casting
from bubblegrade.voids.again import Turn, begun_turn, find_turn, match_pairs, middle_of
from bubblegrade.voids.table import Voids, stacked

Floats = NDArray[np.float64]
Areas = Sequence[Sequence[tuple[float, float]]]  # corners of each, x and y in px
Verdict = Literal["grew", "shrank", "did not change", "cannot be told"]

NEAR_SHARE: Final = 0.004  # of the casting's size: how near a void must come again
LEAST_PAIRS: Final = 5
TOLERATED: Final = 0.04  # change of diameter up to which an interval around none counts as none
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
SAME_PLACE: Final = 0.3  # of its diameter: so near comes the middle of a void again, however far it grew
WELL_OVER: Final = 1.25  # of the smallest countable size: below it a void may be missed or found by chance
COVERAGE: Final = 0.95
UNFIT: Final = "unfit to measure ({}): sizes may be off by more than the interval says, photograph it again"
BOTH: Final = "the interval holds both growth and none: photograph it nearer, sharper and with more light"


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


def compare(earlier: Casting, later: Casting, *, left_out: tuple[Areas, Areas] = ((), ())) -> Regrowth:
    """Return what became of the voids of a piece between two photographs of the same side.

    `left_out` are areas of either photograph of which a person said that no void counts there: what lies there in the
    other is neither new nor gone.
    """
    turn = _turn(earlier, later)
    if turn is None:
        return _untold("the two photographs do not show the same voids: the same piece, the same side up?")
    near = NEAR_SHARE * math.sqrt(earlier.judged_area_px) * abs(turn.scale_turn)
    pairs = match_pairs(_rescaled(earlier.voids, abs(turn.scale_turn)), later.voids, _unscaled(turn), near_px=near)
    gone, new = _unmatched(earlier, later, turn, pairs, left_out)
    pairs, gone, new = _with_far_grown((earlier.voids, later.voids), turn, pairs, gone, new)
    if len(pairs) < LEAST_PAIRS:
        return replace(
            _untold(f"only {len(pairs)} of the {LEAST_PAIRS} voids that growth needs come again"), pairs=pairs
        )
    before, after = earlier.voids[pairs[:, 0]], later.voids[pairs[:, 1]]
    logs = np.log(after.diameter_px / before.diameter_px) - math.log(abs(turn.scale_turn))
    alike = min(earlier.index_err_share, later.index_err_share)
    errs = np.maximum(np.hypot(_errs(before, alike), _errs(after, alike)), LEAST_ERR)
    common = math.hypot(_common(earlier, before, errs), _common(later, after, errs), CAMERA_ERR)
    outlying = _outlying(logs, errs)
    mean, err, freedom = _mean(logs[~outlying], errs[~outlying])
    reach = float(stats.t.ppf(0.5 + COVERAGE / 2, freedom)) * err
    half = math.hypot(reach, float(stats.norm.ppf(0.5 + COVERAGE / 2)) * common)
    growth = Estimate(math.expm1(mean), math.expm1(mean - half), math.expm1(mean + half))
    grown = outlying & (logs - np.median(logs) - BY_ITSELF * errs > math.log1p(TOLERATED))
    grown &= _alone(earlier, pairs[:, 0]) & _alone(later, pairs[:, 1], besides=pairs[:, 1])
    unfit = [casting.photo for casting in (earlier, later) if casting.unfit]
    verdict, reason = _verdict(growth, outlying, grown, unfit)
    return Regrowth(
        verdict=verdict,
        reason=reason,
        growth=growth,
        turned_degrees=turn.degrees,
        scale=abs(turn.scale_turn),
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


def _common(casting: Casting, voids: Voids, errs: Floats) -> float:
    """Return the uncertainty of ln diameter that a photograph gives all its voids alike, by its light and its blur."""
    blurred = casting.lighting.blur_px * float(np.average(1.0 / voids.diameter_px, weights=1.0 / errs**2))
    light = casting.lighting
    own_err = math.sqrt(max(light.theta_err**2 - light.theta_alike_err**2, 0.0))
    return math.hypot(LIGHT_TO_SIZE * own_err, BLUR_TO_SIZE * blurred**2)


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


def _turn(earlier: Casting, later: Casting) -> Turn | None:
    """Return how the piece lies in the later photograph, also from another distance; None if it does not."""
    begun = begun_turn((earlier.outline_px, later.outline_px), (earlier.shape_px, later.shape_px))
    return find_turn(
        earlier.voids, later.voids, begun=begun, middle=middle_of(earlier.outline_px, earlier.shape_px),
        size_px=math.sqrt(earlier.judged_area_px),
    )  # fmt: skip


def _rescaled(voids: Voids, zoom: float) -> Voids:
    """Return voids as a photograph `zoom` times as large shows them."""
    return replace(
        voids, x_px=zoom * voids.x_px, y_px=zoom * voids.y_px, diameter_px=zoom * voids.diameter_px,
        diameter_err_px=zoom * voids.diameter_err_px,
    )  # fmt: skip


def _unscaled(turn: Turn) -> Turn:
    """Return the turn for voids that are rescaled already."""
    return replace(turn, scale_turn=turn.scale_turn / abs(turn.scale_turn))


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


def _unmatched(
    earlier: Casting, later: Casting, turn: Turn, pairs: NDArray[np.intp], left_out: tuple[Areas, Areas]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the earlier voids that are gone and the later ones that are new.

    Only those count that lie where the other photograph is judged too, and well over its smallest countable size.
    """
    zoom = abs(turn.scale_turn)
    there = turn.places(earlier.voids.x_px, earlier.voids.y_px)
    back = (later.voids.x_px + 1j * later.voids.y_px - turn.shift) / turn.scale_turn
    gone = ~np.isin(np.arange(len(earlier.voids)), pairs[:, 0])
    gone &= _shown(later, there, left_out[1]) & (zoom * earlier.voids.diameter_px > WELL_OVER * later.sizes_px.smallest)
    new = ~np.isin(np.arange(len(later.voids)), pairs[:, 1])
    new &= _shown(earlier, np.stack([back.real, back.imag], axis=1), left_out[0])
    new &= later.voids.diameter_px / zoom > WELL_OVER * earlier.sizes_px.smallest
    return np.flatnonzero(gone), np.flatnonzero(new)


def _with_far_grown(
    voids: tuple[Voids, Voids], turn: Turn, pairs: NDArray[np.intp], gone: NDArray[np.intp], new: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs with voids that grew too far to be matched, and those that are gone and new without them.

    What is new where one is gone, its middle in the same place, is that one grown.
    """
    before, after = voids[0][gone], voids[1][new]
    there = turn.places(before.x_px, before.y_px)
    off = np.hypot(there[:, 0, None] - after.x_px, there[:, 1, None] - after.y_px)
    same = (off < SAME_PLACE * after.diameter_px) & (
        after.diameter_px > abs(turn.scale_turn * before.diameter_px[:, None])
    )
    same &= (same.sum(axis=0) == 1) & (same.sum(axis=1) == 1)[:, None]
    rows, cols = np.nonzero(same)
    grown = np.stack([gone[rows], new[cols]], axis=1)
    return np.concatenate([pairs, grown]), np.delete(gone, rows), np.delete(new, cols)


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


def _shown(casting: Casting, places: Floats, left_out: Areas) -> NDArray[np.bool_]:
    """Say which places lie within a casting's judged borders, counting holes as outside, and in no area left out."""
    within = np.zeros(len(places), bool)
    for border in casting.judged_px:
        within ^= _inside(border, places)
    for corners in left_out:
        within &= ~_inside(np.array(corners, np.float64), places)
    return within


def _inside(border: Floats, places: Floats) -> NDArray[np.bool_]:
    """Say which places lie within a closed line."""
    x0, y0 = border.T
    x1, y1 = np.roll(border, -1, axis=0).T
    x, y = places[:, 0, None], places[:, 1, None]
    over = (y0 > y) != (y1 > y)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = x < (x1 - x0) * (y - y0) / (y1 - y0) + x0
    return np.asarray((over & crossing).sum(axis=1) % 2 == 1)


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
