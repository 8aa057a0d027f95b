"""The scale card's geometry: which marker lies where, in mm.

A card is a chessboard with fiducial markers in its white squares (ChArUco). The frame is a ring of it, two squares
wide, around a window for the casting; the strip is a whole board to lay beside the casting. Where two black squares
meet, a fine mark is left that blur, exposure and thick ink do not shift, because it looks the same when turned by half.
Small black pieces around the board make its outer corners fine marks too.

Every layout has markers of its own, so that a photograph tells which card it shows. What paper it was printed on and
whether that was film changes no place.

Places count from the middle of the board: x to the right, y down.
"""

from __future__ import annotations

import functools
import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.errors import InputError

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]  # left, top, right, bottom, mm

DICTIONARY: Final = cv2.aruco.DICT_5X5_1000  # enough markers for every layout, any two of them 5 bits apart
MARKER_CELLS: Final = 7  # black and white cells along a marker's side, its black border included
MARKER_SHARE: Final = 0.7  # of a square's side that its marker takes
PIECE_SHARE: Final = 0.3  # of a square's side: the black pieces at the corners
RING_SQUARES: Final = 2  # a frame's width
FRAME_SQUARE_MM: Final = 10.0
STRIP_SQUARE_MM: Final = 8.0
STRIP_SQUARES: Final = (3, 12)
LEAST_WINDOW, MOST_WINDOW = 3, 14  # squares: the widest ring that fits Letter and A4 with a printer's margins
PAPERS_MM: Final = {
    "a4": (210.0, 297.0),  # ISO 216
    "letter": (215.9, 279.4),  # 8.5 x 11 in, ANSI/ASME Y14.1
    "strip": (150.0, 100.0),  # printed in the middle of any sheet
}
CHECK_MM: Final = 100.0  # the printed length to measure
TOP_MM: Final = 23.0  # from the sheet's edge to a frame: the title's room
STRIP_TOP_MM: Final = 21.0
PATCH_MM: Final = (24.0, 6.0)  # the grey patch
PATCH_GAP_MM, CHECK_GAP_MM = 6.0, 21.0  # below the board


@dataclass(frozen=True)
class Layout:
    """A board of squares, with or without a window in its middle."""

    rows: int
    cols: int
    hole: int  # squares along the window's side; 0 for none
    square_mm: float
    first_id: int

    @property
    def window_mm(self) -> float:
        """Return the side of the window; 0 for none."""
        return self.hole * self.square_mm

    @property
    def half_mm(self) -> tuple[float, float]:
        """Return half the board's width and height."""
        return (self.cols * self.square_mm / 2, self.rows * self.square_mm / 2)

    @functools.cached_property
    def squares(self) -> tuple[tuple[int, int], ...]:
        """Return row and column of every square, row by row."""
        return tuple(
            (row, col) for row in range(self.rows) for col in range(self.cols) if not self._in_window(row, col)
        )

    @functools.cached_property
    def markers(self) -> dict[int, Floats]:
        """Return the four corners of every marker, (4, 2) mm, clockwise from its top left."""
        white = [square for square in self.squares if not is_black(*square)]
        return {self.first_id + number: self._marker(*square) for number, square in enumerate(white)}

    @functools.cached_property
    def fine_marks(self) -> Floats:
        """Return the places of the fine marks, (n, 2) mm."""
        return self.place(np.array(self._nodes, np.float64)[:, ::-1])

    @functools.cached_property
    def black_first(self) -> NDArray[np.bool_]:
        """Return, for every fine mark, whether the square above and left of it is black."""
        return np.array([is_black(row - 1, col - 1) for row, col in self._nodes])

    def place(self, squares: Floats) -> Floats:
        """Return the places in mm of (n, 2) x and y counted in squares from the board's top left corner."""
        return (squares - (self.cols / 2, self.rows / 2)) * self.square_mm

    @property
    def _nodes(self) -> list[tuple[int, int]]:
        """Row and column of every corner of squares that does not touch the window."""
        low, high = RING_SQUARES, RING_SQUARES + self.hole
        every = ((row, col) for row in range(self.rows + 1) for col in range(self.cols + 1))
        return [(r, c) for r, c in every if not self.hole or not (low <= r <= high and low <= c <= high)]

    def _in_window(self, row: int, col: int) -> bool:
        inside = range(RING_SQUARES, RING_SQUARES + self.hole)
        return row in inside and col in inside

    def _marker(self, row: int, col: int) -> Floats:
        edge = (1.0 - MARKER_SHARE) / 2
        corners = np.array([(edge, edge), (1.0 - edge, edge), (1.0 - edge, 1.0 - edge), (edge, 1.0 - edge)])
        return self.place(corners + np.array((col, row)))


