"""What a request and an outline say of lengths: the scale, and by how much a curved surface enlarges."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

import numpy as np

from bubblegrade.casting.curved import FLAT, DrawnOut, Magnified, has_length, is_upright, lying, magnified
from bubblegrade.casting.edge import across_and_along
from bubblegrade.casting.outline import Outline
from bubblegrade.casting.roundness import Across, across, span_is_cut
from bubblegrade.errors import PhotoError
from bubblegrade.grading.record import Request
from bubblegrade.photo.light import Light
from bubblegrade.photo.mid_plane import end_doubt, scale_below_face
from bubblegrade.photo.scale import Scale, SpanPx, scale_from_span, scale_from_width, stated_scale
from bubblegrade.voids.drawn_out import drawn_out
from bubblegrade.voids.table import Voids

HALF_PIXEL: Final = 0.5  # from a pixel's centre to its edge
AROUND_DISC: Final = 1.12  # of its radius: beyond what is covered of a disc, and the edge that this leaves
TOUCHED: Final = 0.2  # of a disc's edge: one beside a casting several times its size touches it along 0.15
DISC_POINTS: Final = 72  # looked at around it
DEEPEST: Final = 2.0  # over the shorter side of a casting as it lies on the light: it would roll over long before


def scale_of(outline: Outline, request: Request, *, index: float, name: str) -> tuple[Scale | None, SpanPx | None]:
    """Return the scale and the span that it was taken from; `index` is the resin's, `name` the photograph's.

    A casting whose widest span the frame cuts gives none: what is seen of that span is shorter than what was stated.

    Raises
    ------
    PhotoError
        A point of the stated span lies beyond the photograph.
    InputError
        The scale that follows is absurd.
    """
    if request.mm_per_px is not None:
        return stated_scale(request.mm_per_px), None
    if request.span is not None:
        span = request.span
        points = (span.x_px, span.y_px), (span.other_x_px, span.other_y_px)
        for point in points:
            _check_within(point, outline.shape_px, name)
        return scale_from_span(span), points
    if request.width_mm is None:
        return None, None
    seen = across(outline.edge_px)
    if span_is_cut(outline, seen):
        return None, None
    one, other = seen.ends_px
    ends = (float(one[0]), float(one[1])), (float(other[0]), float(other[1]))
    return _width_scale(outline, request, request.width_mm, seen, index=index), ends


def check_beside(outline: Outline, span_px: SpanPx, *, name: str) -> None:
    """Refuse a disc across `span_px` that is part of the casting, an eye perhaps, or does not lie flat beside it.

    Raises
    ------
    PhotoError
        The casting is around it, or at more of its edge than where the two touch.
    """
    ends = np.array(span_px)
    middle, reach = ends.mean(axis=0), AROUND_DISC * np.linalg.norm(ends[1] - ends[0]) / 2
    turn = np.linspace(0.0, 2.0 * np.pi, DISC_POINTS, endpoint=False)
    around = middle + reach * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    rows, cols = outline.shape_px
    seen = (around >= 0.0).all(axis=1) & (around[:, 0] < cols) & (around[:, 1] < rows)
    over = outline.holds(outline.casting, around[:, 0], around[:, 1]) & seen
    within = bool(outline.holds(outline.casting, middle[:1], middle[1:])[0])
    if within or over.mean() > TOUCHED:
        where = "in" if within else "partly over"
        raise PhotoError(
            f"{name}: the only disc in view, at {middle[0]:.0f},{middle[1]:.0f}, lies {where} the casting: lay the "
            "coin on the bare light beside it"
        )


def _check_within(point_px: tuple[float, float], shape_px: tuple[int, int], name: str) -> None:
    """Refuse a point beyond the photograph, as one read off a larger copy of it."""
    (x, y), (rows, cols) = point_px, shape_px
    if not (-HALF_PIXEL <= x <= cols - HALF_PIXEL and -HALF_PIXEL <= y <= rows - HALF_PIXEL):
        raise PhotoError(
            f"{name}: the point {x:g},{y:g} of --span lies beyond its {cols} x {rows} px: read both points off this "
            "very photograph"
        )


def _width_scale(outline: Outline, request: Request, width_mm: float, seen: Across, *, index: float) -> Scale:
    """Return the scale at mid height, where camera and casting tell how far below the widest span that lies."""
    thickness_mm, height_mm = request.thickness_mm, request.camera_height_mm
    if not is_upright(outline.edge_px, judged_share=outline.judged_area_px / outline.area_px):
        return _leaning_scale(outline, request, width_mm, seen)
    if thickness_mm is None or height_mm is None:
        return scale_from_width(width_mm, seen.long_px, span_doubt=seen.err_share)
    face = scale_from_width(width_mm, seen.long_px, height_doubt=0.0, span_doubt=seen.err_share)
    return scale_below_face(face, width_mm, thickness_mm, height_mm, index=index)


def _leaning_scale(outline: Outline, request: Request, width_mm: float, seen: Across) -> Scale:
    """Return the scale where walls lean or bend: a lure is widest at mid height, a tapered cup at one of its ends."""
    if has_length(outline.edge_px):
        found = scale_from_width(width_mm, seen.long_px, span_doubt=seen.err_share)
    else:
        doubt = end_doubt(request.thickness_mm, request.camera_height_mm)
        found = scale_from_width(width_mm, seen.long_px, height_doubt=doubt, span_doubt=seen.err_share)
    return replace(found, source=f"{found.source}; not flat with straight walls, taken as at mid height")


def curve_of(
    seen: tuple[Outline, Light, Voids], request: Request, scale: Scale | None, *, index: float, name: str
) -> Magnified:
    """Return by how much the voids look larger through a curved surface.

    Parameters
    ----------
    seen
        The casting's outline, the darkness, (rows, cols), and the voids in it.
    request
        What was told of lengths.
    scale
        The photograph's; None if it has none.
    index
        Refractive index of the resin.
    name
        The photograph's, as shown to the user.

    Raises
    ------
    PhotoError
        The stated thickness is none that this outline can have.
    """
    outline, dark, voids = seen
    if not len(outline.edge_px):
        return FLAT
    thickness_px = None if scale is None or request.thickness_mm is None else request.thickness_mm / scale.mm_per_px
    across_px, _ = across_and_along(outline.edge_px)
    if scale is not None and thickness_px is not None and thickness_px > DEEPEST * across_px:
        raise PhotoError(
            f"{name}: {request.thickness_mm:g} mm thick, and seen from above {across_px * scale.mm_per_px:.3g} mm "
            "across its shorter side: check the thickness and what gives the scale"
        )
    return magnified(
        outline.edge_px,
        judged_share=outline.judged_area_px / outline.area_px,
        thickness_px=thickness_px,
        index=index,
        drawn=_drawn_by_body(outline, dark, voids, scale) if has_length(outline.edge_px) else None,
    )


def _drawn_by_body(outline: Outline, dark: Light, voids: Voids, scale: Scale | None) -> DrawnOut | None:
    """Return how far voids look drawn out across a body, less what squaring has drawn them out aslant."""
    along = lying(outline.edge_px)
    drawn = drawn_out(dark, voids, along=along)
    if drawn is None or scale is None:
        return drawn
    by_squaring = -math.log(scale.enlarged) * math.cos(2.0 * (scale.enlarged_along - along))
    return replace(drawn, share=drawn.share - by_squaring)
