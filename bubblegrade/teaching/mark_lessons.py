"""Lessons of the namer: the dark marks of a picture of known truth, each with what it really is."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bubblegrade.casting.outline import find_outline
from bubblegrade.casting.transmittance import darkness
from bubblegrade.photo.light import grey_light
from bubblegrade.photo.reading import read_photo
from bubblegrade.settings import Settings
from bubblegrade.teaching.lessons import KIND_OF, LEAST_TRUE_PX, Truth, told_truth
from bubblegrade.voids.detecting import left_marks
from bubblegrade.voids.marks import Marks, mark_under
from bubblegrade.voids.naming import MARK_KINDS

NEAR_SHARE: Final = 0.25  # of an item's extent: a mark nearer to its middle than this is the item
NEAR_PX: Final = (2.0, 6.0)  # least and most of it
NOTHING: Final = MARK_KINDS.index("nothing")


@dataclass(frozen=True, eq=False)
class MarkLesson:
    """N dark marks of one picture."""

    features: NDArray[np.float32]  # (N, F)
    kind: NDArray[np.int8]  # (N,) place in MARK_KINDS


def traced_marks(photo: Path) -> MarkLesson | None:
    """Return the lesson of a traced photograph that has its truth in a JSON beside it; None if it holds no mark."""
    codes = read_photo(photo).codes
    light = grey_light(codes)
    outline = find_outline(light)
    if outline is None:
        return None
    marks = left_marks(darkness(light, outline), codes, outline, Settings())
    return MarkLesson(marks.features, true_kinds(marks, told_truth(photo))) if len(marks) else None


def true_kinds(marks: Marks, truth: Truth) -> NDArray[np.int8]:
    """Return what each of N marks is; where several things meet in one mark, the largest."""
    kind = np.full(len(marks), NOTHING, np.int8)
    size = np.zeros(len(marks))
    countable = truth.diameter_px >= LEAST_TRUE_PX
    under = mark_under(marks.labels, truth.x_px, truth.y_px, truth.diameter_px / 2)
    things = [(int(mark), "void", d) for mark, d, real in zip(under, truth.diameter_px, countable, strict=True) if real]
    things += [(mark_at(marks, x, y, extent), KIND_OF[name], extent) for name, x, y, extent in truth.clutter]
    for mark, name, extent in things:
        if mark and extent > size[mark - 1]:
            kind[mark - 1], size[mark - 1] = MARK_KINDS.index(name), extent
    return kind


def mark_at(marks: Marks, x: float, y: float, extent: float) -> int:
    """Return the number of the mark nearest to an item's middle, 0 if none is near."""
    reach = float(np.clip(NEAR_SHARE * extent, *NEAR_PX))
    top, left = max(int(y - reach), 0), max(int(x - reach), 0)
    around = marks.labels[top : int(y + reach) + 2, left : int(x + reach) + 2]
    rows, cols = np.nonzero(around)
    if not len(rows):
        return 0
    off = np.hypot(rows + top - y, cols + left - x)
    nearest = int(off.argmin())
    return int(around[rows[nearest], cols[nearest]]) if off[nearest] <= reach + 1 else 0
