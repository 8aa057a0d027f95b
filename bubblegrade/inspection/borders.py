"""The lines around zones as they lie in a photograph, for people to see."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.grading_run import Casting
from bubblegrade.inspection.finds import Ruler
from bubblegrade.inspection.judging import within
from bubblegrade.inspection.limits import Zone
from bubblegrade.inspection.shapes import Placed
from bubblegrade.inspection.verdicts import Judgement

Floats = NDArray[np.float64]

STRAIGHT: Final = 0.7  # squares of the grid by which a line may pass its points, to take their stairs off


def zone_borders(zone: Zone, casting: Casting, judgement: Judgement) -> tuple[Floats, ...]:
    """Return closed lines, (N, 2) x, y in px each, around the part of the piece that a zone takes; none if none."""
    seen = judgement.seen
    if isinstance(zone.shape, Placed) and judgement.frame is None:
        return ()
    inside = np.zeros(seen.piece.shape, np.uint8)
    away = seen.from_solid[seen.piece]
    inside[seen.piece] = within(zone, seen.piece_px, away, judgement.frame, Ruler.of(casting))
    lines, _ = cv2.findContours(inside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    straight = (cv2.approxPolyDP(line, STRAIGHT, closed=True) for line in lines)
    return tuple((line[:, 0, :].astype(np.float64) + 0.5) * seen.step_px - 0.5 for line in straight)
