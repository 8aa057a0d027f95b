"""The conductor: a photograph and settings become a graded casting. Only here is the order of the steps known."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.flattened import Flattened, blank_for, flattened
from bubblegrade.casting.outline import Outline, find_outline, whole_field
from bubblegrade.casting.transmittance import Squares, clear_level, clear_transmittance, darkened, darkness
from bubblegrade.errors import PhotoError
from bubblegrade.fitness.check import Fitness
from bubblegrade.fitness.checks import fitness_of
from bubblegrade.fitness.geometry import FIND_IT, LOST
from bubblegrade.fitness.sharpness import countable_px
from bubblegrade.fitness.softest import softest_place
from bubblegrade.fitness.tones import straightened_by, told_steepness, tone_doubt
from bubblegrade.fitness.view import View
from bubblegrade.grading.clarity import Clarity, clarity
from bubblegrade.grading.counting import frame_weights
from bubblegrade.grading.distribution import size_histogram
from bubblegrade.grading.record import Casting, NotJudged, Request
from bubblegrade.grading.remarks import left_out, on_opening, remarks
from bubblegrade.grading.ruler import check_beside, curve_of, scale_of
from bubblegrade.grading.sizes import summarise
from bubblegrade.photo.light import Codes, Light
from bubblegrade.photo.reading import Photo
from bubblegrade.photo.scale import Scale, SpanPx
from bubblegrade.settings import Settings
from bubblegrade.threads import both, worth_sharing
from bubblegrade.voids.again import begun_turn, find_turn, lies_still, middle_of, on_the_light, settled
from bubblegrade.voids.blurs import blurs_of, usual_blur_px
from bubblegrade.voids.cores import darkness_of
from bubblegrade.voids.detecting import Found, find_voids
from bubblegrade.voids.lost import LostLight, lost_light
from bubblegrade.voids.missed import hidden_share
from bubblegrade.voids.planting import measured_limit, plantable
from bubblegrade.voids.table import Voids

__all__ = ["Casting", "NotJudged", "Request", "grade"]

COMES_AGAIN: Final = 0.004  # of the casting's size: how near a find must come again after the turn
LEAST_VOIDS: Final = 5  # that speak for a casting whose outline is lost, in a ripple of the light for instance
USUAL_DEPTH: Final = 0.9  # of a ring over that of optics.py, where no void tells


@dataclass(frozen=True, eq=False)
class _Measured:
    """A photograph as far as it was measured."""

    photo: Photo
    light: Flattened
    outline: Outline
    darkness: Light
    found: Found


def grade(
    photo: Photo,
    request: Request,
    settings: Settings,
    *,
    blank: Light | None = None,
    again: Photo | None = None,
    scale: Scale | None = None,
    span_px: SpanPx | None = None,
) -> Casting:
    """Return the graded casting in `photo`.

    Parameters
    ----------
    photo
        As read.
    request
        Scale, thickness and what to judge.
    settings
        Tunable numbers.
    blank
        Linear light of the bare backlight, as the sensor saw it; None takes it from around the casting.
    again
        A second photograph, after the casting was wiped and turned, that settles what is dust.
    scale
        Measured beforehand, as from the scale card; None takes it from the request.
    span_px
        The ends of what gave that scale, where it can be shown.

    Raises
    ------
    PhotoError
        There is no light, no casting, the blank does not fit, or `again` does not show the same casting.
    InputError
        The scale that follows is absurd.
    """
    with worth_sharing(math.prod(photo.shape_px)):
        measured = _measured(photo, request, settings, blank_for(photo, blank))
        if span_px is not None:
            check_beside(measured.outline, span_px, name=measured.photo.name)
        turned = float("nan")
        if again is not None:
            measured, turned = _settled(measured, _measured(again, request, settings, blank_for(again, blank)))
        if request.planted:
            measured = _planted(measured, settings)
        return replace(_summed_up(measured, request, settings, scale, span_px), turned_degrees=turned)


def _measured(photo: Photo, request: Request, settings: Settings, blank: Light | None) -> _Measured:
    """Return the photograph measured; where its voids say that tones are steep or flat, with these straightened."""
    first = _measured_as_taken(photo, request, settings, blank)
    index, found = settings.index, first.found
    dark = darkness_of(found.voids, found.lighting, index=index)
    told = told_steepness(found.steepness, dark, lambda: clear_transmittance(first.outline), index=index)
    by = straightened_by(told)
    if by == 1.0:
        return replace(first, found=replace(found, steepness=told))
    even = None if blank is None else np.asarray(blank ** (1.0 / by), np.float32)
    measured = _measured_as_taken(photo.straightened(by), request, settings, even)
    voids = measured.found.voids.doubted(tone_doubt(by))
    return replace(measured, found=replace(measured.found, voids=voids, steepness=told))


def _measured_as_taken(photo: Photo, request: Request, settings: Settings, blank: Light | None) -> _Measured:
    """Return the photograph with its outline, darkness and everything found in it."""
    seen, dark = _outline_and_darkness(flattened(photo, blank), photo.codes, request)
    light = Flattened(photo, blank)
    outline = whole_field(light[:, :]) if seen is None else seen
    found = find_voids(dark, photo.shown, outline, settings, disc_px=lambda: View(photo, light, outline).disc_px)
    if seen is None and not request.whole and (len(found.voids) < LEAST_VOIDS or request.width_mm is not None):
        raise PhotoError(f"{photo.name}: {LOST}: {FIND_IT}")
    return _Measured(photo, light, outline, dark, found)


def _outline_and_darkness(light: Light, codes: Codes, request: Request) -> tuple[Outline | None, Light]:
    """Return the casting's outline, where one is looked for and found, and the darkness, in place of the light."""
    seen, squares = both(lambda: None if request.whole else find_outline(light, codes), lambda: Squares.of(light))
    return seen, darkened(light, clear_level(squares, seen), squares.side_px)


