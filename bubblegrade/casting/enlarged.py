"""A coarse mask at the size of a large picture, of which each part is drawn when it is asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]
Box = tuple[slice, slice]  # rows and columns of a rectangle
Places = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Enlarged:
    """A mask whose rows and columns are repeated; it is cut as an array is, by slices.

    >>> Enlarged.over(np.array([[False, True]]), (2, 4))[1:, :3].tolist()
    [[False, False, True]]
    """

    mask: Mask
    rows: Places  # of the mask that each row shows, ascending
    cols: Places

    @classmethod
    def over(cls, mask: Mask, shape: tuple[int, ...]) -> Enlarged:
        """Return a mask stretched or thinned to `shape`, (rows, cols)."""
        rows, cols = (np.arange(size) * own // size for size, own in zip(shape, mask.shape, strict=True))
        return cls(mask, rows, cols)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return len(self.rows), len(self.cols)

    def __getitem__(self, part: slice | Box) -> Mask:
        """Return the mask of some rows, or of some rows and columns."""
        down, across = part if isinstance(part, tuple) else (part, np.s_[:])
        rows, cols = self.rows[down], self.cols[across]
        if not len(rows):
            return np.empty((0, len(cols)), bool)
        return np.asarray(self.mask[rows[0] : rows[-1] + 1].take(cols, axis=1).take(rows - rows[0], axis=0))

    def cut(self, part: Box) -> Enlarged:
        """Return a rectangle of it, whose mask is that under the rectangle."""
        rows, cols = self.rows[part[0]], self.cols[part[1]]
        if not len(rows) or not len(cols):
            return Enlarged(self.mask, rows, cols)
        under = self.mask[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
        return Enlarged(under, rows - rows[0], cols - cols[0])

    def fitted(self, shape: tuple[int, ...]) -> Enlarged:
        """Return it stretched or thinned to `shape`."""
        rows, cols = (
            own[np.arange(size) * len(own) // size] for size, own in zip(shape, (self.rows, self.cols), strict=True)
        )
        return Enlarged(self.mask, rows, cols)

    def box(self, margin: int) -> tuple[int, int, Box]:
        """Return first row and column of the rectangle around it, `margin` wider, and the rectangle."""
        lines = [np.flatnonzero(self.mask.any(axis=axis).take(own)) for axis, own in ((1, self.rows), (0, self.cols))]
        if not all(len(line) for line in lines):
            return 0, 0, np.s_[0:0, 0:0]
        top, left = (max(int(line[0]) - margin, 0) for line in lines)
        below, right = (int(line[-1]) + 1 + margin for line in lines)
        return top, left, np.s_[top:below, left:right]
