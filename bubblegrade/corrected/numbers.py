"""A corrected casting: every number anew, by the functions that grading uses.

Of what only the photograph tells, two things are carried over: the veil, which is the haze of the whole, and the
share of the judged area that lies behind flakes and hardware, which an area left out is taken to have as well. The
cover changes by the silhouettes of the voids that come, go or change, as far as they lie in the judged area.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.curved import Magnified, magnified
from bubblegrade.corrected.changes import Corners, LeftOut, Scaled, Step, Zone
from bubblegrade.corrected.finds import BY_HAND_ERR_PX, Find, State, changed_finds, voids_of
from bubblegrade.grading.clarity import Clarity, clarity
from bubblegrade.grading.counting import frame_weights, poisson_interval
from bubblegrade.grading.distribution import Histogram, size_histogram
from bubblegrade.grading.remarks import SPAN_CUT, remarks
from bubblegrade.grading.sizes import SizeSummary, summarise
from bubblegrade.grading_run import Casting, NotJudged
from bubblegrade.inspection.finds import discs_px
from bubblegrade.inspection.seen import filled
from bubblegrade.inspection.shapes import inside
from bubblegrade.photo.scale import Scale, SpanPx, scale_from_span
from bubblegrade.settings import Settings
from bubblegrade.voids.detecting import Found
from bubblegrade.voids.missed import hidden_share
from bubblegrade.voids.table import Voids

BY_HAND: Final = "left out by hand"  # the part of a casting that a person does not want judged
GRID_SIDE_PX: Final = 800  # of the grid's longer side on which areas are summed


@dataclass(frozen=True)
class ZoneCount:
    """Counted voids of a zone, with the exact limits of the count at 95 %, the upper one with the unsure finds."""

    zone: Zone
    count: int
    low: float
    high: float
    largest_px: float  # NaN where there is none


@dataclass(frozen=True, eq=False)
class Corrected:
    """A casting after a person's corrections."""

    casting: Casting
    finds: tuple[Find, ...]
    zones: tuple[ZoneCount, ...]
    left_out: tuple[Corners, ...]


@dataclass(frozen=True)
class Basis:
    """What grading was told, which the numbers depend on."""

    settings: Settings
    whole: bool  # the frame was judged, without an outline


def applied(casting: Casting, steps: Sequence[Step], basis: Basis) -> Corrected:
    """Return `casting` after the changes of `steps`, all of which hold, with every number anew.

    Raises
    ------
    InputError
        The scale that follows is absurd.
    """
    finds = changed_finds(casting, steps)
    voids, aside = voids_of(finds, State.COUNTED), voids_of(finds, State.SET_ASIDE)
    areas = tuple(step.did.corners for step in steps if isinstance(step.did, LeftOut))
    left = casting.judged_area_px * _left_out_share(casting, areas)
    area = casting.judged_area_px - left
    scale, span, curve = _scaled(casting, steps, basis)
    sizes, histogram = sized(casting, voids, aside, basis)
    again = replace(
        casting,
        scale=scale,
        span_px=span,
        magnified=curve,
        judged_area_px=area,
        hidden_share=hidden_share(voids.diameter_px, area),
        not_judged=(*casting.not_judged, NotJudged(BY_HAND, left)) if areas else casting.not_judged,
        voids=voids,
        set_aside=aside,
        sizes_px=sizes,
        histogram_px=histogram,
        clarity=_clarity(casting, finds, (voids, aside), area, basis.settings),
    )
    zones = tuple(_counted(step.did, voids, aside) for step in steps if isinstance(step.did, Zone))
    return Corrected(replace(again, warnings=_warnings(casting, again)), finds, zones, areas)


def sized(casting: Casting, voids: Voids, aside: Voids, basis: Basis) -> tuple[SizeSummary, Histogram]:
    """Return the sizes of `voids`, `aside` set aside, and their distribution, as grading sums them up."""
    smallest, weights = casting.sizes_px.smallest, None
    if basis.whole:
        voids = voids[~voids.cut]
        rows, cols = casting.shape_px
        weights = frame_weights(voids.diameter_px, voids.diameter_px, width=cols, height=rows)
    seed = int(casting.sha256[:8], 16)
    sizes = summarise(
        voids.diameter_px, voids.diameter_err_px, smallest=smallest, seed=seed, weights=weights,
        doubtful=aside.unsure_px,
    )  # fmt: skip
    countable = voids.diameter_px >= smallest
    shown = size_histogram(voids.diameter_px[countable], weights=None if weights is None else weights[countable])
    return sizes, shown


def _scaled(casting: Casting, steps: Sequence[Step], basis: Basis) -> tuple[Scale | None, SpanPx | None, Magnified]:
    """Return the scale, its span, and by how much voids look larger; as graded where nobody has set two points."""
    spans = [step.did.span for step in steps if isinstance(step.did, Scaled)]
    if not spans:
        return casting.scale, casting.span_px, casting.magnified
    span = spans[-1]
    scale = scale_from_span(span)
    if casting.scale is not None:  # the photograph was squared all the same
        was = casting.scale
        scale = replace(scale, enlarged=was.enlarged, enlarged_err=was.enlarged_err, enlarged_along=was.enlarged_along)
    points = (span.x_px, span.y_px), (span.other_x_px, span.other_y_px)
    if casting.magnified.by_form:
        return scale, points, casting.magnified
    outline = casting.outline_px
    share = 1.0
    if len(outline):
        whole = float(cv2.contourArea(outline.astype(np.float32)))
        share = casting.judged_area_px / max(whole, 1.0)
    curve = magnified(
        outline,
        judged_share=share,
        thickness_px=casting.thickness_mm / scale.mm_per_px if casting.thickness_mm else None,
        index=basis.settings.index,
    )
    return scale, points, curve