def _settled(first: _Measured, later: _Measured) -> tuple[_Measured, float]:
    """Return the first photograph with its finds settled by the later one, and the turn in degrees."""
    edges, shapes = ((first.outline.edge_px, later.outline.edge_px), (first.photo.shape_px, later.photo.shape_px))
    size = float(np.sqrt(first.outline.area_px))
    turn = find_turn(
        first.found.voids, later.found.voids,
        begun=begun_turn(edges, shapes), middle=middle_of(edges[0], shapes[0]), size_px=size,
    )  # fmt: skip
    if turn is None:
        raise PhotoError(
            f"{later.photo.name} does not show the voids of {first.photo.name}: photograph the same casting again"
        )
    still, near = on_the_light(turn, shapes), COMES_AGAIN * size * abs(turn.scale_turn)
    if lies_still(first.found.voids, turn, still, near_px=near):
        raise PhotoError(
            f"{later.photo.name} shows the casting where it lies in {first.photo.name}: what lies on the light would "
            "seem to turn with it, so turn the casting by a quarter between the photographs"
        )
    voids, aside = settled(
        first.found.voids, first.found.set_aside, later.found.voids, later.found.set_aside, (turn, still),
        near_px=near, shape_px=shapes[1],
    )  # fmt: skip
    return replace(first, found=replace(first.found, voids=voids, set_aside=aside)), turn.degrees


def _planted(measured: _Measured, settings: Settings) -> _Measured:
    """Return the photograph with its smallest countable size measured by planting."""
    found, outline, lighting = measured.found, measured.outline, measured.found.lighting
    contrast = found.voids.contrast[np.isfinite(found.voids.contrast)]
    table = lighting.table(index=settings.index)
    depth = float(np.median(contrast)) / table.mean_darkness if len(contrast) else USUAL_DEPTH
    spots = plantable(outline.full(outline.clear), found.voids, seed=int(measured.photo.sha256[:8], 16))

    def find(light: Light) -> Voids:
        dark = darkness(light, outline)
        return find_voids(dark, measured.photo.shown, outline, settings, disc_px=lambda: lighting.disc_px).voids

    limit = measured_limit(measured.light[:, :], spots, find, table, blur_px=lighting.blur_px, depth=depth).limit_px
    if np.isnan(limit):
        raise PhotoError(
            f"{measured.photo.name}: even planted voids of 14 px are not found, so blurred or so full it is: "
            "photograph it sharper, or grade it without --plant"
        )
    return replace(measured, found=replace(found, smallest_px=max(limit, settings.smallest_px)))


