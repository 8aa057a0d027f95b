"""What the reader should know besides the numbers: what was left out, and what else to mind."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.curved import Magnified
from bubblegrade.casting.edge import across_and_along
from bubblegrade.casting.outline import Outline
from bubblegrade.fitness.check import Fitness
from bubblegrade.grading.record import BEHIND_BODIES, NotJudged
from bubblegrade.photo.mid_plane import taken_for_granted
from bubblegrade.photo.scale import Scale
from bubblegrade.voids.detecting import Found

THICKER: Final = "--thickness is more than the casting is wide: check that it is the depth towards the camera"
UNUSUAL: Final = "by this scale the casting is under 5 mm or over 300 mm long: check the length given and its unit"
OPENED: Final = (
    "more than half of what the outline encloses passes for an opening, as of a ring: if it is resin, no number holds"
)
SPAN_CUT: Final = "the frame cuts the casting's widest span, so that its width gives no scale: sizes are in px"
USUAL_MM: Final = (5.0, 300.0)  # length of what is cast in a pressure pot; another is mostly a slip of the unit
MUCH_THICKER: Final = 1.05  # thickness over width: as far above it may a ball come by its scale's doubt


def left_out(outline: Outline, found: Found) -> tuple[NotJudged, ...]:
    """Return the parts of the casting that were not judged."""
    border = outline.area_px - outline.judged_area_px
    parts = (
        NotJudged("border where the surface bends the view or shows it twice", border),
        NotJudged(BEHIND_BODIES, float(np.count_nonzero(found.aside))),
    )
    return tuple(part for part in parts if part.area_px > 0)


def on_thickness(edge_px: NDArray[np.float64], thickness_mm: float | None, scale: Scale | None) -> tuple[str, ...]:
    """Return what the reader should know about a thickness beside the (N, 2) x, y of the casting's outline."""
    if thickness_mm is None or scale is None or not len(edge_px):
        return ()
    across_px, _ = across_and_along(edge_px)
    return (THICKER,) if thickness_mm > MUCH_THICKER * across_px * scale.mm_per_px else ()


def on_opening(outline: Outline) -> tuple[str, ...]:
    """Return what the reader should know about an opening; the flat of a cup that takes no light looks like one."""
    opened, resin = np.count_nonzero(outline.opened), np.count_nonzero(outline.casting)
    return (OPENED,) if opened > resin else ()


def on_length(edge_px: NDArray[np.float64], scale: Scale | None) -> tuple[str, ...]:
    """Return what the reader should know about a scale by which the casting, (N, 2) x, y, is of an unusual length."""
    if scale is None or not len(edge_px):
        return ()
    _, along_px = across_and_along(edge_px)
    long_mm = along_px * scale.mm_per_px
    return () if USUAL_MM[0] <= long_mm <= USUAL_MM[1] else (UNUSUAL,)


def remarks(
    found: Found, scale: Scale | None, curve: Magnified, fitness: Fitness, *, edge_px: NDArray[np.float64],
    thickness_mm: float | None, lengths_said: bool,
) -> tuple[str, ...]:  # fmt: skip
    """Return what the reader should know about the numbers; `lengths_said` says whether a scale was asked for."""
    said = [] if scale else [SPAN_CUT if lengths_said else "no scale was given: sizes are in px"]
    said += taken_for_granted(scale) if scale else ()
    if len(found.voids) and not found.lighting.rings:
        said.append("too few large voids to measure the light by: its angle is assumed, sizes are less certain")
    if scale and curve.err and len(found.voids):
        cure = "" if thickness_mm is not None or curve.by_form else "; give --thickness"
        rest = f"voids in mm are divided by {curve.factor:.2f}, to {100 * curve.err / curve.factor:.0f} %"
        said.append(f"{curve.source}: {rest}{cure}")
    return (*on_thickness(edge_px, thickness_mm, scale), *on_length(edge_px, scale), *said, *fitness.cares)
