"""What the reader should know besides the numbers: what was left out, why a photograph is unfit, what else to mind."""

from __future__ import annotations

from typing import Final

import numpy as np

from bubblegrade.casting.curved import Magnified
from bubblegrade.casting.outline import Outline
from bubblegrade.grading.record import BEHIND_BODIES, NotJudged
from bubblegrade.photo.light import Light, clipped
from bubblegrade.photo.reading import Photo
from bubblegrade.photo.scale import Scale
from bubblegrade.voids.detecting import Found

MOST_CLIPPED: Final = 0.02  # of the judged area at full scale: more, and faint voids are lost in it
DIMMEST: Final = 0.02  # linear light of the clear resin: less is no backlight


def left_out(outline: Outline, found: Found) -> tuple[NotJudged, ...]:
    """Return the parts of the casting that were not judged."""
    border = outline.area_px - outline.judged_area_px
    parts = (
        NotJudged("border where the surface bends the view or shows it twice", border),
        NotJudged(BEHIND_BODIES, float(found.aside.sum())),
    )
    return tuple(part for part in parts if part.area_px > 0)


def unfit_reasons(photo: Photo, outline: Outline, light: Light, *, whole: bool) -> tuple[str, ...]:
    """Return why the photograph is not fit to measure."""
    judged = outline.full(outline.judged)[::4, ::4]
    said = []
    share = float(clipped(photo.codes[::4, ::4])[judged].mean()) if judged.any() else 0.0
    if share > MOST_CLIPPED:
        said.append(f"{100 * share:.0f} % of the judged area is at full scale: expose less")
    if float(np.median(light[::4, ::4][judged])) < DIMMEST:
        said.append("the casting is hardly lit: expose longer")
    if not whole and not len(outline.edge_px):
        said.append("the casting's outline is lost in the light: the whole frame was judged, diffuse the light better")
    if outline.cut_by_frame:
        said.append("the casting is cut by the frame: show it whole")
    return tuple(said)


def remarks(found: Found, scale: Scale | None, curve: Magnified) -> tuple[str, ...]:
    """Return what the reader should know about the numbers."""
    said = [] if scale else ["no scale was given: sizes are in px"]
    if len(found.voids) and not found.lighting.rings:
        said.append("too few large voids to measure the light by: its angle is assumed, sizes are less certain")
    if scale and curve.err and len(found.voids):
        said.append(
            f"the curved body magnifies: voids in mm are divided by {curve.factor:.2f}, to {100 * curve.err:.0f} %"
            if curve.factor > 1
            else f"the curved body magnifies by up to {200 * curve.err:.0f} %: give --thickness to correct for it"
        )
    return tuple(said)
