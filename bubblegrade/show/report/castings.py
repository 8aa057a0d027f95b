"""The report of graded castings: each photograph with its marks, sizes, clarity, fitness, what was left out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np

from bubblegrade.fitness.check import Verdict
from bubblegrade.grading.estimate import Estimate
from bubblegrade.grading_run import Casting
from bubblegrade.photo.light import Codes
from bubblegrade.settings import Settings
from bubblegrade.show.counted_from import counted_from, unlike_counts
from bubblegrade.show.fitness_words import WORST_FIRST, limit_words
from bubblegrade.show.marked import in_colour
from bubblegrade.show.plot_distribution import Distribution, sizes_in_classes
from bubblegrade.show.report.page import Block, Page, Photograph, Plot, Rows, Section, Spot, Words
from bubblegrade.show.size_classes import size_classes
from bubblegrade.show.words import area, length, percent, rounded, score
from bubblegrade.units import count_of
from bubblegrade.voids.table import Voids

WIDEST_PX: Final = 1200  # of a photograph in the report
QUALITY: Final = 82  # of its JPEG
MARGIN_PX: Final = 2.0  # of a mark around a void
LEAST_RADIUS_PX: Final = 4.0
BORDER_POINTS: Final = 400  # of a border as drawn


@dataclass(frozen=True, eq=False)
class Shown:
    """A casting and the photograph that its marks lie on."""

    casting: Casting
    jpeg: bytes
    width: int
    height: int
    zoom: float  # px shown per px of the photograph


def shown(casting: Casting, codes: Codes) -> Shown:
    """Return a casting with its photograph, made small enough to be passed on."""
    full = in_colour(codes)
    zoom = min(1.0, WIDEST_PX / full.shape[1])
    picture = full if zoom == 1.0 else cv2.resize(full, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    done, data = cv2.imencode(".jpg", picture, [int(cv2.IMWRITE_JPEG_QUALITY), QUALITY])
    assert done  # noqa: S101 - a picture of 8 bits can be encoded
    return Shown(casting, data.tobytes(), picture.shape[1], picture.shape[0], zoom)


def castings_page(
    castings: Sequence[Shown], *, not_graded: Sequence[tuple[str, str]], settings: Settings, version: str
) -> Page:
    """Return the report of graded castings; `not_graded` are photographs without a result, and why."""
    sections = [Section(one.casting.photo, _blocks(one)) for one in castings]
    if len(castings) > 1:
        unlike = unlike_counts(counted_from(one.casting) for one in castings)
        overview = _overview([one.casting for one in castings])
        sections.insert(0, Section("All photographs", (overview, *(Words(said, "note") for said in unlike))))
    if not_graded:
        rows = Rows("Not graded", ("photograph", "why"), tuple(not_graded))
        sections.append(Section("Photographs without a result", (rows,)))
    sections.append(Section("Settings", (_settings(settings),)))
    title = castings[0].casting.photo if len(castings) == 1 else f"{len(castings)} castings"
    verdict = _verdict([one.casting for one in castings])
    return Page(f"Voids in {title}", verdict, tuple(sections), cautions=(), version=version)


def _verdict(castings: Sequence[Casting]) -> str:
    """Return the whole report in a sentence."""
    unfit = sum(bool(casting.unfit) for casting in castings)
    said = f" {count_of(unfit, 'photograph')} of {len(castings)} unfit to measure." if unfit else ""
    if len(castings) == 1:
        return f"{_found(castings[0])}.{said}"
    total = sum(casting.count for casting in castings)
    scores = [casting.clarity.score for casting in castings if math.isfinite(casting.clarity.score)]
    between = f", clarity {min(scores):.0f} to {max(scores):.0f}" if scores else ""
    return f"{count_of(total, 'void')} in {len(castings)} castings{between}.{said}"


def _found(casting: Casting) -> str:
    clarity = casting.clarity
    words = f"{count_of(casting.count, 'void')}, clarity {score(clarity)} {clarity.word}".rstrip()
    return f"{words}, largest {length(casting.sizes_px.largest.value, casting)}" if casting.count else words


def _overview(castings: Sequence[Casting]) -> Rows:
    headings = ("photograph", "voids", "largest", "median", "clarity", "word", "judged", "fit to measure")
    cells = tuple(
        (
            casting.photo,
            str(casting.count),
            length(casting.sizes_px.largest.value, casting),
            length(casting.sizes_px.d50_number.value, casting),
            score(casting.clarity),
            casting.clarity.word,
            area(casting.judged_area_px, casting),
            "no" if casting.unfit else "yes",
        )
        for casting in castings
    )
    return Rows("Castings", headings, cells)


def _blocks(one: Shown) -> tuple[Block, ...]:
    """Return one casting's part."""
    casting = one.casting
    blocks: list[Block] = [Words(f"Unfit to measure: {reason}", "alarm") for reason in casting.unfit]
    blocks += [Words(f"{_found(casting)}.", "lead"), _photograph(one)]
    blocks += [Words(warning, "note") for warning in casting.warnings]
    sizes = sizes_in_classes(distribution(casting)).svg
    blocks += [Plot(sizes, _distribution_words(casting), whole=True), _numbers(casting)]
    if casting.not_judged:
        parts = tuple((part.reason, area(part.area_px, casting)) for part in casting.not_judged)
        blocks.append(Rows("Not judged", ("part", "area"), parts))
    return (*blocks, _fitness(casting), _voids(casting), _aside(casting))


