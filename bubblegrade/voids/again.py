"""A second photograph, after wiping and turning the casting, settles what is dust.

What turns with the casting is in it or on it for good. What stays where it was lies on the light; what is gone was
wiped off. Neither is a void; a ring that does not come again is unsure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from bubblegrade.voids.table import Voids, stacked

Floats = NDArray[np.float64]

ANGLES: Final = np.radians(np.arange(0.0, 360.0, 0.5))
SURE: Final = 60  # largest voids by which the turn is found
NEAR_SHARE: Final = 0.01  # of the casting's size: how near a void must come again while the turn is looked for
LEAST_MATCHED: Final = 0.3  # of those voids must come again, or the two photographs do not show one casting
PATTERN: Final = 12  # voids whose places make a pattern that another casting has not by chance
SAME_MATCHED: Final = 0.6  # of the largest that come again in one casting; of traced cups that differ 0.33 at most do
MOST_ZOOM: Final = 1.5  # beyond what the outlines say: a turn that maps all voids onto one is none
SIZE_ALIKE: Final = 1.5  # ratio of diameters up to which two finds may be one
ROUNDS: Final = 4  # of matching and refining
MOVED: Final = 3.0  # times as far as finds must come again: nearer, half of what lies still may seem to have turned


@dataclass(frozen=True, eq=False)
class Turn:
    """How the casting lies in the second photograph: x' + i y' = scale_turn (x + i y) + shift."""

    scale_turn: complex
    shift: complex
    matched: float  # share of the largest voids that came again

    @property
    def degrees(self) -> float:
        """By how much the casting was turned, clockwise on the screen."""
        return float(np.degrees(np.angle(self.scale_turn)))

    def places(self, x_px: Floats, y_px: Floats) -> Floats:
        """Return where points of the first photograph lie in the second, (N, 2)."""
        moved = self.scale_turn * (x_px + 1j * y_px) + self.shift
        return np.stack([moved.real, moved.imag], axis=1)


def begun_turn(edges_px: tuple[Floats, Floats], shapes_px: tuple[tuple[int, int], tuple[int, int]]) -> Turn:
    """Return by their outlines how much larger the second photograph shows the casting, and how it is shifted.

    Parameters
    ----------
    edges_px
        The casting's outline in both, (N, 2); where one has none, the frames' middles are laid on each other.
    shapes_px
        Rows and columns of both.

    >>> small, large = (size * np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 2.0], [0.0, 2.0]]) for size in (1.0, 3.0))
    >>> turn = begun_turn((small, large), ((9, 9), (9, 9)))
    >>> complex(turn.scale_turn), complex(turn.shift)
    ((3+0j), 0j)
    """
    known = min(map(len, edges_px)) > 0
    zoom = math.sqrt(area_of(edges_px[1]) / area_of(edges_px[0])) if known else 1.0
    first, second = (
        middle_of(edge if known else edge[:0], shape) for edge, shape in zip(edges_px, shapes_px, strict=True)
    )
    return Turn(zoom, second - zoom * first, 0.0)


def middle_of(edge_px: Floats, shape_px: tuple[int, int]) -> complex:
    """Return the middle of an outline, or of the frame where there is none, x + i y."""
    return complex(*edge_px.mean(axis=0)) if len(edge_px) else complex(shape_px[1] - 1, shape_px[0] - 1) / 2


def find_turn(first: Voids, second: Voids, *, begun: Turn, middle: complex, size_px: float) -> Turn | None:
    """Return how the casting was turned and shifted between two photographs; None if the voids do not agree on one.

    Parameters
    ----------
    first, second
        The voids of both photographs.
    begun
        Their scale and shift, the turn left out.
    middle
        Middle of the casting in the first photograph, x + i y in px.
    size_px
        The casting's size in it, square root of its area.
    """
    zoom, middle_second = begun.scale_turn, begun.scale_turn * middle + begun.shift
    one, two = zoom * (_largest(first) - middle), _largest(second) - middle_second
    if len(one) < 3 or len(two) < 3:  # noqa: PLR2004
        return None
    tree = cKDTree(np.stack([two.real, two.imag], axis=1))
    near = NEAR_SHARE * size_px * abs(zoom)
    turned = np.exp(1j * ANGLES)[:, None] * one
    distance, _ = tree.query(np.stack([turned.real, turned.imag], axis=-1))
    scale_turn: complex = np.exp(1j * ANGLES[int(np.argmax((distance < 2 * near).mean(axis=1)))])
    shift: complex = 0.0
    for _ in range(ROUNDS):
        moved = scale_turn * one + shift
        distance, match = tree.query(np.stack([moved.real, moved.imag], axis=1))
        good = distance < 2 * near
        if good.sum() < 3:  # noqa: PLR2004
            return None
        a, b = one[good], two[match[good]]
        off_a, off_b = a - a.mean(), b - b.mean()
        scale_turn = complex(np.vdot(off_a, off_b) / np.vdot(off_a, off_a).real)
        shift = complex(b.mean() - scale_turn * a.mean())
    matched = float((distance < near).mean())
    if matched < LEAST_MATCHED or not 1.0 / MOST_ZOOM < abs(scale_turn) < MOST_ZOOM:
        return None
    scale_turn *= zoom
    return Turn(scale_turn, complex(middle_second + shift - scale_turn * middle), matched)


def shows_again(
    first: Voids,
    second: Voids,
    edges_px: tuple[Floats, Floats],
    shapes_px: tuple[tuple[int, int], tuple[int, int]],
) -> bool:
    """Say whether two photographs show one casting, by how its largest voids stand; few voids tell nothing.

    `edges_px` and `shapes_px` are as of `begun_turn`.
    """
    if min(len(first), len(second)) < PATTERN or min(map(len, edges_px)) == 0:
        return False
    turn = find_turn(
        first, second,
        begun=begun_turn(edges_px, shapes_px),
        middle=middle_of(edges_px[0], shapes_px[0]), size_px=math.sqrt(area_of(edges_px[0])),
    )  # fmt: skip
    return turn is not None and turn.matched >= SAME_MATCHED


def on_the_light(turn: Turn, shapes_px: tuple[tuple[int, int], tuple[int, int]]) -> Turn:
    """Return how what lies on the light moved: where the camera went nearer it grew about the frame's middle.

    >>> still = on_the_light(Turn(2j, 5.0, 1.0), ((9, 9), (19, 19)))
    >>> still.scale_turn, still.places(np.array([4.0]), np.array([4.0])).tolist()
    (2.0, [[9.0, 9.0]])
    """
    zoom = abs(turn.scale_turn)
    first, second = (middle_of(np.empty((0, 2)), shape) for shape in shapes_px)
    return Turn(zoom, second - zoom * first, 1.0)


def lies_still(voids: Voids, turn: Turn, still: Turn, *, near_px: float) -> bool:
    """Say whether the casting moved so little over what is `still` that dust would seem to turn with it."""
    places = (one.places(voids.x_px, voids.y_px) for one in (turn, still))
    return bool(np.median(np.linalg.norm(np.subtract(*places), axis=1)) < MOVED * near_px)


def settled(
    voids: Voids,
    aside: Voids,
    later_voids: Voids,
    later_aside: Voids,
    turns: tuple[Turn, Turn],
    *,
    near_px: float,
    shape_px: tuple[int, int],
) -> tuple[Voids, Voids]:
    """Return voids and set-aside finds of the first photograph, settled by the second.

    Voids that would lie beyond the second photograph's frame stay as they were.

    Parameters
    ----------
    voids, aside
        What the first photograph shows.
    later_voids, later_aside
        What the second one shows.
    turns
        How the casting moved, and how what lies on the light did, as it does where the camera moved.
    near_px
        How near a find of the second photograph must lie to its expected place.
    shape_px
        Rows and columns of the second photograph.
    """
    turn, still = turns
    places = turn.places(voids.x_px, voids.y_px)
    in_view = np.all((places >= 0.0) & (places <= np.array(shape_px)[::-1] - 1.0), axis=1)
    beyond, voids = voids[~in_view], voids[in_view]
    later = stacked([later_voids, later_aside])
    with_casting = _found_at(turn, voids, later, near_px)
    with_light = _found_at(still, voids, later, near_px) & ~with_casting
    kept = replace(voids, reason=np.full(len(voids), "turned with the casting"))[with_casting]
    kind = np.where(with_light, "fibre", "unsure")
    reason = np.where(with_light, "stayed in place while the casting turned", "not seen again after wiping and turning")
    doubted = replace(voids, kind=kind, reason=reason)[~with_casting]
    return stacked([kept, beyond]), stacked([doubted, _settled_aside(aside, later_voids, later, turns, near_px)])


def match_pairs(first: Voids, second: Voids, turn: Turn, *, near_px: float) -> NDArray[np.intp]:
    """Return the pairs of rows, (N, 2), of `first` and `second` that show the same void, one to one."""
    if not len(first) or not len(second):
        return np.empty((0, 2), np.intp)
    from scipy.optimize import linear_sum_assignment  # noqa: PLC0415  it takes a tenth of a second; few have a second

    expected = turn.places(first.x_px, first.y_px)
    off = np.hypot(expected[:, 0, None] - second.x_px, expected[:, 1, None] - second.y_px)
    ratio = np.abs(np.log(second.diameter_px / first.diameter_px[:, None]))
    cost = off / near_px + ratio
    never = (off > np.maximum(near_px, 0.3 * first.diameter_px[:, None])) | (ratio > np.log(SIZE_ALIKE))
    rows, cols = linear_sum_assignment(np.where(never, 1e6, cost))
    good = ~never[rows, cols]
    return np.stack([rows[good], cols[good]], axis=1)


def _settled_aside(aside: Voids, later_voids: Voids, later: Voids, turns: tuple[Turn, Turn], near_px: float) -> Voids:
    """Return the set-aside finds with what became of them."""
    if not len(aside):
        return aside
    turn, still = turns
    with_casting = _found_at(turn, aside, later, near_px)
    as_void = _found_at(turn, aside, later_voids, near_px)
    with_light = _found_at(still, aside, later, near_px) & ~with_casting
    loose = ~with_casting & ~with_light
    kind = np.where(with_light | loose, "fibre", aside.kind)
    kind = np.where(as_void & (aside.kind == "fibre"), "unsure", kind)
    reason = np.select(
        [with_light, loose, with_casting],
        ["stayed in place while the casting turned", "gone after wiping", "turned with the casting"],
        default=aside.reason,
    )
    return replace(aside, kind=kind, reason=reason)


def _found_at(turn: Turn, finds: Voids, later: Voids, near_px: float) -> NDArray[np.bool_]:
    """Say for each find whether `later` has one of about its size where `turn` brings it."""
    if not len(later) or not len(finds):
        return np.zeros(len(finds), bool)
    tree = cKDTree(np.stack([later.x_px, later.y_px], axis=1))
    places, sizes = turn.places(finds.x_px, finds.y_px), abs(turn.scale_turn) * finds.diameter_px
    around = tree.query_ball_point(places, np.maximum(near_px, 0.3 * sizes))
    alike = [
        any(1 / SIZE_ALIKE < later.diameter_px[j] / d < SIZE_ALIKE for j in others)
        for d, others in zip(sizes, around, strict=True)
    ]
    return np.array(alike, bool)


def area_of(outline_px: Floats) -> float:
    """Return the area within a closed line, px."""
    x, y = outline_px[:, 0], outline_px[:, 1]
    return abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2


def _largest(voids: Voids) -> NDArray[np.complex128]:
    """Return the places of the largest voids as x + i y."""
    order = np.argsort(-voids.diameter_px, kind="stable")[:SURE]
    return np.asarray(voids.x_px[order] + 1j * voids.y_px[order])
