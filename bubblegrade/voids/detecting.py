"""From darkness to a table of voids: candidates, fits, the photograph's light, and the judgement on each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade import optics
from bubblegrade.casting.outline import Mask, Outline
from bubblegrade.casting.transmittance import clear_transmittance
from bubblegrade.settings import Settings
from bubblegrade.voids.before_hardware import before_hardware, coloured
from bubblegrade.voids.beside_hardware import doubt_beside, unsure_before
from bubblegrade.voids.border import Border, amid_resin
from bubblegrade.voids.company import company_of, learned_company
from bubblegrade.voids.cores import steepness_of, telling_cores
from bubblegrade.voids.countable import smallest_countable_px
from bubblegrade.voids.features import Looks, looks_of
from bubblegrade.voids.finding import Candidates, find_candidates, first_of_twins, noise_of, pyramid_of
from bubblegrade.voids.fitting import CLOSER, COARSE, FINE, Fits, Image, fit_rings
from bubblegrade.voids.judging import Verdicts, learned_judge, softened
from bubblegrade.voids.kinds import set_aside, solid_of, with_wires
from bubblegrade.voids.lighting import Lighting, Told, in_focus, measure_lighting, telling_rings, usual_lighting
from bubblegrade.voids.mark_looks import Scenery
from bubblegrade.voids.marks import Marks, find_marks
from bubblegrade.voids.middles import held_to_optics
from bubblegrade.voids.naming import learned_namer
from bubblegrade.voids.sieving import begun_looks, learned_sieve
from bubblegrade.voids.table import Voids, apart, stacked

Codes = NDArray[np.uint8] | NDArray[np.uint16]

LARGEST_SHARE: Final = 1 / 3  # of the casting's size: the largest void looked for
LEAST_SEEN: Final = 0.28  # share of the circumference that must vote for a candidate
MARGIN: Final = 2  # coarse px around the judged area in which edges may vote
SAME_CENTRE, SAME_SIZE = 0.2, 1.15  # fits nearer than this (radii) and alike within this ratio have met on one ring
TWIN_CENTRE, TWIN_SIZE = 0.5, 1.7  # accepted finds nearer than this (radii) and alike within this ratio are one
BENT_DOUBT: Final = 0.012  # of a diameter: an index not told is 0.03 off, at 0.41 % per 0.01 (benchmarks/README.md)
MODEL_ERR: Final = 0.004  # of a diameter: what no ring meets, such as the light's own shape; large voids show it
ENOUGH_VOIDS: Final = 5  # that tell how dark the voids of a photograph are
HALF_PIXEL: Final = 0.5  # from a pixel's centre to its edge
REACH_95: Final = 1.96  # standard uncertainties from a diameter to the end of its 95 % interval
RING: Final = "dark ring with a bright core"
PASSES_ALL: Final = "dark ring whose middle takes no light, as a void's takes some: paint, metal or a drop"
EDGE_10_90: Final = 2.563  # 10 to 90 % width of a Gaussian edge over its standard deviation


@dataclass(frozen=True, eq=False)
class Found:
    """Everything found in one photograph."""

    voids: Voids
    set_aside: Voids
    aside: Mask  # (rows, cols) of the rectangle around the judged area: pixels of marks that are no voids
    lighting: Lighting
    noise: float
    smallest_px: float  # smallest countable diameter
    index_err_share: float = 0.0  # of every diameter's uncertainty, that of an index not told
    steepness: float = float("nan")  # of the tones, as the middles of the voids show it; NaN where they do not


@dataclass(frozen=True, eq=False)
class Begun:
    """Candidates fitted coarsely, with what the sieve looks at."""

    pyramid: list[Image]
    fits: Fits
    looks: NDArray[np.float32]
    border: Border
    noise: float


@dataclass(frozen=True, eq=False)
class Fitted:
    """Candidates fitted to the photograph, with what the judge looks at."""

    fits: Fits
    looks: Looks
    border: Border
    border_px: NDArray[np.float32]  # distance of each from it
    mean_darkness: float  # of a void's silhouette in this light
    lighting: Lighting
    noise: float


def find_voids(
    darkness: Image, codes: Codes, outline: Outline, settings: Settings, *, disc_px: Told = in_focus
) -> Found:
    """Return the voids in a picture of darkness, (rows, cols), and what else; lighting.py asks for `disc_px`."""
    fitted = fitted_candidates(darkness, codes, outline, settings, disc_px=disc_px)
    verdicts, whole = verdicts_on(fitted, codes, outline, settings)
    voids, accepted = _listed(fitted, verdicts, outline, settings, darkness.shape)
    marks = _marks(darkness, codes, outline, fitted, verdicts, voids, accepted)
    doubtful = _unsure(fitted, verdicts, whole, voids, settings, darkness.shape)
    top, left, _ = outline.judged_box
    border_of, casting_px = fitted.border.within(left, top).at, float(np.sqrt(outline.area_px))
    likely = with_wires(marks, learned_namer()(marks.features), border_of, casting_px)
    others, aside = set_aside(marks, likely, doubtful.moved(-left, -top))
    solid = solid_of(marks, likely)
    in_front = _in_front(darkness, codes, solid, outline, fitted, voids)
    in_front = in_front[apart(in_front, doubtful[doubtful.reason == PASSES_ALL])]  # the middles of painted rings
    index_err = BENT_DOUBT if outline.bent and not settings.index_stated else 0.0
    voids = voids.doubted(doubt_beside(solid, voids.moved(-left, -top))).doubted(index_err)
    voids = voids.doubted(fitted.lighting.doubt(voids.diameter_px))
    voids, others = _joined(voids, others.moved(left, top), in_front, settings)
    voids, others = unsure_before(outline.holds(outline.well_opaque, voids.x_px, voids.y_px), voids, others)
    told = voids.contrast[np.isfinite(voids.contrast)]
    contrast = float(np.median(told)) if len(told) >= ENOUGH_VOIDS else fitted.mean_darkness
    countable = smallest_countable_px(contrast, fitted.noise, fitted.lighting.blur_px)
    return Found(
        voids=voids, set_aside=others, aside=aside, lighting=fitted.lighting, noise=fitted.noise,
        smallest_px=max(settings.smallest_px, countable), steepness=_steepness(fitted, accepted, settings),
        index_err_share=index_err,
    )  # fmt: skip


def left_marks(darkness: Image, codes: Codes, outline: Outline, settings: Settings) -> Marks:
    """Return the dark marks of a photograph that its counted voids leave unexplained."""
    fitted = fitted_candidates(darkness, codes, outline, settings)
    verdicts, _ = verdicts_on(fitted, codes, outline, settings)
    listed = _listed(fitted, verdicts, outline, settings, darkness.shape)
    top, left, _ = outline.judged_box
    return _marks(darkness, codes, outline, fitted, verdicts, *listed).placed((top, left), darkness.shape)


def fitted_candidates(
    darkness: Image, codes: Codes, outline: Outline, settings: Settings, *, disc_px: Told = in_focus
) -> Fitted:
    """Return the candidates of a photograph that are worth it, fitted and described."""
    begun = begun_candidates(darkness, outline, settings)
    fits = _apart(begun.fits[learned_sieve()(begun.looks)])
    lighting = _lighting(begun, fits, settings, disc_px)
    table = lighting.table(index=settings.index)
    known = optics.ring_share(usual_lighting(index=settings.index).theta) / optics.ring_share(lighting.theta)
    start = replace(fits, radius_px=fits.radius_px * np.float32(known))  # the ring's edge stays where it was
    fits = fit_rings(begun.pyramid, start, table, blur_px=lighting.blur_px, noise=begun.noise, pace=FINE)
    border_px = begun.border.at(fits.x_px, fits.y_px)
    looks = looks_of(
        begun.pyramid, fits, _eight_bits(codes), lighting=lighting, noise=begun.noise, border_px=border_px,
        index=settings.index,
    )  # fmt: skip
    return Fitted(
        fits=fits, looks=looks, border=begun.border, border_px=border_px, mean_darkness=table.mean_darkness,
        lighting=lighting, noise=begun.noise,
    )  # fmt: skip


def verdicts_on(fitted: Fitted, codes: Codes, outline: Outline, settings: Settings) -> tuple[Verdicts, Mask]:
    """Return what is learned of each candidate, alone and in company, held to optics; and which take no light."""
    looks, alone = fitted.looks, learned_judge()(fitted.looks)
    verdicts = learned_company()(company_of(fitted.fits, looks.numbers, alone), alone)
    passes, blur_px = clear_transmittance(outline), fitted.lighting.blur_px
    return held_to_optics(verdicts, fitted.fits, looks.rays, codes, settings, blur_px=blur_px, passes=passes)


def begun_candidates(darkness: Image, outline: Outline, settings: Settings) -> Begun:
    """Return all candidates of a photograph, fitted coarsely, as if its light were the usual one."""
    *_, box = outline.judged_box
    noise = noise_of(darkness[box], outline.enlarged(outline.clear, box))
    largest = LARGEST_SHARE / 2 * float(np.sqrt(outline.area_px))
    pyramid = pyramid_of(darkness, largest_radius_px=largest)
    size = 2 * MARGIN + 1
    where = cv2.dilate(outline.judged.astype(np.uint8), np.ones((size, size), np.uint8)).astype(bool)
    candidates = find_candidates(pyramid, outline.enlarged(where), least_seen=LEAST_SEEN)
    usual = usual_lighting(index=settings.index)
    table = usual.table(index=settings.index)
    start = _started(candidates, optics.ring_share(usual.theta))
    start = start[~outline.holds(outline.opened, start.x_px, start.y_px)]  # the border of an opening is no ring
    fits = fit_rings(pyramid, start, table, blur_px=usual.blur_px, noise=noise, pace=COARSE)
    border = Border.of(outline)
    looks = begun_looks(start, fits, noise=noise, border_px=border.at(fits.x_px, fits.y_px))
    return Begun(pyramid=pyramid, fits=fits, looks=looks, border=border, noise=noise)


def _lighting(begun: Begun, fits: Fits, settings: Settings, disc_px: Told) -> Lighting:
    """Return the photograph's light from some of its rings, fitted well for a start."""
    usual = usual_lighting(index=settings.index)
    table = usual.table(index=settings.index)
    telling = fits[telling_rings(fits)]
    told = fit_rings(begun.pyramid, telling, table, blur_px=usual.blur_px, noise=begun.noise, pace=CLOSER)
    return measure_lighting(begun.pyramid, told, noise=begun.noise, index=settings.index, disc_px=disc_px)