def _summed_up(
    measured: _Measured, request: Request, settings: Settings, known: Scale | None, known_span: SpanPx | None
) -> Casting:
    """Return the numbers of a measured photograph."""
    photo, outline, dark = measured.photo, measured.outline, measured.darkness
    scale, span = (
        scale_of(outline, request, index=settings.index, name=photo.name) if known is None else (known, known_span)
    )
    curve = curve_of((outline, dark, measured.found.voids), request, scale, index=settings.index, name=photo.name)
    lost, fitness = both(
        lambda: _lost(measured), lambda: _fitness(measured, request, settings, scale, squared=request.card is not None)
    )
    found = replace(measured.found, smallest_px=max(measured.found.smallest_px, countable_px(fitness)))
    sized, weights = _sized(found.voids, photo.shape_px, whole=request.whole)
    sizes = summarise(
        sized.diameter_px, sized.diameter_err_px, smallest=found.smallest_px, seed=int(photo.sha256[:8], 16),
        weights=weights, doubtful=found.set_aside.unsure_px,
    )  # fmt: skip
    countable = sized.diameter_px >= found.smallest_px
    counted = None if weights is None else weights[countable]
    return Casting(
        photo=photo.name, sha256=photo.sha256, shape_px=photo.shape_px,
        scale=scale, span_px=span, outline_px=outline.edge_px, judged_px=outline.borders_px,
        judged_area_px=float(lost.area_px),
        hidden_share=hidden_share(found.voids.diameter_px, lost.area_px),
        magnified=curve,
        turned_degrees=float("nan"), index_err_share=found.index_err_share,
        not_judged=left_out(outline, found), passes=clear_transmittance(outline),
        noise=found.noise, lighting=found.lighting, voids=found.voids, set_aside=found.set_aside,
        sizes_px=sizes, histogram_px=size_histogram(sized.diameter_px[countable], weights=counted),
        clarity=_clarity(found, lost, settings),
        thickness_mm=request.thickness_mm, fitness=fitness,
        noted=photo.noted,
        warnings=(
            *photo.warnings,
            *on_opening(outline),
            *sizes.warnings,
            *remarks(found, scale, curve, fitness, edge_px=outline.edge_px,
                     thickness_mm=request.thickness_mm, lengths_said=request.is_scaled),
        ),
    )  # fmt: skip


def _fitness(
    measured: _Measured, request: Request, settings: Settings, scale: Scale | None, *, squared: bool
) -> Fitness:
    """Return how fit the photograph, `squared` to what gave its scale or not, is to measure."""
    photo, height = measured.photo, (request.card or request.disc or request).camera_height_mm
    return fitness_of(
        View(
            photo=photo,
            light=measured.light,
            outline=measured.outline,
            whole=request.whole,
            mm_per_px=np.nan if scale is None else scale.mm_per_px,
            thickness_mm=np.nan if request.thickness_mm is None else request.thickness_mm,
            camera_height_mm=np.nan if height is None else height,
            focal_35mm=np.nan if squared else photo.noted.focal_35mm,  # squaring changes the angle of view
            index=settings.index,
            graded=True,
            blur_px=usual_blur_px(measured.found),
            softest=softest_place(*blurs_of(measured.found.voids)),
            steepness=measured.found.steepness,
        )
    )


def _lost(measured: _Measured) -> LostLight:
    """Return the light that voids take in a measured photograph."""
    outline, found = measured.outline, measured.found
    top, left, box = outline.judged_box
    return lost_light(
        measured.darkness[box],
        found.voids.moved(-left, -top),
        found.aside,
        outline.enlarged(outline.judged, box),
        speckable=outline.enlarged(outline.well_inside, box),
        noise=found.noise,
        smallest_px=found.smallest_px,
    )


def _clarity(found: Found, lost: LostLight, settings: Settings) -> Clarity:
    """Return the clarity of a photograph by the light that its voids take."""
    return clarity(
        (lost.cover, lost.cover_err),
        (lost.veil, lost.veil_err),
        diameters=found.voids.diameter_px,
        smallest_share=_share(np.array([found.smallest_px]), lost.area_px),
        perhaps=_share(found.set_aside.unsure_px, lost.area_px),
        grades=settings.grades,
    )


def _share(diameters_px: NDArray[np.float64], area_px: float) -> float:
    """Return the share of an area that discs of these diameters, (N,), cover."""
    return min(float(np.pi / 4 * np.sum(diameters_px**2)) / max(area_px, 1.0), 1.0)


def _sized(voids: Voids, shape_px: tuple[int, int], *, whole: bool) -> tuple[Voids, NDArray[np.float64] | None]:
    """Return the voids whose sizes are summed up, and, where the frame is judged, their weights.

    Those that it cuts have no size, large ones the likeliest: whole ones weigh more, after Miles and Lantuejoul.
    """
    if not whole:
        return voids, None
    uncut = voids[~voids.cut]
    return uncut, frame_weights(uncut.diameter_px, uncut.diameter_px, width=shape_px[1], height=shape_px[0])