@dataclass(frozen=True)
class Card:
    """A layout on its sheet. Places on the sheet count from the board's middle, too."""

    paper: str  # one of PAPERS_MM
    film: bool  # printed on clear film: black as little as can be, so that light comes through around the casting
    layout: Layout
    page_mm: Box
    check_mm: tuple[float, float, float]  # left end, right end, height
    patch_mm: Box  # the grey patch


def is_black(row: int, col: int) -> bool:
    """Say whether a square is black; the top left one is.

    >>> is_black(0, 0), is_black(0, 1)
    (True, False)
    """
    return (row + col) % 2 == 0


def make_card(paper: str = "a4", *, window_mm: float = 60.0, film: bool = False) -> Card:
    """Return a card; a window is made up to full squares.

    >>> make_card("a4", window_mm=57.0).layout.window_mm
    60.0

    Raises
    ------
    InputError
        There is no such paper, or the window does not fit.
    """
    if paper not in PAPERS_MM:
        raise InputError(f"--paper {paper} is not known: choose one of {', '.join(PAPERS_MM)}")
    layout = STRIP if paper == "strip" else _frame(window_mm)
    width, height = PAPERS_MM[paper]
    half_x, half_y = layout.half_mm
    top = (STRIP_TOP_MM if paper == "strip" else TOP_MM) + half_y
    return Card(
        paper=paper,
        film=film,
        layout=layout,
        page_mm=(-width / 2, -top, width / 2, height - top),
        check_mm=(-CHECK_MM / 2, CHECK_MM / 2, half_y + CHECK_GAP_MM),
        patch_mm=(half_x - PATCH_MM[0], half_y + PATCH_GAP_MM, half_x, half_y + PATCH_GAP_MM + PATCH_MM[1]),
    )


def layout_of(ids: Iterable[int]) -> Layout | None:
    """Return the layout that most of the markers belong to; None where no layout has any of them.

    >>> layout_of([0, 1, 2]).window_mm
    0.0
    """
    votes = Counter(layout for number in ids for layout in LAYOUTS if number in layout.markers)
    return max(votes, key=lambda layout: (votes[layout], -layout.first_id)) if votes else None


@functools.cache
def dictionary() -> cv2.aruco.Dictionary:
    """Return the markers of all layouts: looking for no others takes half the time."""
    whole = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    used = sum(len(layout.markers) for layout in LAYOUTS)
    return cv2.aruco.Dictionary(whole.bytesList[:used], whole.markerSize, whole.maxCorrectionBits)


def marker_bits(number: int) -> NDArray[np.bool_]:
    """Return the black cells of a marker, (7, 7)."""
    picture = cv2.aruco.generateImageMarker(dictionary(), number, MARKER_CELLS)
    return np.asarray(np.asarray(picture) == 0, np.bool_)


def _frame(window_mm: float) -> Layout:
    """Return the frame with the smallest window that is not under `window_mm`."""
    most = MOST_WINDOW * FRAME_SQUARE_MM
    if not 0.0 < window_mm <= most:
        raise InputError(
            f"--window {window_mm:g}mm does not fit the sheet: give up to {most:g}mm, or lay --paper strip beside it"
        )
    hole = max(LEAST_WINDOW, math.ceil(round(window_mm / FRAME_SQUARE_MM, 6)))
    return FRAMES[hole - LEAST_WINDOW]


def _frames(first_id: int) -> tuple[Layout, ...]:
    """Return a frame for every window, their markers one behind the other."""
    frames: list[Layout] = []
    for hole in range(LEAST_WINDOW, MOST_WINDOW + 1):
        side = hole + 2 * RING_SQUARES
        frames.append(Layout(side, side, hole, FRAME_SQUARE_MM, first_id))
        first_id += len(frames[-1].markers)
    return tuple(frames)


STRIP: Final = Layout(*STRIP_SQUARES, 0, STRIP_SQUARE_MM, 0)
FRAMES: Final = _frames(first_id=len(STRIP.markers))
LAYOUTS: Final = (STRIP, *FRAMES)