def _started(candidates: Candidates, ring_share: float) -> Fits:
    """Return fits that start at the candidates."""
    nothing = np.zeros_like(candidates.x_px)
    radius = candidates.edge_radius_px / np.float32(ring_share)
    return Fits(
        x_px=candidates.x_px, y_px=candidates.y_px, radius_px=radius, radius_err_px=nothing, blur_px=nothing,
        depth=nothing, level=nothing, explained=nothing, agreeing=nothing, seen=candidates.seen,
    )  # fmt: skip


def _apart(fits: Fits) -> Fits:
    """Return the best of the fits that have met on one ring."""
    fits = fits[np.argsort(-fits.explained, kind="stable")]
    return fits[first_of_twins(fits.x_px, fits.y_px, fits.radius_px, centre=SAME_CENTRE, size=SAME_SIZE)]


def _listed(
    fitted: Fitted, verdicts: Verdicts, outline: Outline, settings: Settings, shape: tuple[int, ...]
) -> tuple[Voids, Mask]:
    """Return the voids, and which candidates were accepted."""
    accepted = verdicts.likely >= settings.accept
    fits, log_ratio = fitted.fits[accepted], verdicts.log_ratio[accepted]
    accepted[accepted] = amid_resin(outline, fits.x_px, fits.y_px, fits.radius_px * np.exp(log_ratio))
    voids = _table(fitted, verdicts, accepted, shape, np.full(len(accepted), RING))
    # All that may be large enough to count are listed, lest half of those of just the smallest size be missing.
    return voids[voids.diameter_px + REACH_95 * voids.diameter_err_px >= settings.smallest_px], accepted


