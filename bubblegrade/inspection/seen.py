"""What a photograph shows of a piece, on a coarse grid: where it lies, what of it is judged, where its hardware is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Any, Final

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from bubblegrade.casting.backlight import backlight_around
from bubblegrade.casting.opaque import opaque_bodies
from bubblegrade.casting.outline import lit_field
from bubblegrade.casting.transmittance import DARKEST_BACKLIGHT
from bubblegrade.distances import distances
from bubblegrade.errors import PhotoError
from bubblegrade.grading_run import Casting
from bubblegrade.inspection.beside import SHADE, beside_of
from bubblegrade.inspection.depth import depth, fitting, rectangle, touching
from bubblegrade.inspection.rim import rim_of
from bubblegrade.inspection.rings import rings_of
from bubblegrade.inspection.unsought import unsought
from bubblegrade.quantiles import median
from bubblegrade.voids.table import Voids

Mask = NDArray[np.bool_]
Floats = NDArray[np.float64]
Image = NDArray[np.float32]

SIDE_PX: Final = 800  # of the grid's longer side at most
OPAQUE: Final = 0.35  # of the clear resin's light: darker is solid
GROUND: Final = 0.4  # of the light around the piece or in it: darker is no bare light, but what lies on it or beside
THINNED: Final = 4  # one square of so many in either direction tells how the bare light falls
SHADED: Final = 0.75  # of the clear resin's light: darker, and no void, cannot be judged through
DIM: Final = 0.85  # of the clear resin's light: darker, beside hardware, shows something
HALO: Final = 1.25  # radii of a void that are its own, and
OF_FLAKE: Final = 2.0  # of a flake
THICK: Final = 0.035  # of the piece's longer side: an opaque body as thick as this is hardware, whatever it was named
LONG: Final = 0.25  # of it: a wire as long as this is hardware too, where no light parts it from the rim it runs into
DRAWN_OUT: Final = ("fibre", "scratch", "unsure")  # a hair, a crack or a chain of voids may be as long
FLAT: Final = ("hardware", "flake")  # marks that are no arcs: flat and opaque, and side by side they mimic rings
# Standard uncertainty over the diameter: an arc of a large void, counted as a small one, has more.
DOUBTED: Final = 0.05
LARGER: Final = 1.5  # times a counted void's diameter: a ring around its middle that is smaller is its own
MASKS: Final = ("piece", "judged", "solid")
PLACED: Final = 0.5  # grid steps: standard uncertainty of the border of hardware


@dataclass(frozen=True, eq=False)
class Seen:
    """A piece on a grid of squares of `step_px`."""

    step_px: int
    piece: Mask  # (rows, cols) within the outline
    judged: Mask  # of it, clear enough to show voids
    solid: Mask  # hardware
    bulges_px: Floats = field(default_factory=lambda: np.empty((0, 3)))  # at the dark rim: x, y and diameter
    breaks_px: Floats = field(default_factory=lambda: np.empty((0, 3)))  # in it: likewise, the largest it may be
    rings_px: Floats = field(default_factory=lambda: np.empty((0, 3)))  # in clear resin, broken: x, y and diameter
    beside_px: Floats = field(default_factory=lambda: np.empty((0, 3)))  # dark beside hardware or rim: likewise

    def __getstate__(self) -> dict[str, Any]:
        """Return what another process needs, masks in bits: what follows from it is large, and quickly found again."""
        state = {each.name: getattr(self, each.name) for each in fields(self)}
        return {**state, **{name: np.packbits(state[name]) for name in MASKS}, "shape": self.piece.shape}

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Take what `__getstate__` gave."""
        shape = state.pop("shape")
        masks = {
            name: np.unpackbits(state[name], count=math.prod(shape)).view(np.bool_).reshape(shape) for name in MASKS
        }
        self.__dict__.update(state, **masks)

    @property
    def hardware_px(self) -> Floats:
        """Middle of each piece of hardware, (M, 2) x, y in px."""
        rows, cols = part = rectangle(self.solid)
        if not self.solid[part].size:
            return np.empty((0, 2))
        _, _, _, middles = cv2.connectedComponentsWithStats(self.solid[part].astype(np.uint8))
        return np.asarray((middles[1:] + [cols.start, rows.start] + 0.5) * self.step_px - 0.5, np.float64)

    @property
    def solid_err_px(self) -> float:
        """Standard uncertainty of the hardware's border."""
        return PLACED * self.step_px

    @cached_property
    def squares(self) -> NDArray[np.intp]:
        """Which squares of the grid are the piece's, (N,), row by row."""
        return np.flatnonzero(self.piece)

    @cached_property
    def squares_px(self) -> Floats:
        """Their middles, (N, 2) x, y in px."""
        rows, cols = np.divmod(self.squares, self.piece.shape[1])
        return (np.stack([cols, rows], axis=1) + 0.5) * self.step_px - 0.5

    @cached_property
    def from_solid(self) -> Floats:
        """How far each square lies from hardware, (rows, cols) in px; infinite without any.

        Beyond the piece's own rectangle it is that of the nearest square within.
        """
        if not self.solid.any():
            return np.full(self.solid.shape, math.inf)
        rows, cols = part = rectangle(self.piece | self.solid)
        away = distances(~self.solid[part])
        around = ((rows.start, len(self.solid) - rows.stop), (cols.start, self.solid.shape[1] - cols.stop))
        return np.pad(_beyond_half(away) * self.step_px, around, mode="edge")

    @cached_property
    def unseen(self) -> Floats:
        """Diameter of the largest void whose middle may lie unseen at each square, (rows, cols) in px; 0 where judged.

        In a dark rim that is a void which touches the outline with its middle where the light begins: twice the rim's
        width, and no more than fits within the outline there. Hardware itself holds no void.
        """
        return np.minimum(self._hideable, self._fits) * (2.0 * self.step_px)

    @cached_property
    def _hideable(self) -> Floats:
        """Radius of the largest void whose middle may lie in the dark at each square, in squares."""
        return 2.0 * _beyond_half(depth(self.piece & ~self.judged & ~self.solid))

    @cached_property
    def _fits(self) -> Floats:
        """Radius of the largest disc within the outline that holds each square, as far as it matters, in squares."""
        most = max(float(self._hideable.max()), float(self.breaks_px[:, 2].max(initial=0.0)) / (2.0 * self.step_px))
        return _beyond_half(fitting(depth(self.piece), most + 1.0))

    @cached_property
    def fitting_breaks_px(self) -> Floats:
        """What shows in the dark rim, (N, 3) x, y and the diameter of the largest void that it may be and that fits."""
        largest = 2.0 * self.step_px * self.at(self._fits, self.breaks_px[:, :2])
        return np.column_stack([self.breaks_px[:, :2], np.minimum(self.breaks_px[:, 2], largest)])

    def at(self, values: Floats, points_px: Floats) -> Floats:
        """Return the grid's `values`, finite all over or nowhere, at (N, 2) points x, y in px, interpolated."""
        cols, rows = ((points_px + 0.5) / self.step_px - 0.5).T
        if not math.isfinite(values.flat[0]):
            return np.full(len(points_px), math.inf)
        return np.asarray(ndimage.map_coordinates(values, [rows, cols], order=1, mode="nearest"), np.float64)


