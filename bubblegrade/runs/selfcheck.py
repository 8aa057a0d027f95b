"""Whether this installation grades right: a drawn casting held against its truth."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Final

import numpy as np

from bubblegrade.drawn.pictures import Scene, draw
from bubblegrade.grading_run import Request, grade
from bubblegrade.photo.reading import Photo
from bubblegrade.settings import Settings
from bubblegrade.voids.table import Voids

MM_PER_PX: Final = 0.05
TRUTH_PX: Final = ((140.0, 170.0, 14.0), (190.0, 260.0, 18.0), (240.0, 150.0, 22.0), (285.0, 240.0, 26.0),
                   (200.0, 200.0, 30.0))  # x, y and diameter of each void drawn  # fmt: skip
MOST_OFF_SHARE: Final = 0.06  # of a diameter; perfect drawn discs of these sizes come out within 3 %
MOST_OFF_PX: Final = 1.0  # of a void's place


@dataclass(frozen=True)
class DrawnCheck:
    """A drawn casting graded, and how far off the truth it came out."""

    drawn: int
    found: int
    largest_off_share: float  # of a diameter; NaN where the voids found are not those drawn

    @property
    def passed(self) -> bool:
        """Whether every void drawn was found where it is and as large as it is, and nothing else."""
        return self.found == self.drawn and bool(self.largest_off_share <= MOST_OFF_SHARE)


def checked_drawing() -> DrawnCheck:
    """Grade a drawn casting and compare what is found with what was drawn."""
    x, y, diameter = np.array(TRUTH_PX).T
    scene = Scene(width_px=400, height_px=400, casting_px=150.0, x_px=x, y_px=y, diameter_px=diameter)
    picture = draw(scene).picture
    photo = Photo("drawn casting", picture, hashlib.sha256(picture.tobytes()).hexdigest())
    return compared(grade(photo, Request(mm_per_px=MM_PER_PX), Settings()).voids)


def compared(voids: Voids) -> DrawnCheck:
    """Compare the voids found with those drawn."""
    x, y, diameter = np.array(TRUTH_PX).T
    if len(voids) != len(x):
        return DrawnCheck(len(x), len(voids), float("nan"))
    away = np.hypot(voids.x_px[:, None] - x, voids.y_px[:, None] - y)
    nearest = away.argmin(axis=0)
    if away.min(axis=0).max() > MOST_OFF_PX or len(set(nearest.tolist())) < len(x):
        return DrawnCheck(len(x), len(voids), float("nan"))
    return DrawnCheck(len(x), len(voids), float(np.abs(voids.diameter_px[nearest] / diameter - 1.0).max()))