def _photograph(one: Shown) -> Photograph:
    """Return the photograph with a mark for everything found."""
    casting, zoom = one.casting, one.zoom
    classes = size_classes(casting)
    look = np.zeros(len(casting.voids), int)
    for number, group in enumerate(classes):
        look[group.members] = number
    order = np.argsort(-casting.voids.diameter_px, kind="stable")
    spots = [_spot(casting, row, f"size-{look[row]}", zoom) for row in order]
    aside = casting.set_aside
    for row in range(len(aside)):
        kind = str(aside.kind[row])
        at = _placed(aside, row, zoom)
        spots.append(Spot(*at, "unsure" if kind == "unsure" else "aside", f"{kind}: {aside.reason[row]}"))
    legend = [(f"size-{n}", f"{g.label}: {int(g.members.sum())}") for n, g in enumerate(classes) if g.members.any()]
    unsure = casting.unsure_count
    legend += [("unsure", f"unsure: {unsure}")] if unsure else []
    legend += [("aside", f"no void: {len(aside) - unsure}")] if len(aside) > unsure else []
    borders = tuple(tuple(map(tuple, thinned(border) * zoom)) for border in casting.judged_px)
    alt = f"Photograph {casting.photo} with {count_of(casting.count, 'void')} marked."
    return Photograph(one.jpeg, one.width, one.height, alt, tuple(spots), borders, tuple(legend))


def _spot(casting: Casting, row: int, look: str, zoom: float) -> Spot:
    voids = casting.voids
    says = f"void, {_size(casting, row)}, at x {voids.x_px[row]:.1f}, y {voids.y_px[row]:.1f}"
    cut = ", cut by the frame" if voids.cut[row] else ""
    return Spot(*_placed(voids, row, zoom), look, says + cut)


def _placed(finds: Voids, row: int, zoom: float) -> tuple[float, float, float]:
    """Return x, y and radius of a find's mark in px shown."""
    radius = max(float(finds.diameter_px[row]) * zoom / 2 + MARGIN_PX, LEAST_RADIUS_PX)
    return float(finds.x_px[row]) * zoom, float(finds.y_px[row]) * zoom, radius