def _steepness(fitted: Fitted, accepted: Mask, settings: Settings) -> float:
    """Return how steep the tones are by the accepted candidates that tell it, each void once."""
    rows = np.flatnonzero(accepted & telling_cores(fitted.fits))
    fits = fitted.fits[rows]
    alone = first_of_twins(fits.x_px, fits.y_px, fits.radius_px, centre=TWIN_CENTRE, size=TWIN_SIZE)
    return steepness_of(fits[alone], fitted.looks.rays[rows[alone]], fitted.lighting, index=settings.index)


def _marks(
    darkness: Image, codes: Codes, outline: Outline, fitted: Fitted,
    verdicts: Verdicts, voids: Voids, accepted: Mask,
) -> Marks:  # fmt: skip
    """Return the dark marks that the counted voids leave unexplained, in px of the rectangle around the judged area."""
    top, left, box = outline.judged_box
    scenery = Scenery(
        darkness=darkness[box],
        codes=_eight_bits(codes[box]),
        judged=outline.enlarged(outline.judged, box),
        casting_px=float(np.sqrt(outline.area_px)),
        lighting=fitted.lighting,
        noise=fitted.noise,
    )
    rest = np.flatnonzero(~accepted)
    fits = fitted.fits[rest]
    fits = replace(fits, x_px=fits.x_px - np.float32(left), y_px=fits.y_px - np.float32(top))
    return find_marks(scenery, voids.moved(-left, -top), fits, verdicts[rest])


