"""The columns of voids.csv and set-aside.csv, and the same in run.json."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.grading_run import Casting
from bubblegrade.voids.table import Voids

Columns = dict[str, NDArray[Any]]

VOIDS_HAVE: Final = (
    *("photo", "x_px", "y_px", "diameter_px", "diameter_err_px", "diameter_mm", "diameter_err_mm"),
    *("edge_width_px", "judged", "kind", "contrast", "cut"),
)
SET_ASIDE_HAVE: Final = (*VOIDS_HAVE, "reason")


def void_columns(castings: Sequence[Casting]) -> Columns:
    """Return the counted voids of all `castings`, one row a void."""
    return _stacked([_columns(casting, casting.voids) for casting in castings], VOIDS_HAVE)


def set_aside_columns(castings: Sequence[Casting]) -> Columns:
    """Return everything else that was found in all `castings`, each with its reason, one row a find."""
    return _stacked([_columns(casting, casting.set_aside) for casting in castings], SET_ASIDE_HAVE)


def _columns(casting: Casting, finds: Voids) -> Columns:
    """Return every column of one casting's `finds`; lengths in mm are NaN without a scale."""
    scale = casting.void_scale
    mm, mm_err = (scale.mm_per_px, scale.mm_per_px_err) if scale else (np.nan, np.nan)
    return {
        "photo": np.full(len(finds), casting.photo),
        "x_px": finds.x_px,
        "y_px": finds.y_px,
        "diameter_px": finds.diameter_px,
        "diameter_err_px": finds.diameter_err_px,
        "diameter_mm": finds.diameter_px * mm,
        "diameter_err_mm": np.hypot(finds.diameter_err_px * mm, finds.diameter_px * mm_err),
        "edge_width_px": finds.edge_width_px,
        "judged": finds.judged,
        "kind": finds.kind,
        "contrast": finds.contrast,
        "cut": finds.cut,
        "reason": finds.reason,
    }


def _stacked(tables: list[Columns], names: tuple[str, ...]) -> Columns:
    """Return the columns `names` of all `tables`, one table under the other."""
    return {name: np.concatenate([table[name] for table in tables]) if tables else np.empty(0) for name in names}