def thinned(border: Any) -> Any:
    """Return fewer points of a border, (n, 2), since a screen shows no more."""
    return border[:: max(1, len(border) // BORDER_POINTS)]


def _size(casting: Casting, row: int) -> str:
    """Return a void's diameter with its standard uncertainty."""
    across, err = float(casting.voids.diameter_px[row]), float(casting.voids.diameter_err_px[row])
    scale = casting.void_scale
    if scale is None:
        return f"{rounded(across)} px, standard uncertainty {rounded(err, 2)} px"
    off = across * scale.mm_per_px * math.hypot(err / across, scale.mm_per_px_err / scale.mm_per_px)
    return f"{rounded(across * scale.mm_per_px)} mm, standard uncertainty {rounded(off, 2)} mm"


def distribution(casting: Casting) -> Distribution:
    """Return the sizes of a casting's voids in classes, in mm where there is a scale."""
    classes, scale = casting.histogram_px, casting.void_scale
    factor, unit = (scale.mm_per_px, "mm") if scale else (1.0, "px")
    return Distribution(
        lower=np.asarray(classes.lower) * factor,
        upper=np.asarray(classes.upper) * factor,
        count=np.asarray(classes.count),
        low=np.asarray(classes.count_low),
        high=np.asarray(classes.count_high),
        smallest=casting.sizes_px.smallest * factor,
        unit=unit,
    )


def _distribution_words(casting: Casting) -> str:
    sizes = casting.sizes_px
    if not casting.count:
        return "No void was counted."
    return (
        f"Size distribution: median {length(sizes.d50_number.value, casting)}, from "
        f"{length(sizes.smallest, casting)} countable to {length(sizes.largest.value, casting)}."
    )


def _numbers(casting: Casting) -> Rows:
    counts, clarity = casting.sizes_px, casting.clarity
    # In mm the limits hold the scale's uncertainty as well.
    sizes, unit = (counts, "px") if casting.sizes_mm is None else (casting.sizes_mm, "mm")
    rows = [
        ("voids", str(counts.count), f"{counts.count_low:.0f} to {counts.count_high:.0f}"),
        *(
            (f"not counted, {why}", str(number), "")
            for why, number in (("under the smallest countable", counts.below), ("cut by the frame", casting.cut_count))
            if number
        ),
        *(
            (name, _value(estimate, unit), _between(estimate, unit))
            for name, estimate in (
                ("largest", sizes.largest),
                ("D10 by number", sizes.d10_number),
                ("D50 by number", sizes.d50_number),
                ("D90 by number", sizes.d90_number),
                ("D50 by volume", sizes.d50_volume),
                ("D[3,2]", sizes.d_3_2),
            )
        ),
        ("clarity", f"{clarity.score:.0f}", f"{clarity.low:.0f} to {clarity.high:.0f}"),
        ("share of light that voids cover", percent(clarity.cover, decimals=2), ""),
        ("share of light veiled", percent(clarity.veil, decimals=2), ""),
        ("smallest countable", length(counts.smallest, casting), ""),
        ("expected behind nearer voids", percent(casting.hidden_share, decimals=1), ""),
        ("judged", area(casting.judged_area_px, casting), ""),
    ]
    if casting.scale is not None:
        err = percent(casting.scale.mm_per_px_err / casting.scale.mm_per_px, decimals=1)
        rows.append(
            ("scale", f"{casting.scale.mm_per_px:.5g} mm per px", f"standard uncertainty {err}; {casting.scale.source}")
        )
    return Rows("Numbers", ("quantity", "value", "95 % from ... to"), tuple(rows))


def _value(estimate: Estimate, unit: str) -> str:
    return f"{rounded(estimate.value)} {unit}" if estimate.known else "-"


def _between(estimate: Estimate, unit: str) -> str:
    if math.isnan(estimate.low) or math.isnan(estimate.high):
        return ""
    return f"{rounded(estimate.low)} {unit} to {rounded(estimate.high)} {unit}"


def _fitness(casting: Casting) -> Block:
    faults = [check for verdict in WORST_FIRST for check in casting.fitness.of(verdict)]
    told = len(casting.fitness.of(Verdict.FIT))
    if not faults:
        return Words(f"The photograph is fit to measure: {count_of(told, 'check')} kept.", "note")
    cells = tuple((str(c.verdict), c.fault, limit_words(c), c.effect, c.cure) for c in faults)
    return Rows("Fitness of the photograph", ("verdict", "what", "limit", "so", "do"), cells)


def _voids(casting: Casting) -> Rows:
    voids = casting.voids
    order = np.argsort(-voids.diameter_px, kind="stable")
    cells = tuple(
        (str(number), _size(casting, row), f"{voids.x_px[row]:.1f}", f"{voids.y_px[row]:.1f}")
        for number, row in enumerate(order, start=1)
    )
    return Rows(
        f"All {count_of(len(voids), 'void')}, largest first",
        ("number", "diameter", "x, px", "y, px"),
        cells,
        folded=True,
    )


def _aside(casting: Casting) -> Rows:
    aside = casting.set_aside
    cells = tuple(
        (str(aside.kind[row]), str(aside.reason[row]), f"{aside.x_px[row]:.1f}", f"{aside.y_px[row]:.1f}")
        for row in range(len(aside))
    )
    caption = f"Set aside: {count_of(len(aside), 'find')} that are not counted"
    return Rows(caption, ("kind", "reason", "x, px", "y, px"), cells, folded=True)


def _settings(settings: Settings) -> Rows:
    cells = (
        ("refractive index of the resin", f"{settings.index:g}"),
        ("least diameter that counts", f"{settings.smallest_px:g} px"),
        ("probability from which a find is a void", f"{settings.accept:g}"),
        ("and is shown as unsure", f"{settings.unsure:g}"),
        ("words of clarity", ", ".join(f"{word} from {least:g}" for word, least in settings.grades)),
    )
    return Rows("Settings", ("setting", "value"), cells)