def _table(
    fitted: Fitted, verdicts: Verdicts, chosen: Mask, shape: tuple[int, ...], reasons: NDArray[np.str_]
) -> Voids:
    """Return the chosen finds as a table; of twins the one whose diameter is known best."""
    order = np.flatnonzero(chosen)
    order = order[np.argsort(verdicts.log_ratio_err[order], kind="stable")]
    fits = fitted.fits[order]
    diameter = 2.0 * fits.radius_px.astype(np.float64) * np.exp(verdicts.log_ratio[order])
    alone = first_of_twins(fits.x_px, fits.y_px, (diameter / 2).astype(np.float32), centre=TWIN_CENTRE, size=TWIN_SIZE)
    radius, edge_width = diameter / 2, EDGE_10_90 * fits.blur_px
    rows, cols = shape[:2]
    before = np.minimum(fits.x_px, fits.y_px) + HALF_PIXEL < radius
    cut = before | (fits.x_px + radius > cols - HALF_PIXEL) | (fits.y_px + radius > rows - HALF_PIXEL)
    table = Voids.of(
        x_px=fits.x_px,
        y_px=fits.y_px,
        diameter_px=diameter,
        diameter_err_px=diameter * np.hypot(softened(edge_width) * verdicts.log_ratio_err[order], MODEL_ERR),
        edge_width_px=edge_width,
        contrast=np.clip(fits.depth * fitted.mean_darkness, 0, 1),
        cut=cut,
        reason=reasons[order],
    )[alone]
    return table[np.lexsort((table.x_px, table.y_px))]


def _unsure(
    fitted: Fitted, verdicts: Verdicts, whole: Mask, voids: Voids, settings: Settings, shape: tuple[int, ...]
) -> Voids:
    """Return what may be a void and what the judge names otherwise, away from the counted voids."""
    doubtful = (verdicts.likely < settings.accept) & (verdicts.likely >= settings.unsure) & (fitted.border_px > 0)
    table = _table(fitted, verdicts, doubtful, shape, np.where(whole, PASSES_ALL, "looks half like a void"))
    table = table[(table.diameter_px >= settings.smallest_px) & apart(table, voids)]
    return replace(table, kind=np.full(len(table), "unsure"))


def _in_front(darkness: Image, codes: Codes, solid: Mask, outline: Outline, fitted: Fitted, voids: Voids) -> Voids:
    """Return what is found in front of hardware, `solid` in the judged rectangle."""
    if not solid.any():
        return Voids.none()
    (top, left, box), lighting = outline.judged_box, fitted.lighting
    near, known = fitted.border.within(left, top).at, voids.moved(-left, -top)
    found = before_hardware(darkness[box], solid, known, near, blur_px=lighting.blur_px, noise=fitted.noise)
    return found[~coloured(_eight_bits(codes[box]), darkness[box], found)].moved(left, top)


def _joined(voids: Voids, others: Voids, found: Voids, settings: Settings) -> tuple[Voids, Voids]:
    """Return the voids, and what else was found, with what was found in front of hardware."""
    found = found[found.diameter_px >= settings.smallest_px]  # of smaller ones a third were none
    sure = found.kind == "void"
    others = stacked([others[(others.kind != "unsure") | apart(others, found)], found[~sure]])
    voids = stacked([voids, found[sure]])
    return voids[np.lexsort((voids.x_px, voids.y_px))], others


def _eight_bits(codes: Codes) -> NDArray[np.uint8]:
    return np.asarray(codes if codes.dtype == np.uint8 else codes >> 8, np.uint8)
