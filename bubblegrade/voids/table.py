"""Voids: the table that everything after finding works on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

KINDS: Final = ("void", "flake", "fibre", "pit", "scratch", "hardware", "mould mark", "unsure")


@dataclass(frozen=True, eq=False)
class Voids:
    """What was found in one photograph, one row a find; all columns have the same length.

    Positions are those of the centre, in px from the centre of the top left pixel; x is the column, y the row.
    Every err is one standard uncertainty.
    """

    x_px: NDArray[np.float64]
    y_px: NDArray[np.float64]
    diameter_px: NDArray[np.float64]  # of the true silhouette
    diameter_err_px: NDArray[np.float64]
    edge_width_px: NDArray[np.float64]  # 10 to 90 % width of the outer edge; grows with blur
    contrast: NDArray[np.float64]  # mean darkness over the silhouette, 0 to 1
    judged: NDArray[np.bool_]  # False where the casting cannot be judged
    cut: NDArray[np.bool_]  # True where the frame cuts the silhouette
    kind: NDArray[np.str_]  # one of KINDS
    reason: NDArray[np.str_]  # why it is of that kind

    def __len__(self) -> int:
        """Return the number of finds."""
        return len(self.x_px)

    def __getitem__(self, rows: NDArray[np.bool_] | NDArray[np.intp] | slice) -> Voids:
        """Return the chosen rows as a table of their own."""
        return Voids(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})

    def moved(self, right_px: float, down_px: float) -> Voids:
        """Return the finds as seen from another pixel.

        >>> Voids.of(x_px=[3.0], y_px=[4.0], diameter_px=[9.0]).moved(-3, -4).x_px.tolist()
        [0.0]
        """
        return replace(self, x_px=self.x_px + right_px, y_px=self.y_px + down_px)

    def doubted(self, share: float | NDArray[np.float64]) -> Voids:
        """Return the finds with a further standard uncertainty, a share of each diameter, one for all or (N,).

        >>> Voids.of(x_px=[3.0], y_px=[4.0], diameter_px=[10.0], diameter_err_px=[0.3]).doubted(0.04).diameter_err_px
        array([0.5])
        """
        return replace(self, diameter_err_px=np.hypot(self.diameter_err_px, share * self.diameter_px))

    @property
    def unsure_px(self) -> NDArray[np.float64]:
        """Diameters of the finds that may or may not be voids, px.

        >>> Voids.of(x_px=[3.0], y_px=[4.0], diameter_px=[9.0], kind=["unsure"]).unsure_px.tolist()
        [9.0]
        """
        return np.asarray(self.diameter_px[self.kind == "unsure"])

    @classmethod
    def none(cls) -> Voids:
        """Return a table without rows.

        >>> len(Voids.none())
        0
        """
        return cls.of(x_px=(), y_px=(), diameter_px=())

    @classmethod
    def of(cls, *, x_px: ArrayLike, y_px: ArrayLike, diameter_px: ArrayLike, **columns: Any) -> Voids:
        """Return a table from columns; those left out say 'nothing known' (NaN), judged, whole and 'void'.

        >>> Voids.of(x_px=[3.0], y_px=[4.0], diameter_px=[9.0]).kind.tolist()
        ['void']
        """
        rows = np.size(x_px)
        full: dict[str, Any] = {
            "x_px": x_px,
            "y_px": y_px,
            "diameter_px": diameter_px,
            "diameter_err_px": np.full(rows, np.nan),
            "edge_width_px": np.full(rows, np.nan),
            "contrast": np.full(rows, np.nan),
            "judged": np.ones(rows, bool),
            "cut": np.zeros(rows, bool),
            "kind": np.full(rows, "void"),
            "reason": np.full(rows, ""),
            **columns,
        }
        types: dict[str, Any] = {"judged": bool, "cut": bool, "kind": np.dtype("U16"), "reason": np.dtype("U200")}
        return cls(**{name: np.asarray(column, types.get(name, np.float64)) for name, column in full.items()})


def stacked(tables: Sequence[Voids]) -> Voids:
    """Return the rows of all `tables`, one table under the other."""
    if not tables:
        return Voids.none()
    return Voids(**{f.name: np.concatenate([getattr(t, f.name) for t in tables]) for f in fields(Voids)})


def apart(finds: Voids, from_these: Voids) -> NDArray[np.bool_]:
    """Say for each of N finds whether it and each of `from_these` lie beside each other's middle, (N,).

    >>> one, other = (Voids.of(x_px=[x], y_px=[0.0], diameter_px=[d]) for x, d in ((0.0, 10.0), (6.0, 4.0)))
    >>> apart(one, other).tolist(), apart(one, other.moved(-2, 0)).tolist()
    ([True], [False])
    """
    off = np.hypot(finds.x_px[:, None] - from_these.x_px, finds.y_px[:, None] - from_these.y_px)
    return np.asarray(np.all(off > np.maximum(finds.diameter_px[:, None], from_these.diameter_px) / 2, axis=1))
