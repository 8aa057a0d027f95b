"""The lines around zones as they lie in a photograph, for people to see."""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from bubblegrade.inspection.seen import Seen

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

STRAIGHT: Final = 0.7  # squares of the grid by which a line may pass its points, to take their stairs off


def border_of(inside: Mask, seen: Seen) -> tuple[Floats, ...]:
    """Return closed lines, (N, 2) x, y in px each, around those of the piece's squares that are `inside`, (N,)."""
    mask = np.zeros(seen.piece.shape, np.uint8)
    mask.ravel()[seen.squares[inside]] = 1
    lines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    straight = (cv2.approxPolyDP(line, STRAIGHT, closed=True) for line in lines)
    return tuple((line[:, 0, :].astype(np.float64) + 0.5) * seen.step_px - 0.5 for line in straight)