def coarse_light(light: Image) -> tuple[Image, int]:
    """Return linear light, (rows, cols), averaged over squares, and the side of a square in px."""
    step = max(1, math.ceil(max(light.shape[:2]) / SIDE_PX))
    rows, cols = (-(-side // step) for side in light.shape[:2])
    below, right = rows * step - light.shape[0], cols * step - light.shape[1]
    padded = cv2.copyMakeBorder(light, 0, below, 0, right, cv2.BORDER_REPLICATE) if below or right else light
    return np.asarray(cv2.resize(padded, (cols, rows), interpolation=cv2.INTER_AREA), np.float32), step


def _beyond_half(squares: NDArray[Any]) -> Floats:
    """Return how far over half a square distances go, not below 0."""
    beyond = squares.astype(np.float64)
    beyond -= 0.5
    return np.maximum(beyond, 0.0, out=beyond)


def seen(casting: Casting, light: Image) -> Seen:
    """Return what is seen of a graded casting in its linear light, (rows, cols).

    Raises
    ------
    PhotoError
        No outline was found.
    """
    if not len(casting.outline_px):
        raise PhotoError(
            f"{casting.photo}: no outline was found, and zones follow it: show the whole piece on the light"
        )
    uneven, step_px = coarse_light(light)
    shape = (uneven.shape[0], uneven.shape[1])
    piece = filled([casting.outline_px], shape, step_px)
    bare = _bare_light(uneven, piece)
    coarse = uneven / bare
    judged = filled(casting.judged_px, shape, step_px) & piece
    void = _discs(casting.voids, HALO, shape, step_px)
    body = opaque_bodies(coarse, piece, lit_field(coarse))
    clear = median(coarse[judged & ~body]) if (judged & ~body).any() else math.inf
    marked, opaque = ((coarse < share * clear) & ~void & ~body for share in (SHADED, OPAQUE))
    rim = rim_of(piece, marked, opaque, coarse / np.float32(clear))
    solid = _hardware(casting, judged & opaque & ~rim.mask, step_px) | body
    flakes = _discs(casting.set_aside[casting.set_aside.kind == "flake"], OF_FLAKE, shape, step_px)
    shade = cv2.dilate(rim.mask.view(np.uint8), np.ones((2 * SHADE + 1, 2 * SHADE + 1), np.uint8)) > 0
    dim = judged & (coarse < DIM * clear) & ~void & ~flakes & ~shade
    beside = beside_of(dim, solid, max(np.ptp(casting.outline_px, axis=0)) / step_px)
    known = shade | solid | _discs(casting.set_aside, HALO, shape, step_px)
    by_rim = unsought(marked & piece & ~known, opaque, judged)
    bulges, breaks, beside = (
        found * step_px + [(step_px - 1) / 2, (step_px - 1) / 2, 0.0]
        for found in (rim.bulges, rim.breaks, np.vstack([beside, by_rim]))
    )
    arcs = _arcs(casting, rim.mask, step_px)
    rings = rings_of(light, clear * bare[_squares_of(arcs, shape, step_px)].astype(np.float64), arcs)
    return Seen(step_px, piece, judged & ~marked & ~solid, solid, bulges, breaks, _beyond(rings, casting.voids), beside)


def _discs(marks: Voids, halo: float, shape: tuple[int, int], step_px: int) -> Mask:
    """Return the squares, (rows, cols), of marks that are drawn `halo` times as wide."""
    own = np.zeros(shape, np.uint8)
    for x, y, diameter in zip(marks.x_px, marks.y_px, marks.diameter_px, strict=True):
        middle = tuple(round(float((place + 0.5) / step_px - 0.5)) for place in (x, y))
        cv2.circle(own, middle, math.ceil(halo * diameter / 2 / step_px), 1, -1)
    return own.astype(bool)


def _bare_light(coarse: Image, piece: Mask) -> Image:
    """Return the light around the piece, carried on beneath it, (rows, cols); 1 all over where too little is seen."""
    ground = ~cv2.dilate(piece.view(np.uint8), np.ones((9, 9), np.uint8)).view(np.bool_)
    if ground.any() and piece.any():
        ground &= coarse > GROUND * max(median(coarse[ground]), median(coarse[piece]))
    few = np.s_[THINNED // 2 :: THINNED, THINNED // 2 :: THINNED]
    bare = cv2.resize(backlight_around(coarse[few], ground[few]), coarse.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(bare) if (bare > DARKEST_BACKLIGHT).all() else np.ones_like(coarse)


def filled(borders: Sequence[Floats], shape: tuple[int, int], step_px: int) -> Mask:
    """Return the squares, (rows, cols), within closed lines of (N, 2) x, y in px; one within another bounds a hole."""
    mask = np.zeros(shape, np.uint8)
    corners = [np.round((border + 0.5) / step_px - 0.5).astype(np.int32) for border in borders]
    cv2.fillPoly(mask, corners, 1)
    return mask.astype(bool)


def _arcs(casting: Casting, rim: Mask, step_px: int) -> Floats:
    """Return middle x, y and diameter, (N, 3) in px, of what in clear resin may be an arc of a ring.

    Marks may, and voids whose size is in doubt.
    """
    aside = casting.set_aside[casting.set_aside.judged & ~np.isin(casting.set_aside.kind, FLAT)]
    voids = casting.voids[casting.voids.diameter_err_px > DOUBTED * casting.voids.diameter_px]
    marks = np.concatenate([np.stack([found.x_px, found.y_px, found.diameter_px], axis=1) for found in (aside, voids)])
    return marks[~rim[_squares_of(marks, rim.shape, step_px)]]


def _beyond(rings: Floats, voids: Voids) -> Floats:
    """Return the rings, (N, 3) x, y and diameter in px, that are more than one of the counted voids alone."""
    places = np.stack([voids.x_px, voids.y_px], axis=1)
    apart = np.linalg.norm(rings[:, None, :2] - places, axis=2)
    same = (apart < rings[:, 2, None] / 2) & (rings[:, 2, None] < LARGER * voids.diameter_px)
    return np.asarray(rings[~same.any(axis=1)])


def _squares_of(marks: Floats, shape: tuple[int, ...], step_px: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return rows and columns of the squares in which marks, (N, 3) x, y and diameter in px, lie."""
    cols, rows = (np.minimum(marks[:, k] // step_px, shape[1 - k] - 1).astype(np.intp) for k in (0, 1))
    return rows, cols


def _hardware(casting: Casting, opaque: Mask, step_px: int) -> Mask:
    """Return opaque bodies named hardware, or as thick as that is, or as long as wire and not named otherwise."""
    deep = depth(opaque)
    long = float(max(np.ptp(casting.outline_px, axis=0))) / step_px
    core = deep > THICK * long / 2
    aside = casting.set_aside[casting.set_aside.kind == "hardware"]
    for x, y, diameter in zip(aside.x_px, aside.y_px, aside.diameter_px, strict=True):
        disc = np.zeros(opaque.shape, np.uint8)
        middle = tuple(round(float((place + 0.5) / step_px - 0.5)) for place in (x, y))
        cv2.circle(disc, middle, max(1, round(diameter / 3 / step_px)), 1, -1)
        core |= disc.astype(bool) & opaque
    others = casting.set_aside[np.isin(casting.set_aside.kind, DRAWN_OUT)]
    wires = _longer(opaque & (deep > 1), LONG * long)
    wires &= ~touching(wires, wires & _discs(others, 1.0, opaque.shape, step_px))
    return _grown(core | wires, opaque, deep)


def _grown(core: Mask, opaque: Mask, deep: Image) -> Mask:
    """Return the opaque bodies that hold a core, without what joins them to the rim by one square's width."""
    thick = opaque & (cv2.dilate((deep > 1.5).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)  # noqa: PLR2004
    return np.asarray(touching(thick, core & thick) | (core & opaque))


def _longer(bodies: Mask, least: float) -> Mask:
    """Return those bodies whose upright rectangle has a longer side of at least so many squares."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(bodies.view(np.uint8))
    long = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1) >= least
    long[0] = False
    return np.asarray(long[labels])
