"""What of a card is black: closed loops in mm, ready to be filled."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np
from numpy.typing import NDArray

from bubblegrade.photo.card import PIECE_SHARE, Layout, is_black, marker_bits

Floats = NDArray[np.float64]
Loops = list[Floats]


def black_shapes(layout: Layout, *, film: bool) -> list[Loops]:
    """Return everything black: each shape as its loops, (n, 2) mm.

    A hole in a shape runs against its outline, so that both rules of filling, even-odd and winding, give the same.
    Cells that touch are one shape: filled one by one, they would show bright seams.

    Parameters
    ----------
    layout
        The board.
    film
        Leave of every black square only the corners that make the fine marks.
    """
    squares = [square for square in layout.squares if is_black(*square)]
    shapes = [] if film else [[_box(layout, col, row, col + 1.0, row + 1.0)] for row, col in squares]
    taken = set() if film else set(squares)
    shapes += [[_piece(layout, *piece)] for piece in _pieces(layout) if piece[:2] not in taken]
    return shapes + [_marker(number, corners) for number, corners in layout.markers.items()]


def _pieces(layout: Layout) -> Iterator[tuple[int, int, int, int]]:
    """Give row and column of each black square at a fine mark, and which of its corners, down and right, is there."""
    marks = layout.fine_marks / layout.square_mm + (layout.cols / 2, layout.rows / 2)
    for (x, y), (up, left) in product(marks.round().astype(int), product((0, 1), (0, 1))):
        row, col = int(y) - up, int(x) - left
        if is_black(row, col):
            yield row, col, up, left


def _piece(layout: Layout, row: int, col: int, down: int, right: int) -> Floats:
    x, y = col + right * (1.0 - PIECE_SHARE), row + down * (1.0 - PIECE_SHARE)
    return _box(layout, x, y, x + PIECE_SHARE, y + PIECE_SHARE)


def _box(layout: Layout, left: float, top: float, right: float, bottom: float) -> Floats:
    return layout.place(np.array([(left, top), (right, top), (right, bottom), (left, bottom)]))


def _marker(number: int, corners: Floats) -> Loops:
    bits = marker_bits(number)
    side = corners[2] - corners[0]
    return [corners[0] + loop / bits.shape[::-1] * side for loop in outlines(bits)]


def outlines(cells: NDArray[np.bool_]) -> Loops:
    """Return the outlines of the set cells as loops of corners, (n, 2) x and y, one cell a unit.

    >>> outlines(np.array([[True, True]]))[0].tolist()
    [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]]
    """
    ways = _borders(np.pad(cells, 1))
    loops = []
    while ways:
        start = min(ways)
        loop = [start]
        while True:
            following = ways[loop[-1]].pop()
            if not ways[loop[-1]]:
                del ways[loop[-1]]
            if following == start:
                break
            loop.append(following)
        loops.append(_without_straights(np.array(loop, np.float64)))
    return loops


def _borders(padded: NDArray[np.bool_]) -> dict[tuple[int, int], list[tuple[int, int]]]:
    """Return, from each corner, the corners that the borders of set cells lead to, clockwise around the cells."""
    ways: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for row, col in zip(*np.nonzero(padded), strict=True):
        x, y = int(col) - 1, int(row) - 1
        for other, begin, end in (
            ((row - 1, col), (x, y), (x + 1, y)),
            ((row, col + 1), (x + 1, y), (x + 1, y + 1)),
            ((row + 1, col), (x + 1, y + 1), (x, y + 1)),
            ((row, col - 1), (x, y + 1), (x, y)),
        ):
            if not padded[other]:
                ways.setdefault(begin, []).append(end)
    return ways


def _without_straights(loop: Floats) -> Floats:
    """Return the loop without the points where it goes straight on."""
    before, after = loop - np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0) - loop
    return np.asarray(loop[before[:, 0] * after[:, 1] != before[:, 1] * after[:, 0]])