def _clarity(
    casting: Casting, finds: Sequence[Find], tables: tuple[Voids, Voids], area_px: float, settings: Settings
) -> Clarity:
    """Return the clarity after the voids that come, go or change; as graded where none does."""
    before, (voids, aside) = casting.clarity, tables
    by_hand = [find for find in finds if find.who and find.state is State.COUNTED]
    if not area_px > 0.0:
        unknown = math.nan
        return Clarity(unknown, unknown, unknown, unknown, unknown, grades=settings.grades)
    came = _covered_px(casting, voids) - _covered_px(casting, casting.voids)
    unsure = _silhouettes_px(aside.unsure_px)
    as_graded = came == 0.0 and unsure == _silhouettes_px(casting.set_aside.unsure_px)
    if not by_hand and as_graded and area_px == casting.judged_area_px:
        return before
    cover = min(max((before.cover * casting.judged_area_px + came) / area_px, 0.0), 1.0)
    stays = voids_of((find for find in finds if not find.who), State.COUNTED)
    of_all = _doubt_px(casting.voids)
    kept = before.cover_err * casting.judged_area_px * (_doubt_px(stays) / of_all if of_all else 1.0)
    err = math.hypot(kept, *(math.pi / 2 * find.diameter_px * BY_HAND_ERR_PX for find in by_hand)) / area_px
    smallest = casting.sizes_px.smallest
    return clarity(
        (cover, err),
        (before.veil, before.veil_err),
        diameters=voids.diameter_px,
        smallest_share=min(math.pi / 4 * smallest**2 / max(area_px, 1.0), 1.0),
        perhaps=min(unsure / max(area_px, 1.0), 1.0),
        grades=settings.grades,
    )


def _covered_px(casting: Casting, voids: Voids) -> float:
    """Return the area of all silhouettes as far as they lie where the casting is judged."""
    judged, step = _judged(casting)
    col, row = np.moveaxis(np.rint((discs_px(voids.x_px, voids.y_px, voids.diameter_px) + 0.5) / step - 0.5), -1, 0)
    within = (row >= 0) & (row < judged.shape[0]) & (col >= 0) & (col < judged.shape[1])
    within[within] = judged[row[within].astype(int), col[within].astype(int)]
    return float(np.pi / 4 * np.sum(within.mean(axis=1) * voids.diameter_px**2))


def _doubt_px(voids: Voids) -> float:
    """Return what the diameters' uncertainties together make of the silhouettes' area, without their common factor."""
    return float(np.nansum(voids.diameter_px * voids.diameter_err_px))


def _silhouettes_px(diameters_px: NDArray[np.float64]) -> float:
    """Return the area of all silhouettes of these diameters, (n,)."""
    return float(np.pi / 4 * np.sum(diameters_px**2))


def _judged(casting: Casting) -> tuple[NDArray[np.bool_], int]:
    """Return the squares that are judged, (rows, cols), and their side in px."""
    step = max(1, math.ceil(max(casting.shape_px) / GRID_SIDE_PX))
    rows, cols = (-(-side // step) for side in casting.shape_px)
    return filled(casting.judged_px, (rows, cols), step), step


def _left_out_share(casting: Casting, areas: Sequence[Corners]) -> float:
    """Return the share of the judged area that lies in `areas`."""
    judged, step = _judged(casting)
    if not areas or not judged.any():
        return 0.0
    down, across = np.nonzero(judged)
    middles = np.asarray((np.stack([across, down], axis=1) + 0.5) * step - 0.5, np.float64)
    out = np.any([inside(middles, np.array(corners)) for corners in areas], axis=0)
    return float(out.mean())


def _counted(zone: Zone, voids: Voids, aside: Voids) -> ZoneCount:
    """Return how many voids have their centre in a zone; those set `aside` that are unsure move the upper limit."""
    corners = np.array(zone.corners)
    counted, perhaps = (
        some[inside(np.stack([some.x_px, some.y_px], axis=1), corners)]
        for some in (voids, aside[aside.kind == "unsure"])
    )
    count, largest = len(counted), float(counted.diameter_px.max()) if len(counted) else math.nan
    low, high = poisson_interval(count)[0], poisson_interval(count + len(perhaps))[1]
    return ZoneCount(zone, count, float(low), float(high), largest)


def _warnings(before: Casting, after: Casting) -> tuple[str, ...]:
    """Return the warnings that come from the photograph itself, and anew those on the numbers."""
    old = {*before.sizes_px.warnings, *_remarks(before)}
    kept = [warning for warning in before.warnings if warning not in old]
    return (*kept, *after.sizes_px.warnings, *_remarks(after))


def _remarks(casting: Casting) -> tuple[str, ...]:
    found = Found(
        casting.voids, casting.set_aside, np.zeros((0, 0), bool), casting.lighting, casting.noise,
        casting.sizes_px.smallest,
    )  # fmt: skip
    return remarks(
        found, casting.scale, casting.magnified, casting.fitness, edge_px=casting.outline_px,
        thickness_mm=casting.thickness_mm, lengths_said=SPAN_CUT in casting.warnings,
    )  # fmt: skip
