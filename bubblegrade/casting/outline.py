"""The casting's outline: what is judged and what is not.

The outline is the closed line that holds out longest (held_line.py), its edge found to a fraction of a pixel in the
photograph itself. Where no line holds out, as where a pattern of the light is as strong as the edge, or where it holds
a wire instead of the pale casting around it or a part that a wire cuts off, a line is looked for that is strong in sum
(closed_line.py). Another closed region that light holds (beside.py) is the casting itself where it lies around the
outline, else a second casting. An outline that light does not hold (evidence.py) is drawn in to where it does
(tightened.py). Where the bare light shows through (openings.py) is no casting.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.beside import cut_off, further
from bubblegrade.casting.closed_line import find_closed_line
from bubblegrade.casting.edge import Points, covered, followed, within
from bubblegrade.casting.enlarged import Box, Enlarged
from bubblegrade.casting.evidence import evidence
from bubblegrade.casting.foot import within_foot
from bubblegrade.casting.held_line import Flood, within_held_line
from bubblegrade.casting.opaque import as_resin, opaque_bodies, shows_resin
from bubblegrade.casting.openings import openings
from bubblegrade.casting.parts import filled, largest, solidity
from bubblegrade.casting.rim import within_rim
from bubblegrade.casting.tightened import drawn_in
from bubblegrade.photo.light import Codes
from bubblegrade.quantiles import median, quantile

Mask = NDArray[np.bool_]
Image = NDArray[np.float32]

COARSE_SIDE_PX: Final = 400  # the outline is looked for in a picture of about this size
LIT_SHARE: Final = 0.3  # of the 90th percentile of light: less is not lit
AS_LIT: Final = 0.9  # of the light in a casting: what is less bright around it is no light that it stands on
OPAQUE: Final = 0.2  # of the bare light: what is small and lets less through its middle is hardware
NOTHING: Final = 0.04  # of the bare light: so much is stray light of the lens, whatever the size
LARGE: Final = 0.15  # of the lit field: larger than eyes, ballast and coins, and dark, is deeply tinted resin
DENTED: Final = 0.9  # solidity: below it another line is tried, as 2 of 3 such outlines among 2,623 were wrong
AT_EDGE_PX: Final = 5  # coarse px from the edge of the light: an outline within it may follow that edge
WITHIN: Final = 0.9  # of the outline's area: a closed region that holds so much of it is the casting, seen whole
SURELY: Final = 0.97  # share of such an outline with a step of light
BORED: Final = 0.5  # of what passes for a cup's foot: with so much bare light it is the bore of a ring
AROUND_PX: Final = 9  # coarse px: bare light is looked for beyond half of this from an outline
SHADED_PX: Final = 4  # coarse px along the border of the judged area in which the edge casts its own shade
BOX_PX: Final = 24  # a multiple of the steps at which pictures are thinned


@dataclass(frozen=True, eq=False)
class Outline:
    """Where the casting is."""

    casting: Mask  # (rows, cols) of the coarse picture
    judged: Mask  # the part of it that is judged
    opened: Mask  # where the bare light shows through it
    opaque: Mask  # wide bodies in it that let no light through
    edge_px: Points  # (N, 2) x, y of its edge in px of the photograph
    step_px: int  # pixels of the photograph per coarse pixel
    shape_px: tuple[int, int]  # rows, cols of the photograph
    coarse: Image  # its light averaged over squares, of the coarse picture's shape
    lit: Mask  # the lit part of that
    cut_by_frame: bool
    bent: bool = False  # its border bends the view, as that of a curved body or of a tapered cup, and is not judged
    beside: tuple[Mask, ...] = ()  # further castings in the frame or cut by it, of the coarse picture's shape each

    @property
    def area_px(self) -> float:
        """Area of the casting in px of the photograph."""
        return float(self.casting.sum()) * self.step_px**2

    @property
    def judged_area_px(self) -> float:
        """Judged area in px of the photograph."""
        return float(self.judged.sum()) * self.step_px**2

    @property
    def along_edge(self) -> Mask:
        """Which points of the outline, (N,), lie along the edge of the light or of the frame."""
        return self.at_edge(self.edge_px)

    @property
    def clear(self) -> Mask:
        """The judged part, coarse, without wide opaque bodies: what tells of the resin's light."""
        return self.judged & ~self.opaque

    @property
    def well_opaque(self) -> Mask:
        """The wide opaque bodies, coarse, without the strip along their border in which voids of the resin lie."""
        return _eroded(self.opaque)

    @property
    def well_inside(self) -> Mask:
        """The clear part, coarse, without the strip along its border in which the edge casts its own shade."""
        return _eroded(self.clear)

    @property
    def judged_box(self) -> tuple[int, int, Box]:
        """First row and column of the rectangle around the judged area, in px of the photograph, and the rectangle.

        Row and column are multiples of BOX_PX.
        """
        top, left, box = Enlarged.over(self.judged, self.judged.shape).box(0)
        top, left = (first * self.step_px // BOX_PX * BOX_PX for first in (top, left))
        below, right = (
            part.stop * self.step_px if part.stop < last else size
            for part, last, size in zip(box, self.judged.shape, self.shape_px, strict=True)
        )
        return top, left, np.s_[top:below, left:right]

    @property
    def borders_px(self) -> tuple[Points, ...]:
        """Closed lines around the judged area, (N, 2) x, y in px of the photograph each."""
        found, _ = cv2.findContours(self.judged.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        return tuple((line[:, 0, :].astype(np.float64) + 0.5) * self.step_px - 0.5 for line in found)

    def enlarged(self, mask: Mask, box: Box = np.s_[:, :]) -> Enlarged:
        """Return a coarse mask at the size of the photograph, or of a rectangle of it, to be cut from."""
        rows, cols = (
            np.minimum(np.arange(size)[part] // self.step_px, last - 1)
            for size, part, last in zip(self.shape_px, box, mask.shape, strict=True)
        )
        return Enlarged(mask, rows, cols)

    def full(self, mask: Mask, box: Box = np.s_[:, :]) -> Mask:
        """Return a coarse mask at the size of the photograph, or of a rectangle of it."""
        return self.enlarged(mask, box)[:, :]

    def at_edge(self, points_px: Points) -> Mask:
        """Say for each point, (N, 2) x, y, whether it lies at the edge of the light or of the frame."""
        side = 2 * AT_EDGE_PX + 1
        inner = cv2.erode(self.lit.astype(np.uint8), np.ones((side, side), np.uint8), borderValue=0).astype(bool)
        return ~self.holds(inner, *points_px.T)

    def holds(self, mask: Mask, x_px: NDArray[Any], y_px: NDArray[Any]) -> Mask:
        """Say for each point whether it lies in the coarse `mask`."""
        cols = np.clip((x_px + 0.5) / self.step_px, 0, mask.shape[1] - 1).astype(np.intp)
        rows = np.clip((y_px + 0.5) / self.step_px, 0, mask.shape[0] - 1).astype(np.intp)
        return np.asarray(mask[rows, cols])


def _eroded(mask: Mask) -> Mask:
    """Return a coarse mask without the strip along its border in which an edge casts its shade."""
    side = 2 * SHADED_PX + 1
    return np.asarray(cv2.erode(mask.astype(np.uint8), np.ones((side, side), np.uint8), borderValue=0).astype(bool))


def coarse_picture(light: Image) -> tuple[Image, int]:
    """Return the picture averaged over squares, its longer side about COARSE_SIDE_PX, and the square's side."""
    step = max(1, int(np.ceil(max(light.shape) / COARSE_SIDE_PX)))
    rows, cols = light.shape[0] // step, light.shape[1] // step
    small = cv2.resize(light[: rows * step, : cols * step], (cols, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32), step


def lit_field(coarse: Image) -> Mask:
    """Return the lit part of the frame, with everything it encloses; (rows, cols) of the coarse picture."""
    return filled(largest(_lit(coarse)))


def find_outline(light: Image, codes: Codes | None = None) -> Outline | None:
    """Return the casting's outline in a picture of linear light, (rows, cols); None where no line holds out.

    The photograph's `codes`, (rows, cols, 3), tell openings in tinted resin by their colour.
    """
    coarse, step = coarse_picture(light)
    field = lit_field(coarse)
    outline = _outline_in(field, light, coarse, step, codes)
    if outline is not None or (around := _around(field, coarse)) is None:
        return outline
    return _outline_in(around, light, coarse, step, codes)


def _lit(coarse: Image) -> Mask:
    return np.asarray(coarse > LIT_SHARE * quantile(coarse, 0.9))


def _around(field: Mask, coarse: Image) -> Mask | None:
    """Return the field around one that is a casting's own middle, parted from it by a dark border; None for others."""
    beyond = largest(_lit(coarse) & ~field)
    around = filled(beyond)
    if (field & ~around).any() or median(coarse[beyond]) < AS_LIT * median(coarse[field]):
        return None
    return around


def _outline_in(field: Mask, light: Image, coarse: Image, step: int, codes: Codes | None) -> Outline | None:
    """Return the casting's outline in a lit field; None where no line holds out."""
    flood = Flood.over(coarse, field)
    edge, casting, cut = _line_in(flood, field, light, coarse, step)
    if not shows_resin(coarse, casting, field) and (pale := as_resin(coarse, field)) is not None:
        whole = _line_in(Flood.over(pale, field), field, light, pale, step)
        if shows_resin(coarse, whole[1], field):
            edge, casting, cut = whole
    if not casting.any():
        return None
    others = further(flood, coarse, casting)
    for region in (other for other in others if (other & casting).sum() > WITHIN * casting.sum()):
        wider, around = drawn_in(light, coarse, step, field, followed(light, step, field, region))
        if evidence(coarse, wider, step).held_share > SURELY:
            edge, casting = wider, around
    edge, casting = drawn_in(light, coarse, step, field, (edge, casting))
    opaque = opaque_bodies(coarse, within(edge, step, field.shape) & field, field)
    opened = openings(coarse, field, casting, opaque, codes)
    inside = within(edge, step, field.shape) & field & ~opened
    rimmed = within_rim(coarse, casting, opened | opaque)  # the dark line inside is looked for with the border taken in
    foot = within_foot(coarse, rimmed, opaque)
    flat = rimmed if opened[foot].mean() > BORED else foot
    return Outline(
        casting=inside,
        judged=flat & (inside if rimmed is casting else ~opened),
        opened=opened,
        opaque=opaque,
        edge_px=edge,
        step_px=step,
        shape_px=(light.shape[0], light.shape[1]),
        coarse=coarse,
        lit=field,
        cut_by_frame=cut,
        bent=flat is not casting,
        beside=_apart(casting, (*others, *cut_off(flood, coarse, casting, others))),
    )


def _line_in(flood: Flood, field: Mask, light: Image, coarse: Image, step: int) -> tuple[Points, Mask, bool]:
    """Return the line that holds out or is strong in sum, what it encloses, and whether the frame cuts that."""
    enclosed, cut = within_held_line(flood)
    edge, casting = followed(light, step, field, enclosed)
    if not casting.any() or _is_opaque(coarse, field, casting):
        casting = np.zeros_like(field)
    if not casting.any() or solidity(casting) < DENTED:
        line = find_closed_line(coarse, field)
        if line is not None:
            cut = False
            edge, casting = followed(light, step, field, covered((line + 0.5) * step - 0.5, step, field.shape))
    return edge, casting, cut


def whole_field(light: Image) -> Outline:
    """Return the lit part of the frame as the judged area, for `--whole`."""
    coarse, step = coarse_picture(light)
    field = lit_field(coarse)
    return Outline(
        casting=field,
        judged=field,
        opened=np.zeros_like(field),
        opaque=np.zeros_like(field),
        edge_px=np.empty((0, 2)),
        step_px=step,
        shape_px=(light.shape[0], light.shape[1]),
        coarse=coarse,
        lit=field,
        cut_by_frame=False,
    )


def _apart(casting: Mask, others: Iterable[Mask]) -> tuple[Mask, ...]:
    """Return those of `others` that lie beside the casting by more than half."""
    return tuple(other for other in others if 2 * (other & casting).sum() < other.sum())


def _is_opaque(coarse: Image, field: Mask, casting: Mask) -> bool:
    """Say whether a casting lets hardly any of the light around it pass."""
    near = cv2.dilate(casting.astype(np.uint8), np.ones((AROUND_PX, AROUND_PX), np.uint8)).astype(bool)
    bare = field & ~near
    least = NOTHING if casting.sum() > LARGE * field.sum() else OPAQUE
    return bool(bare.any()) and median(coarse[casting]) < least * median(coarse[bare])
